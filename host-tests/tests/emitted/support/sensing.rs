//! Sensors and limits of generated front ends, and what firmware must answer for them, as words.

use num_rational::BigRational;
use tallyvolt::{Alarm, Count, CountLimit, Limit, LimitSide, Temperature, TemperatureFault};
use tallyvolt_analysis::choose::described_limits::described;
use tallyvolt_analysis::describe::firmware::{Conversion, Firmware};
use tallyvolt_analysis::describe::limits::DescribedLimit;
use tallyvolt_analysis::describe::thermistor_table::BuiltTable;
use tallyvolt_analysis::prove::check::thermistor::exact;
use tallyvolt_model::Model;
use tallyvolt_model::acquisition::AcquisitionModel;
use tallyvolt_model::calibration::CalibrationModel;
use tallyvolt_model::front_end::{
    FrontEnd, LimitMeaning, Limits, SensorAccuracy, SensorLaw, SensorSide, Thermistor, Topology,
};
use tallyvolt_model::integer_form::IntegerForm;
use tallyvolt_model::outcome::{FaultName, Outcome};

use super::{Numbers, push_list};

/// Readings taken of each limit.
const READINGS: usize = 400;
/// Widest count of a generated sensor in bits, so that every count is swept in good time.
const WIDEST: u32 = 14;

/// Gives a front end a sensor whose table can be built and limits that can be read; false when none is found.
pub fn add(front_end: &mut FrontEnd, numbers: &mut Numbers) -> bool {
    let found = (0..20).find_map(|_| {
        let drawn = sensor(front_end, numbers);
        BuiltTable::build(front_end, &drawn).ok().map(|_| drawn)
    });
    let Some(drawn) = found else {
        return false;
    };
    front_end.thermistor = Some(drawn);
    for _ in 0..20 {
        front_end.limits = Some(limits(front_end, numbers));
        if with_described(front_end, None, |set| {
            set.iter().all(|limit| limit.limit.is_ok())
        }) {
            return true;
        }
    }
    false
}

fn decimal(value: u64, over: u64) -> BigRational {
    BigRational::new(value.into(), over.into())
}

fn sensor(front_end: &FrontEnd, numbers: &mut Numbers) -> Thermistor {
    let ohms = [1_000, 10_000, 47_000, 100_000][numbers.within(0, 3) as usize];
    let (law, r) = match numbers.within(0, 3) {
        0 => (
            SensorLaw::Platinum {
                r0_ohms: decimal(1000, 1),
            },
            1000,
        ),
        1 => (
            // The 10K3A part's coefficients, as in the shipped front end.
            SensorLaw::SteinhartHart {
                a: decimal(1_129_241, 1_000_000_000),
                b: decimal(2_341_077, 10_000_000_000),
                c: decimal(8_775_468, 100_000_000_000_000),
            },
            10_000,
        ),
        _ => (
            SensorLaw::BEquation {
                r25_ohms: decimal(ohms, 1),
                b25_85_k: decimal(numbers.within(3000, 4500).into(), 1),
            },
            ohms,
        ),
    };
    let bits = front_end.converter.bits;
    let right_shift = bits.saturating_sub(WIDEST);
    let samples_log2 = numbers.within(0, (WIDEST + right_shift).saturating_sub(bits).min(6));
    let coldest = numbers.within(0, 40);
    Thermistor {
        accuracy: SensorAccuracy::default(),
        side: [SensorSide::Low, SensorSide::High][numbers.within(0, 1) as usize],
        fixed_ohms: decimal(r * u64::from(numbers.within(30, 300)), 100),
        excitation_uv: (front_end.topology != Topology::SupplyReference
            && numbers.within(0, 3) == 0)
            .then(|| front_end.reference.microvolts / 100 * numbers.within(80, 200)),
        samples: 1 << samples_log2,
        right_shift,
        min_c: -decimal(coldest.into(), 1),
        max_c: decimal(numbers.within(45, 110).into(), 1),
        max_error_mc: numbers.within(80, 2000),
        self_heating: None,
        law,
    }
}

fn limits(front_end: &FrontEnd, numbers: &mut Numbers) -> Limits {
    let unit = front_end.unit_uv;
    let cell = &front_end.cell;
    let mut volts = |low: u32, high: u32| Some(numbers.within(low / unit, high / unit) * unit);
    let (over_uv, under_uv) = (
        volts(cell.nominal_uv, cell.max_uv),
        volts(cell.min_uv, cell.nominal_uv),
    );
    let i32_of = |value: u32| i32::try_from(value).expect("small");
    Limits {
        meaning: LimitMeaning::Reading,
        over_uv: over_uv.filter(|_| numbers.within(0, 9) > 0),
        under_uv: under_uv.filter(|_| numbers.within(0, 9) > 0),
        miss_ppm: decimal(1000, 1),
        over_guard_uv: 0,
        under_guard_uv: 0,
        hysteresis_uv: numbers.within(0, 100_000 / unit) * unit,
        over_tenths: (numbers.within(0, 9) > 0).then(|| i32_of(numbers.within(300, 430))),
        under_tenths: (numbers.within(0, 9) > 0).then(|| i32_of(numbers.within(0, 200))),
        hysteresis_tenths: numbers.within(0, 50),
        debounce_readings: [1, 2, 3, 7, 127][numbers.within(0, 4) as usize],
        latching: numbers.within(0, 3) == 0,
    }
}

/// The front end's limits with the conversion as drawn, or with another.
pub fn with_described<T>(
    front_end: &FrontEnd,
    conversion: Option<&Conversion>,
    take: impl FnOnce(&[DescribedLimit]) -> T,
) -> T {
    let drawn;
    let conversion = match conversion {
        Some(conversion) => conversion,
        None => {
            drawn = Firmware::describe(front_end)
                .and_then(|firmware| firmware.conversion().map_err(Into::into))
                .ok();
            match &drawn {
                Some(conversion) => conversion,
                // What the crate refuses is refused later, by the check.
                None => return take(&[]),
            }
        }
    };
    let built = built(front_end);
    let sensor = built
        .as_ref()
        .map(|built| built.firmware().expect("the builder asked the crate"));
    take(&described(front_end, conversion, sensor.as_ref()))
}

/// The sensor's table, where there is one.
pub fn built(front_end: &FrontEnd) -> Option<BuiltTable> {
    let drawn = front_end.thermistor.as_ref()?;
    Some(BuiltTable::build(front_end, drawn).expect("it was built before"))
}

/// A limit's name in emitted texts.
pub fn name(limit: &DescribedLimit) -> &'static str {
    limit.name.identifier()
}

/// Whether a limit is one of the cell's voltage.
pub fn is_of_voltage(limit: &DescribedLimit) -> bool {
    limit.name.is_of_voltage()
}

fn temperature_word(answer: Result<Temperature, TemperatureFault>) -> u32 {
    match answer {
        Ok(temperature) => u32::from(temperature.0.cast_unsigned()),
        Err(TemperatureFault::OpenCircuit) => 5 << 16,
        Err(TemperatureFault::ShortCircuit) => 6 << 16,
        Err(TemperatureFault::BelowTable) => 7 << 16,
        Err(TemperatureFault::AboveTable) => 8 << 16,
    }
}

/// The largest count of the sensor.
pub fn sensor_rail(front_end: &FrontEnd, drawn: &Thermistor) -> u32 {
    AcquisitionModel::new(&drawn.converter(&front_end.converter)).largest_count()
}

/// The exact outcome of every count of the sensor and of some beyond, then readings of every limit by the plain model.
pub fn words(front_end: &FrontEnd, seed: u64) -> Vec<u32> {
    let built = built(front_end);
    let (mut every, mut beyond) = (Vec::new(), Vec::new());
    let mut rail = 0;
    if let (Some(drawn), Some(built)) = (&front_end.thermistor, &built) {
        rail = sensor_rail(front_end, drawn);
        let word = |count| temperature_word(exact(built, count));
        every.extend((0..=rail + 3).map(word));
        for count in [1 << 31, u32::MAX - 1, u32::MAX] {
            beyond.extend([count, word(count)]);
        }
    }
    let mut words = Vec::new();
    push_list(&mut words, &every, 1);
    push_list(&mut words, &beyond, 2);
    let model = Model::new(front_end, CalibrationModel::identity());
    let form = IntegerForm::of(&model);
    let mut numbers = Numbers(seed ^ 0x5EED);
    with_described(front_end, None, |set| {
        words.push(u32::try_from(set.len()).expect("four at most"));
        for limit in set {
            let found = limit.limit.expect("it was emitted");
            let rule = front_end.limits.as_ref().expect("there is a limit");
            let hysteresis = if is_of_voltage(limit) {
                rule.hysteresis_uv / front_end.unit_uv
            } else {
                rule.hysteresis_tenths
            };
            let mut alarm = PlainAlarm {
                side: limit.side,
                limit: limit.steps.into(),
                hysteresis: hysteresis.into(),
                readings: rule.debounce_readings,
                latching: rule.latching,
                active: false,
                row: 0,
            };
            let largest = if is_of_voltage(limit) {
                model.largest_count()
            } else {
                rail
            };
            let mut readings = Vec::new();
            for (count, acknowledge) in
                sequence(&found, rule.debounce_readings, largest, &mut numbers)
            {
                let value = if is_of_voltage(limit) {
                    voltage(&front_end.topology, form.outcome(count))
                } else {
                    temperature(built.as_ref().expect("there is a sensor"), count)
                };
                let active = alarm.takes(value, acknowledge);
                readings.extend([count, u32::from(acknowledge), u32::from(active)]);
            }
            push_list(&mut words, &readings, 3);
        }
    });
    words
}

/// The exact outcome of a count of the sensor, and whether core's alarm of its upper limit is active after each of the counts.
pub fn swept(front_end: &FrontEnd, counts: &[u32]) -> Vec<(u32, bool)> {
    let built = built(front_end).expect("there is a sensor");
    with_described(front_end, None, |set| {
        let limit = set
            .iter()
            .find(|limit| limit.name.key() == "over_temperature_c")
            .expect("shipped sensors have one");
        let limit = limit.limit.expect("it was emitted");
        let mut alarm = Alarm::CLEAR;
        counts
            .iter()
            .map(|count| {
                let active = alarm.update(&limit, Count(*count));
                (temperature_word(exact(&built, *count)), active)
            })
            .collect()
    })
}

/// What core finds for a calibrated module: how many limits of its voltage, whether all are readable, and each with readings.
pub fn calibrated_words(
    front_end: &FrontEnd,
    conversion: &Conversion,
    numbers: &mut Numbers,
) -> Vec<u32> {
    // Temperatures do not depend on it, and building their table again takes time.
    let voltage_only = FrontEnd {
        thermistor: None,
        ..front_end.clone()
    };
    with_described(&voltage_only, Some(conversion), |set| {
        let mut words = vec![u32::try_from(set.len()).expect("two at most")];
        let readable = set.iter().all(|limit| limit.limit.is_ok());
        words.push(if readable { 0 } else { 7 });
        for limit in set {
            let Ok(limit) = limit.limit else {
                words.push(0);
                continue;
            };
            let [trip, hold] = [limit.trip(), limit.hold()].map(edge);
            words.extend([1, trip, hold]);
            let mut alarm = Alarm::CLEAR;
            let mut readings = Vec::new();
            for (count, _) in sequence(&limit, 3, trip * 2, numbers).into_iter().take(12) {
                let active = alarm.update(&limit, Count(count));
                readings.extend([count, u32::from(active)]);
            }
            push_list(&mut words, &readings, 2);
        }
        words
    })
}

fn edge(limit: CountLimit) -> u32 {
    match limit {
        CountLimit::Above(count) | CountLimit::Below(count) => count.0,
    }
}

/// Counts around a limit's ends and anywhere, in rows about as long as the debounce; sometimes the alarm is acknowledged first.
fn sequence(limit: &Limit, readings: u32, largest: u32, numbers: &mut Numbers) -> Vec<(u32, bool)> {
    let (trip, hold) = (edge(limit.trip()), edge(limit.hold()));
    let mut counts = Vec::new();
    while counts.len() < READINGS {
        let around = [trip, hold, trip.midpoint(hold)][numbers.within(0, 2) as usize];
        let count = match numbers.within(0, 4) {
            0 => numbers.within(0, largest + 3),
            1 => numbers.within(around.saturating_sub(40), around + 40),
            _ => (around + numbers.within(0, 2)).saturating_sub(1),
        };
        for _ in 0..numbers.within(1, readings + 1) {
            counts.push((count, counts.is_empty() || numbers.within(0, 49) == 0));
        }
    }
    counts.truncate(READINGS);
    counts
}

/// What a count reads; a fault lies beyond every value on its side.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Value {
    Lowest,
    Read(i64),
    Highest,
}

/// A count's exact voltage in output units.
fn voltage(topology: &Topology, outcome: Outcome) -> Value {
    let rises = matches!(topology, Topology::DividedInput(_));
    match outcome {
        Outcome::Units(units) => Value::Read(units.into()),
        Outcome::Fault(FaultName::BelowRange) => Value::Lowest,
        Outcome::Fault(FaultName::AboveRange) => Value::Highest,
        Outcome::Fault(fault) if (fault == FaultName::ZeroCount) == rises => Value::Lowest,
        Outcome::Fault(_) => Value::Highest,
    }
}

/// A count's exact temperature in tenths of a degree.
fn temperature(built: &BuiltTable, count: u32) -> Value {
    let rises = built.table.entries.first() < built.table.entries.last();
    match exact(built, count) {
        Ok(temperature) => Value::Read(temperature.0.into()),
        Err(_) if (count < built.table.first) == rises => Value::Lowest,
        Err(_) => Value::Highest,
    }
}

/// The alarm said in values.
struct PlainAlarm {
    side: LimitSide,
    limit: i64,
    hysteresis: i64,
    readings: u32,
    latching: bool,
    active: bool,
    row: u32,
}

impl PlainAlarm {
    fn takes(&mut self, value: Value, acknowledge: bool) -> bool {
        if acknowledge {
            (self.active, self.row) = (false, 0);
        }
        let beyond = |limit| match self.side {
            LimitSide::Over => value > Value::Read(limit),
            LimitSide::Under => value < Value::Read(limit),
        };
        let back = match self.side {
            LimitSide::Over => self.limit - self.hysteresis,
            LimitSide::Under => self.limit + self.hysteresis,
        };
        let changes = match self.active {
            false => beyond(self.limit),
            true => !self.latching && !beyond(back),
        };
        self.row = if changes { self.row + 1 } else { 0 };
        if self.row == self.readings {
            (self.active, self.row) = (!self.active, 0);
        }
        self.active
    }
}
