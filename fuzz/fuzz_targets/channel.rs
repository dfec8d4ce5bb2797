//! Any samples, sensor counts and bleeding through a channel of any module, table and limits: no panic, no wrap, every reading
//! is the plain channel's, and a module whose sum is not the channel's window is refused.

#![no_main]

use std::sync::LazyLock;

use arbitrary::Arbitrary;
use libfuzzer_sys::fuzz_target;
use num_rational::BigRational;
use tallyvolt::fixed::types::{I24F8, U8F24};
use tallyvolt::{
    AlarmRule, Channel, ChannelLimits, ChannelSetup, ConfigError, DividedInput, Limit, LimitSide,
    LineConstants, Microvolts, Plausibility, Temperature, VoltageLimits,
};
use tallyvolt_analysis::calibrate::fit::stored::form;
use tallyvolt_analysis::describe::firmware::width::{AtWidth, at_width};
use tallyvolt_analysis::describe::firmware::{Constants, Firmware};
use tallyvolt_analysis::describe::thermistor_table::BuiltTable;
use tallyvolt_fuzz::wrong_on_purpose;
use tallyvolt_model::channel::{ChannelModel, PlainLimit};
use tallyvolt_model::front_end::{
    Cell, Converter, Divider, FrontEnd, Reference, SensorSide, Topology,
};
use tallyvolt_model::integer_form::IntegerForm;
use tallyvolt_model::table;
use tallyvolt_stages::runs::{Step, block_run, firmware_run, plain_run};

/// Steps of one input.
const STEPS: usize = 32;

#[derive(Debug, Arbitrary)]
enum Move {
    /// Near each other, as a converter gives them.
    Near(u16, [u8; 16]),
    Samples([u16; 8]),
    Reading(Option<u32>, bool),
    Acknowledge,
}

#[derive(Debug, Arbitrary)]
struct Rule {
    value: i16,
    hysteresis: u8,
    readings: u8,
    latching: bool,
}

#[derive(Debug, Arbitrary)]
struct SensorTable {
    high: bool,
    falls: bool,
    entries: [i16; 24],
    step_log2: u8,
    fraction_bits: u8,
    first: u16,
    counts: u32,
    low_wire: u16,
    high_wire: u32,
}

#[derive(Debug, Arbitrary)]
struct Case {
    /// Which module, and which of its ways of summing.
    module: u8,
    summing: u8,
    /// A window of sixteen samples, or of one.
    sixteen: bool,
    table: Option<SensorTable>,
    limits: [Option<Rule>; 4],
    supply_minimum: Option<u16>,
    stuck_readings: u8,
    settle_readings: u8,
    /// A fixed number: a list would end at every second byte, before a window is full.
    moves: [Move; STEPS],
}

/// A module that was described, calibrated and understood once: the searches and the rational numbers behind it are slow.
struct Module {
    firmware: Firmware,
    constants: Constants,
    form: IntegerForm,
    samples: u32,
    right_shift: u32,
    top_code: u16,
}

/// Samples and right shift: those of a channel first, then sums that no window gives.
const SUMMINGS: [(u32, u32); 8] = [
    (1, 0),
    (16, 0),
    (1, 0),
    (16, 0),
    (4, 0),
    (16, 1),
    (64, 2),
    (64, 0),
];

/// Every width and topology with each way of summing; gains and offsets in turn, the first as drawn.
static MODULES: LazyLock<Vec<[Module; SUMMINGS.len()]>> = LazyLock::new(|| {
    let ohms = |value: u32| BigRational::from_integer(value.into());
    let mut modules = Vec::new();
    for divider in [None, Some((24_900, 10_000)), Some((1_000, 1_000_000))] {
        for bits in 8..=16 {
            let topology = divider.map_or(Topology::SupplyReference, |(top, bottom)| {
                Topology::DividedInput(Divider::nominal(ohms(top), ohms(bottom)))
            });
            let reference = if matches!(divider, Some((1_000, _))) {
                4_096_000
            } else {
                1_225_000
            };
            let words = [(1 << 24, 0), (16_844_325, 320), (9_000_000, -9_000)][bits as usize % 3];
            modules.push(SUMMINGS.map(|(samples, right_shift)| {
                let converter = Converter {
                    samples,
                    right_shift,
                    ..Converter::single(bits)
                };
                Module::of(topology.clone(), converter, reference, words)
            }));
        }
    }
    modules
});

impl Module {
    fn of(
        topology: Topology,
        converter: Converter,
        reference_uv: u32,
        (gain, offset): (u32, i32),
    ) -> Self {
        let (samples, right_shift) = (converter.samples, converter.right_shift);
        let top_code = ((1_u32 << converter.bits) - 1) as u16;
        let front_end = FrontEnd::bare(
            "fuzzed".to_owned(),
            topology,
            Cell {
                chemistry: "LFP".to_owned(),
                min_uv: 2_000_000,
                nominal_uv: 3_200_000,
                max_uv: 3_650_000,
            },
            converter,
            Reference::nominal(reference_uv),
            1000,
        );
        let firmware = Firmware::describe(&front_end).expect("a front end");
        let (gain, offset) = (U8F24::from_bits(gain), I24F8::from_bits(offset));
        let rail = firmware.summing().rail().0;
        let constants = match &firmware {
            Firmware::Divided(input) => at_width(rail, Scaled(input, gain, offset)),
            Firmware::Supply(reference) => {
                let drawn = reference.conversion().expect("exact");
                let scaled = drawn.scaled(gain, offset).expect("legal");
                Constants::Quotient(scaled.constants())
            }
        };
        Self {
            form: form(&constants, rail),
            firmware,
            constants,
            samples,
            right_shift,
            top_code,
        }
    }
}

struct Scaled<'a>(&'a DividedInput, U8F24, I24F8);

impl AtWidth for Scaled<'_> {
    type Answer = Constants;

    fn at<const BITS: u32>(self) -> Constants {
        let drawn = self.0.conversion::<BITS>().expect("proven");
        let scaled = drawn.scaled(self.1, self.2).expect("legal");
        Constants::Line(scaled.constants())
    }
}

/// A case with a divided module's conversion at its width.
struct Divided<'a>(&'a Case, &'a Module, &'a DividedInput, LineConstants);

impl AtWidth for Divided<'_> {
    type Answer = ();

    fn at<const BITS: u32>(self) {
        let conversion = self.2.module::<BITS>(self.3).expect("a module's constants");
        self.0.compare(self.1, conversion);
    }
}

impl SensorTable {
    fn built(&self) -> BuiltTable {
        let mut entries = self.entries.to_vec();
        entries.sort_unstable();
        if self.falls {
            entries.reverse();
        }
        BuiltTable {
            table: table::SensorTable {
                side: if self.high {
                    SensorSide::High
                } else {
                    SensorSide::Low
                },
                entries,
                step: 1 << (self.step_log2 % 15),
                entries_per_tenth: 1 << (self.fraction_bits % 7),
                first: self.first.into(),
                counts: self.counts,
                low_wire: self.low_wire.into(),
                high_wire: self.high_wire,
            },
            answer_error_mc: 0.0,
            table_error_mc: 0.0,
            interpolation_mc: 0.0,
            offset: None,
        }
    }
}

impl Case {
    fn steps(&self) -> Vec<Step> {
        let step = |step: &Move| match step {
            Move::Near(sample, jitter) => Step::Samples(
                jitter
                    .iter()
                    .map(|above| sample.saturating_add((*above % 8).into()))
                    .collect(),
            ),
            Move::Samples(samples) => Step::Samples(samples.to_vec()),
            Move::Reading(sensor, bleeding) => Step::Reading(*sensor, *bleeding),
            Move::Acknowledge => Step::Acknowledge,
        };
        self.moves.iter().map(step).collect()
    }

    /// The limits that can be read, in the crate's form and in the plain one.
    fn limits(
        &self,
        volts: impl Fn(LimitSide, Microvolts, Microvolts, AlarmRule) -> Result<Limit, ConfigError>,
        degrees: impl Fn(LimitSide, Temperature, u16, AlarmRule) -> Result<Limit, ConfigError>,
    ) -> (ChannelLimits, [Option<PlainLimit>; 4]) {
        let mut plain = [None; 4];
        let limits = [0, 1, 2, 3].map(|place| {
            let rule = self.limits[place].as_ref()?;
            let side = if place % 2 == 0 {
                LimitSide::Over
            } else {
                LimitSide::Under
            };
            let alarm = AlarmRule {
                readings: rule.readings,
                latching: rule.latching,
            };
            let limit = if place < 2 {
                let hysteresis = Microvolts::from_mv(rule.hysteresis.into());
                volts(side, millivolts(rule.value as u16), hysteresis, alarm)
            } else {
                degrees(side, Temperature(rule.value), rule.hysteresis.into(), alarm)
            };
            let limit = limit.ok()?;
            let value = if place < 2 {
                i64::from(rule.value as u16)
            } else {
                rule.value.into()
            };
            plain[place] = Some(PlainLimit {
                over: side == LimitSide::Over,
                value,
                hysteresis: rule.hysteresis.into(),
                readings: rule.readings.into(),
                latching: rule.latching,
            });
            Some(limit)
        });
        let [
            over_voltage,
            under_voltage,
            over_temperature,
            under_temperature,
        ] = limits;
        let limits = ChannelLimits {
            over_voltage,
            under_voltage,
            over_temperature,
            under_temperature,
        };
        (limits, plain)
    }

    fn compare<C: VoltageLimits>(&self, module: &Module, conversion: C) {
        let built = self.table.as_ref().map(SensorTable::built);
        let thermistor = built.as_ref().and_then(|built| built.firmware().ok());
        let (limits, plain) = self.limits(
            |side, limit, hysteresis, rule| conversion.limit(side, limit, hysteresis, rule),
            |side, limit, hysteresis, rule| match &thermistor {
                Some(thermistor) => thermistor.limit(side, limit, hysteresis, rule),
                None => Err(ConfigError::LimitNotReadable { limit: 0 }),
            },
        );
        let minimum = self.supply_minimum.and_then(|units| {
            let limit = conversion
                .count_limit(LimitSide::Under, millivolts(units))
                .ok()?;
            Some((units, limit))
        });
        let window = if self.sixteen { 16 } else { 1 };
        let model = ChannelModel {
            voltage: module.form,
            rises: matches!(module.firmware, Firmware::Divided(_)),
            window,
            top_code: module.top_code,
            table: built
                .as_ref()
                .filter(|_| thermistor.is_some())
                .map(|built| built.table.clone()),
            limits: plain,
            supply_minimum: minimum.map(|(units, _)| units.into()),
            stuck_readings: self.stuck_readings.into(),
            settle_readings: self.settle_readings.into(),
        };
        let setup = ChannelSetup {
            conversion,
            calibrated: true,
            thermistor,
            limits,
            plausibility: Plausibility {
                supply_minimum: minimum.map(|(_, limit)| limit),
                stuck_readings: self.stuck_readings,
                settle_readings: self.settle_readings,
            },
        };
        // A sum that the window does not give is refused, and nothing else is.
        let fits = module.samples as usize == window && module.right_shift == 0;
        let refused = ConfigError::WindowMismatch {
            window: window as u32,
            samples: module.samples as u16,
            right_shift: module.right_shift as u8,
        };
        let answer = if self.sixteen {
            Channel::<C, 16, _>::new(&setup).map(|_| ())
        } else {
            Channel::<C, 1, _>::new(&setup).map(|_| ())
        };
        assert_eq!(answer, if fits { Ok(()) } else { Err(refused) }, "{self:?}");
        if !fits {
            return;
        }
        let mut steps = self.steps();
        let wanted = plain_run(&model, &steps);
        if wrong_on_purpose() {
            // A firmware that loses every sample but those of the first move.
            let mut first = true;
            steps.retain(|step| !matches!(step, Step::Samples(_)) || std::mem::take(&mut first));
        }
        let [answered, of_buffers] = if self.sixteen {
            [firmware_run::<C, 16>, block_run::<C, 16>].map(|run| run(&setup, &steps))
        } else {
            [firmware_run::<C, 1>, block_run::<C, 1>].map(|run| run(&setup, &steps))
        };
        assert_eq!(answered, wanted, "{self:?}");
        assert_eq!(of_buffers, wanted, "{self:?}");
    }
}

fn millivolts(units: u16) -> Microvolts {
    Microvolts(u32::from(units) * 1000)
}

fuzz_target!(|case: Case| {
    let modules = &*MODULES;
    let ways = &modules[usize::from(case.module) % modules.len()];
    let module = &ways[usize::from(case.summing) % ways.len()];
    match (&module.firmware, module.constants) {
        (Firmware::Divided(input), Constants::Line(line)) => at_width(
            module.firmware.summing().rail().0,
            Divided(&case, module, input, line),
        ),
        (Firmware::Supply(reference), Constants::Quotient(quotient)) => {
            let conversion = reference.module(quotient).expect("a module's constants");
            case.compare(module, conversion);
        }
        _ => unreachable!("constants of the module's own topology"),
    }
});
