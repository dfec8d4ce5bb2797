//! Circuits of every kind of converter, as drawn: every count of them against the exact model.

use num_rational::BigRational;
use tallyvolt::{
    Acquisition, CellRange, CodeCentre, Count, DividedConversion, DividedDescription, DividedInput,
    Fault, FullScale, LineConstants, OutputUnit, ShiftRounding, SupplyConversion,
    SupplyDescription, SupplyReference, Voltage,
};
use tallyvolt_model::Model;
use tallyvolt_model::calibration::CalibrationModel;
use tallyvolt_model::front_end::{self, Cell, Converter, Divider, FrontEnd, Reference, Topology};
use tallyvolt_model::integer_form::IntegerForm;
use tallyvolt_model::outcome::Outcome;
use tallyvolt_model::rational::whole;
use tallyvolt_stages::runs::answered;

/// The exact model of a described circuit, as drawn.
pub fn model(
    topology: Topology,
    acquisition: Acquisition,
    reference_uv: u32,
    unit: OutputUnit,
) -> Model {
    let converter = Converter {
        full_scale: if acquisition.full_scale == FullScale::TopCode {
            front_end::FullScale::TopCode
        } else {
            front_end::FullScale::PowerOfTwo
        },
        code_centre: if acquisition.code_centre == CodeCentre::Edge {
            front_end::CodeCentre::Edge
        } else {
            front_end::CodeCentre::Half
        },
        samples: acquisition.samples.into(),
        right_shift: acquisition.right_shift.into(),
        shift_rounding: if acquisition.shift_rounding == ShiftRounding::Nearest {
            front_end::ShiftRounding::Nearest
        } else {
            front_end::ShiftRounding::Truncate
        },
        ..Converter::single(acquisition.bits.into())
    };
    // A cell decides nothing here.
    let cell = Cell {
        chemistry: String::new(),
        min_uv: 0,
        nominal_uv: 0,
        max_uv: 0,
    };
    let reference = Reference::nominal(reference_uv);
    let front_end = FrontEnd::bare(
        String::new(),
        topology,
        cell,
        converter,
        reference,
        unit.step_uv(),
    );
    Model::new(&front_end, CalibrationModel::identity())
}

/// A converter, then all eight of its kinds.
fn kinds(bits: u8, samples: u16, right_shift: u8) -> Vec<Acquisition> {
    let mut kinds = Vec::new();
    for full_scale in [FullScale::PowerOfTwo, FullScale::TopCode] {
        for code_centre in [CodeCentre::Half, CodeCentre::Edge] {
            for shift_rounding in [ShiftRounding::Truncate, ShiftRounding::Nearest] {
                kinds.push(Acquisition {
                    bits,
                    full_scale,
                    code_centre,
                    samples,
                    right_shift,
                    shift_rounding,
                });
            }
        }
    }
    kinds
}

/// Every count and some that there is none of; how many are voltages.
fn equal(
    model: &Model,
    convert: impl Fn(Count) -> Result<Voltage, Fault>,
    described: Acquisition,
) -> u32 {
    let form = IntegerForm::of(model);
    let last = model.largest_count();
    let mut voltages = 0;
    for count in (0..=last + 2).chain([1 << 16, (1 << 16) + 1, u32::MAX]) {
        let answer = answered(convert(Count(count)));
        assert_eq!(
            answer,
            form.outcome(count),
            "count {count} of {described:?}"
        );
        voltages += u32::from(matches!(answer, Outcome::Units(_)));
    }
    voltages
}

/// A divided input and its model.
fn divided_input<const BITS: u32>(
    acquisition: Acquisition,
    reference_uv: u32,
    [top_ohms, bottom_ohms]: [u32; 2],
    unit: OutputUnit,
) -> (DividedConversion<BITS>, Model) {
    let conversion = DividedInput::new(DividedDescription {
        acquisition,
        reference_uv,
        top_ohms,
        bottom_ohms,
        cell: CellRange {
            min_uv: 2_000_000,
            max_uv: 3_650_000,
        },
        unit,
    })
    .and_then(|input| input.conversion())
    .unwrap_or_else(|error| panic!("{error}: {acquisition:?}"));
    let divider = Divider::nominal(whole(top_ohms), whole(bottom_ohms));
    let topology = Topology::DividedInput(divider);
    (conversion, model(topology, acquisition, reference_uv, unit))
}

fn divided<const BITS: u32>(acquisition: Acquisition, ohms: [u32; 2], unit: OutputUnit) -> u32 {
    let (conversion, model) = divided_input::<BITS>(acquisition, 1_225_000, ohms, unit);
    // The short form where M has 16 bits in it, else a shift of whole bytes.
    let LineConstants { factor, shift, .. } = conversion.constants();
    let is_short = u32::from(shift) == BITS + 3 && factor <= u128::from(u16::MAX);
    assert!(is_short || shift % 8 == 0, "{acquisition:?}");
    assert_eq!((shift == 64, is_short && BITS > 16), (BITS > 16, false));
    equal(&model, |count| conversion.voltage(count), acquisition)
}

fn supply(acquisition: Acquisition, unit: OutputUnit) -> u32 {
    let (conversion, model) = supply_reference(acquisition, 1_225_000, unit);
    equal(&model, |count| conversion.voltage(count), acquisition)
}

/// A supply reference and its model.
fn supply_reference(
    acquisition: Acquisition,
    reference_uv: u32,
    unit: OutputUnit,
) -> (SupplyConversion, Model) {
    let conversion = SupplyReference::new(SupplyDescription {
        acquisition,
        reference_uv,
        cell: CellRange {
            min_uv: 2_000_000,
            max_uv: 3_650_000,
        },
        unit,
    })
    .and_then(|supply| supply.conversion())
    .unwrap_or_else(|error| panic!("{error}: {acquisition:?}"));
    let topology = Topology::SupplyReference;
    (conversion, model(topology, acquisition, reference_uv, unit))
}

#[test]
fn a_divided_input_converts_every_count_of_every_kind_of_converter() {
    let mut voltages = 0;
    for unit in [OutputUnit::Millivolt, OutputUnit::TenthMillivolt] {
        // The largest count is 3.68 V, or 12.2 V, which steps of 100 uV do not hold.
        for ohms in [[240_500, 120_000], [8_991_000, 1_000_000]] {
            for acquisition in kinds(8, 1, 0) {
                voltages += divided::<8>(acquisition, ohms, unit);
            }
            for acquisition in kinds(10, 1, 0) {
                voltages += divided::<10>(acquisition, ohms, unit);
            }
            // Rounded to nearest, the largest count is 2^10.
            for acquisition in kinds(12, 4, 4) {
                voltages += divided::<11>(acquisition, ohms, unit);
            }
            for acquisition in kinds(12, 1, 0) {
                voltages += divided::<12>(acquisition, ohms, unit);
            }
            for acquisition in kinds(12, 16, 2) {
                voltages += divided::<14>(acquisition, ohms, unit);
            }
            for acquisition in kinds(12, 32, 0) {
                voltages += divided::<26>(acquisition, ohms, unit);
            }
        }
    }
    voltages += divided::<16>(
        Acquisition::single(16),
        [240_500, 120_000],
        OutputUnit::Millivolt,
    );
    assert_eq!(voltages, 4_415_942);
}

/// M has 16 bits in the short form below two output steps a count.
#[test]
fn the_shift_is_the_short_one_or_of_whole_bytes() {
    let unit = OutputUnit::Millivolt;
    let shift = |reference_uv| {
        let ohms = [1_000_000, 1_000_000];
        let single = Acquisition::single(12);
        let (conversion, _) = divided_input::<12>(single, reference_uv, ohms, unit);
        conversion.constants().shift
    };
    // 1.9995 and 2.0005 output steps a count.
    assert_eq!((shift(4_095_000), shift(4_097_000)), (15, 16));
    let sixteen = Acquisition::single(16);
    let (conversion, _) = divided_input::<16>(sixteen, 4_095_000, [1, 1], unit);
    assert_eq!(conversion.constants().shift, 19);
}

/// 131 071 is a prime: half of it, which rounds to the first voltage that 16 bits do not hold, takes a whole number of counts here.
#[test]
fn half_a_step_above_the_largest_voltage_is_above_the_range() {
    let acquisition = Acquisition {
        code_centre: CodeCentre::Edge,
        ..Acquisition::single(12)
    };
    let unit = OutputUnit::TenthMillivolt;
    let (conversion, model) = divided_input::<12>(acquisition, 1_310_710, [9, 1], unit);
    assert_eq!(
        model.units(2048),
        Some(BigRational::new(131_071.into(), 2.into()))
    );
    assert_eq!(conversion.voltage(Count(2048)), Err(Fault::AboveRange));
    assert_eq!(
        equal(&model, |count| conversion.voltage(count), acquisition),
        2047
    );
}

#[test]
fn a_supply_reference_reads_up_to_the_largest_voltage() {
    let unit = OutputUnit::TenthMillivolt;
    let edge = Acquisition {
        code_centre: CodeCentre::Edge,
        ..Acquisition::single(12)
    };
    // 65 535.2 steps: 159 998 uV * 4096 / 100.
    let (conversion, model) = supply_reference(edge, 159_998, unit);
    assert_eq!(conversion.voltage(Count(100)), Ok(Voltage(65_535)));
    assert_eq!(equal(&model, |count| conversion.voltage(count), edge), 3995);
    // 65 535.5 steps: 1 310 710 uV * 4095 / 819.
    let top_code = Acquisition {
        full_scale: FullScale::TopCode,
        ..edge
    };
    let (conversion, model) = supply_reference(top_code, 1_310_710, unit);
    assert_eq!(conversion.voltage(Count(819)), Err(Fault::AboveRange));
    assert_eq!(equal(&model, |count| conversion.voltage(count), edge), 3275);
}

#[test]
fn a_supply_reference_converts_every_count_of_every_kind_of_converter() {
    let mut voltages = 0;
    for unit in [OutputUnit::Millivolt, OutputUnit::TenthMillivolt] {
        for (bits, samples, right_shift) in [
            (8, 1, 0),
            (10, 1, 0),
            (10, 2, 0),
            (12, 1, 0),
            (12, 4, 4),
            (12, 16, 2),
            (12, 32, 0),
        ] {
            for acquisition in kinds(bits, samples, right_shift) {
                voltages += supply(acquisition, unit);
            }
        }
    }
    assert_eq!(voltages, 2_237_520);
}
