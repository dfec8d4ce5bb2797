//! Any samples, sensor counts and bleeding through a channel of any description, calibration, table and limits: no panic, no
//! wrap, and every reading is the plain channel's.

#![no_main]

use arbitrary::Arbitrary;
use libfuzzer_sys::fuzz_target;
use num_rational::BigRational;
use tallyvolt::fixed::types::{I24F8, U8F24};
use tallyvolt::{
    AlarmRule, Calibration, CellConversion, ChannelLimits, ChannelSetup, ConfigError, CountLimit,
    Limit, LimitSide, Plausibility, SensorSide, Temperature, Voltage,
};
use tallyvolt_fuzz::wrong_on_purpose;
use tallyvolt_host::channel::{Step, firmware_run, plain_run};
use tallyvolt_host::firmware::{Conversion, Firmware};
use tallyvolt_host::front_end::{Cell, Converter, Divider, FrontEnd, Reference, Topology};
use tallyvolt_host::model::Model;
use tallyvolt_host::model::calibration::CalibrationModel;
use tallyvolt_host::model::channel::{ChannelModel, PlainLimit};
use tallyvolt_host::model::integer_form::IntegerForm;
use tallyvolt_host::thermistor_table::BuiltTable;

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
    bits: u8,
    one_sample: bool,
    divider: Option<(u16, u16)>,
    reference_uv: u32,
    gain: u32,
    offset: i32,
    table: Option<SensorTable>,
    limits: [Option<Rule>; 4],
    supply_minimum: Option<u16>,
    stuck_readings: u8,
    settle_readings: u8,
    /// A fixed number: a list would end at every second byte, before a window is full.
    moves: [Move; STEPS],
}

impl SensorTable {
    fn built(&self) -> BuiltTable {
        let mut entries = self.entries.to_vec();
        entries.sort_unstable();
        if self.falls {
            entries.reverse();
        }
        BuiltTable {
            side: if self.high {
                SensorSide::High
            } else {
                SensorSide::Low
            },
            entries,
            step_log2: self.step_log2 % 15,
            fraction_bits: self.fraction_bits % 7,
            first: self.first.into(),
            counts: self.counts,
            low_wire: self.low_wire.into(),
            high_wire: self.high_wire,
            answer_error_mc: 0.0,
            table_error_mc: 0.0,
        }
    }
}

impl Case {
    fn front_end(&self) -> FrontEnd {
        let ohms = |value: u16| BigRational::from_integer((u32::from(value) + 1).into());
        let topology = self
            .divider
            .map_or(Topology::SupplyReference, |(top, bottom)| {
                Topology::DividedInput(Divider::nominal(ohms(top), ohms(bottom)))
            });
        FrontEnd::bare(
            "fuzzed".to_owned(),
            topology,
            Cell {
                chemistry: "LFP".to_owned(),
                min_uv: 2_000_000,
                nominal_uv: 3_200_000,
                max_uv: 3_650_000,
            },
            Converter {
                samples: if self.one_sample { 1 } else { 16 },
                ..Converter::single(8 + u32::from(self.bits % 9))
            },
            Reference::nominal(100_000 + self.reference_uv % 4_000_000),
            1000,
        )
    }

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
        volts: impl Fn(LimitSide, u16, AlarmRule) -> Result<Limit, ConfigError>,
        degrees: impl Fn(LimitSide, i16, AlarmRule) -> Result<Limit, ConfigError>,
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
                hysteresis: rule.hysteresis.into(),
                readings: rule.readings,
                latching: rule.latching,
            };
            let limit = if place < 2 {
                volts(side, rule.value as u16, alarm)
            } else {
                degrees(side, rule.value, alarm)
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

    fn compare<C: CellConversion>(
        &self,
        conversion: C,
        limit: impl Fn(&C, LimitSide, Voltage, AlarmRule) -> Result<Limit, ConfigError>,
        count_limit: impl Fn(&C, LimitSide, Voltage) -> Result<CountLimit, ConfigError>,
    ) {
        let (front_end, gain, offset) = (self.front_end(), self.gain(), self.offset());
        let built = self.table.as_ref().map(SensorTable::built);
        let thermistor = built.as_ref().and_then(|built| built.firmware().ok());
        let (limits, plain) = self.limits(
            |side, value, rule| limit(&conversion, side, Voltage(value), rule),
            |side, value, rule| match &thermistor {
                Some(thermistor) => thermistor.limit(side, Temperature(value), rule),
                None => Err(ConfigError::LimitNotReadable {
                    limit: value.into(),
                }),
            },
        );
        let minimum = self.supply_minimum.and_then(|units| {
            let limit = count_limit(&conversion, LimitSide::Under, Voltage(units)).ok()?;
            Some((units, limit))
        });
        let model = ChannelModel {
            voltage: IntegerForm::of(&Model::new(
                &front_end,
                CalibrationModel::from_words(gain, offset),
            )),
            rises: front_end.topology != Topology::SupplyReference,
            window: front_end.converter.samples as usize,
            top_code: ((1_u32 << front_end.converter.bits) - 1) as u16,
            table: built.clone().filter(|_| thermistor.is_some()),
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
        let mut steps = self.steps();
        let wanted = plain_run(&model, &steps);
        if wrong_on_purpose() {
            // A firmware that loses every sample but those of the first move.
            let mut first = true;
            steps.retain(|step| !matches!(step, Step::Samples(_)) || std::mem::take(&mut first));
        }
        let answered = if self.one_sample {
            firmware_run::<C, 1>(&setup, &steps)
        } else {
            firmware_run::<C, 16>(&setup, &steps)
        };
        assert_eq!(answered, wanted, "{self:?}");
    }

    /// Half to double.
    fn gain(&self) -> u32 {
        (1 << 23) + self.gain % ((1 << 25) - (1 << 23))
    }

    /// -4096 to 4096 counts.
    fn offset(&self) -> i32 {
        self.offset.rem_euclid((1 << 21) + 1) - (1 << 20)
    }
}

fuzz_target!(|case: Case| {
    let Ok(firmware) = Firmware::describe(&case.front_end()) else {
        return;
    };
    let stored = Calibration::new(
        U8F24::from_bits(case.gain()),
        I24F8::from_bits(case.offset()),
    );
    let Ok(conversion) = firmware.conversion(stored.expect("within bounds")) else {
        return;
    };
    match conversion {
        Conversion::Divided(conversion) => case.compare(
            conversion,
            |conversion, side, value, rule| conversion.limit(side, value, rule),
            |conversion, side, value| conversion.count_limit(side, value),
        ),
        Conversion::Supply(conversion) => case.compare(
            conversion,
            |conversion, side, value, rule| conversion.limit(side, value, rule),
            |conversion, side, value| conversion.count_limit(side, value),
        ),
    }
});
