//! The two ways to divide without a divider, against the conversion that the host's divider makes: every count of the
//! shipped supply references, and of generated ones with calibrations at and near their limits.

use tallyvolt::fixed::types::{I24F8, U8F24};
use tallyvolt::{
    Acquisition, Calibration, CellRange, CodeCentre, Count, FullScale, OutputUnit, Reciprocal,
    SupplyConversion, SupplyDescription, SupplyReference, Voltage,
};
use tallyvolt_host::cases::shipped;
use tallyvolt_host::firmware::Firmware;

/// Compares both at every `step`-th position and the last; returns how many that were.
fn compare(conversion: &SupplyConversion, step: usize) -> u64 {
    let (first, counts) = (conversion.window().first().0, conversion.window().counts());
    if counts == 0 {
        return 0;
    }
    let quotient = conversion.quotient();
    let reciprocal = Reciprocal::of(quotient, counts - 1);
    let mut compared = 0;
    for position in (0..counts).step_by(step).chain([counts - 1]) {
        let Ok(Voltage(wanted)) = conversion.voltage(Count(first + position)) else {
            panic!("position {position} lies in the window");
        };
        assert_eq!(reciprocal.at(position), wanted, "{conversion:?} {position}");
        assert_eq!(
            quotient.bit_by_bit(position),
            wanted,
            "{conversion:?} {position}"
        );
        compared += 1;
    }
    compared
}

fn calibrations() -> Vec<Calibration> {
    [
        (1 << 24, 0),
        (16_843_213, 317),
        (16_560_001, -517),
        (1 << 23, -(1 << 20)),
        (1 << 25, 1 << 20),
        ((1 << 25) - 1, -1),
    ]
    .map(|(gain, offset)| {
        Calibration::new(U8F24::from_bits(gain), I24F8::from_bits(offset)).expect("within limits")
    })
    .to_vec()
}

#[test]
fn shipped_supply_references_divide_alike_at_every_count() {
    let mut compared = 0;
    for front_end in shipped::front_ends() {
        let Firmware::Supply(reference) = Firmware::describe(&front_end).expect("describable")
        else {
            continue;
        };
        for calibration in calibrations() {
            compared += compare(
                &reference.conversion(calibration).expect("never refused"),
                1,
            );
        }
    }
    assert!(compared > 350_000, "only {compared} counts were compared");
}

#[test]
fn generated_supply_references_divide_alike() {
    let mut compared = 0;
    for bits in 8..=16 {
        for samples in [1, 2, 16, 64, 256, 1024] {
            for (full_scale, code_centre, reference_uv, unit) in [
                (
                    FullScale::PowerOfTwo,
                    CodeCentre::Half,
                    1_100_000,
                    OutputUnit::Millivolt,
                ),
                (
                    FullScale::TopCode,
                    CodeCentre::Edge,
                    100_000,
                    OutputUnit::Millivolt,
                ),
                (
                    FullScale::PowerOfTwo,
                    CodeCentre::Half,
                    2_499_999,
                    OutputUnit::TenthMillivolt,
                ),
                (
                    FullScale::TopCode,
                    CodeCentre::Half,
                    8_000_000,
                    OutputUnit::Millivolt,
                ),
            ] {
                let acquisition = Acquisition {
                    full_scale,
                    code_centre,
                    ..Acquisition::summed(bits, samples)
                };
                let max_uv = if unit == OutputUnit::Millivolt {
                    9_000_000
                } else {
                    6_000_000
                };
                let cell = CellRange {
                    min_uv: reference_uv + 1,
                    max_uv,
                };
                let reference = SupplyReference::new(SupplyDescription {
                    acquisition,
                    reference_uv,
                    cell,
                    unit,
                })
                .expect("within limits");
                for calibration in calibrations() {
                    let conversion = reference.conversion(calibration).expect("never refused");
                    let step = (conversion.window().counts() / 3000).max(1) as usize;
                    compared += compare(&conversion, step);
                }
            }
        }
    }
    assert!(compared > 2_000_000, "only {compared} counts were compared");
}
