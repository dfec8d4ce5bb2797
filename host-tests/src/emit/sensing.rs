//! What a reader of the emitted text must know about the temperature sensor and the limits, where they are described.

use tallyvolt::{CountLimit, Limit, LimitSide, Temperature, TemperatureFault};
use tallyvolt_model::front_end::{FrontEnd, Thermistor};

use super::error::EmitError;
use crate::words::drawing;
use crate::words::numbers::{grouped, rounded_up};
use tallyvolt_analysis::choose::described_limits::described;
use tallyvolt_analysis::describe::firmware::Conversion;
use tallyvolt_analysis::describe::limit_name::LimitName;
use tallyvolt_analysis::describe::limits::count;
use tallyvolt_analysis::describe::thermistor_table::BuiltTable;
use tallyvolt_analysis::prove::check::found::Check;
use tallyvolt_analysis::prove::check::thermistor::exact;

/// The sensor and its table.
pub(crate) struct Sensor<'a> {
    pub(super) drawn: &'a Thermistor,
    pub(super) built: BuiltTable,
    /// Counts worth a test, with what firmware must answer: the ends of every rule with their neighbours, and counts at which
    /// one step of any entry, either way, is noticed.
    pub(super) spots: Vec<(u32, Result<Temperature, TemperatureFault>)>,
}

/// One limit that is emitted.
pub(super) struct SetLimit {
    pub(super) name: LimitName,
    pub(super) side: LimitSide,
    /// Output units or tenths of a degree.
    pub(super) steps: i32,
    /// As in `over 3600 mV`.
    pub(super) words: String,
    pub(super) limit: Limit,
}

/// Sensor and limits of a front end; either may be missing.
pub(super) struct Sensing<'a> {
    pub(super) sensor: Option<Sensor<'a>>,
    pub(super) limits: Vec<SetLimit>,
}

impl<'a> Sensing<'a> {
    /// Builds the table and finds the limits' counts. That both hold is the check's business.
    pub(super) fn of(front_end: &'a FrontEnd, conversion: &Conversion) -> Result<Self, EmitError> {
        let sensor = front_end
            .thermistor
            .as_ref()
            .map(|drawn| Sensor::of(front_end, drawn))
            .transpose()?;
        let firmware = sensor
            .as_ref()
            .map(|sensor| sensor.built.firmware())
            .transpose()
            .map_err(|error| EmitError::Describe(error.into()))?;
        let limits = described(front_end, conversion, firmware.as_ref())
            .into_iter()
            .map(|described| {
                let (name, key) = (described.name, described.name.key());
                let limit = described
                    .limit
                    .map_err(|error| EmitError::Limit { key, error })?;
                let side = match described.side {
                    LimitSide::Over => "over",
                    LimitSide::Under => "under",
                };
                let true_value = if described.guard > 0.0 {
                    format!(", for {} on the true value", described.written)
                } else {
                    String::new()
                };
                let (value, unit) = (described.value, name.unit());
                Ok(SetLimit {
                    name,
                    side: described.side,
                    steps: described.steps,
                    words: format!("{side} {value} {unit}{true_value}"),
                    limit,
                })
            })
            .collect::<Result<_, EmitError>>()?;
        Ok(Self { sensor, limits })
    }

    /// The limits on the cell's voltage.
    pub(super) fn on_voltage(&self) -> impl Iterator<Item = &SetLimit> {
        self.limits.iter().filter(|set| set.name.is_of_voltage())
    }

    /// The limits on the temperature.
    pub(super) fn on_temperature(&self) -> impl Iterator<Item = &SetLimit> {
        self.limits.iter().filter(|set| !set.name.is_of_voltage())
    }

    /// Labels and texts for the head.
    pub(super) fn rows(&self, front_end: &FrontEnd, check: &Check) -> Vec<(&'static str, String)> {
        let mut rows = Vec::new();
        if let (Some(sensor), Some(check)) = (&self.sensor, &check.thermistor) {
            rows.push(("sensor", drawing::sensor(sensor.drawn)));
            rows.push((
                "table",
                format!(
                    "{}; {}; {} counts against its exact fraction, {} wrong",
                    sensor.range(),
                    sensor.accuracy(),
                    grouped(check.counts_swept),
                    check.wrong_counts
                ),
            ));
            rows.extend(check.offset.map(|offset| {
                let text = format!("{offset}; for this one sensor, and no other");
                ("calibrated", text)
            }));
        }
        if let (Some(limits), false) = (&front_end.limits, self.limits.is_empty()) {
            let set = |set: &SetLimit| format!("{}: {}; ", set.words, set.counts());
            let mut text: String = self.limits.iter().map(set).collect();
            text += &match limits.debounce_readings {
                1 => "one reading suffices".to_owned(),
                readings => format!("{readings} readings in a row"),
            };
            if limits.latching {
                text += "; an alarm stays until it is acknowledged";
            }
            rows.push(("limits", text));
        }
        rows
    }
}

impl SetLimit {
    /// Its name in functions, and in constants.
    pub(super) fn identifiers(&self) -> (&'static str, String) {
        let name = self.name.identifier();
        (name, name.to_uppercase())
    }

    /// Whether it is an upper limit, its value and where that comes back, in output units: as functions of the header take them.
    pub(super) fn arguments(&self, front_end: &FrontEnd) -> String {
        let limits = front_end.limits.as_ref();
        let hysteresis = limits.map_or(0, |limits| limits.hysteresis_uv / front_end.unit_uv);
        let (trip, hysteresis) = (i64::from(self.steps), i64::from(hysteresis));
        match self.side {
            LimitSide::Over => format!("1, {trip}, {}", trip - hysteresis),
            LimitSide::Under => format!("0, {trip}, {}", trip + hysteresis),
        }
    }

    /// Whether the counts beyond are the larger ones.
    pub(super) fn is_upper(&self) -> bool {
        matches!(self.limit.trip(), CountLimit::Above(_))
    }

    /// The counts that the limit is compared with: to trip, and once active.
    pub(super) fn ends(&self) -> (u32, u32) {
        (count(self.limit.trip()), count(self.limit.hold()))
    }

    /// The counts beyond, in words.
    pub(super) fn counts(&self) -> String {
        let ((trip, hold), word) = (self.ends(), if self.is_upper() { "above" } else { "below" });
        format!("counts {word} {trip}, once active {word} {hold}")
    }
}

impl<'a> Sensor<'a> {
    fn of(front_end: &FrontEnd, drawn: &'a Thermistor) -> Result<Self, EmitError> {
        let built = BuiltTable::build(front_end, drawn)?;
        Ok(Self {
            drawn,
            spots: spots(&built),
            built,
        })
    }

    /// The last count that is a temperature.
    pub(super) fn last(&self) -> u32 {
        self.built.table.first + self.built.table.counts - 1
    }

    /// A step of the table's entries.
    pub(super) fn entry_step(&self) -> String {
        match self.built.fraction_bits() {
            0 => "0.1 degC".to_owned(),
            bits => format!("0.1 degC / {}", 1_u32 << bits),
        }
    }

    /// The counts and temperatures of the table.
    pub(super) fn range(&self) -> String {
        let mut ends = [self.built.table.first, self.last()]
            .map(|count| exact(&self.built, count).map_or(0, |temperature| temperature.0));
        ends.sort_unstable();
        let [coldest, hottest] = ends.map(|tenths| f64::from(tenths) / 10.0);
        format!(
            "{coldest:.1} to {hottest:.1} degC in counts {} to {}",
            self.built.table.first,
            self.last()
        )
    }

    /// The certified error.
    pub(super) fn accuracy(&self) -> String {
        format!(
            "at every count within {:.1} m degC of the sensor{}{}, {:.1} before rounding to 0.1 degC; tolerances of the parts come on top",
            rounded_up(self.built.certified_mc(), 1),
            if self.built.offset.is_some() {
                " less its offset"
            } else {
                ""
            },
            if self.built.interpolation_mc > 0.0 {
                format!(
                    " ({:.1} of it between the maker's points)",
                    rounded_up(self.built.interpolation_mc, 1)
                )
            } else {
                String::new()
            },
            rounded_up(self.built.unrounded_mc(), 1)
        )
    }
}

fn spots(built: &BuiltTable) -> Vec<(u32, Result<Temperature, TemperatureFault>)> {
    let table = &built.table;
    let (first, behind) = (table.first, table.first + table.counts);
    let mut counts = vec![0, table.low_wire, table.low_wire + 1, first - 1, first];
    counts.extend([
        behind - 1,
        behind,
        table.high_wire - 1,
        table.high_wire,
        u32::MAX,
    ]);
    let step = table.step;
    for (entry, at) in (0..table.entries.len()).zip((first..).step_by(step as usize)) {
        for wrong in [-1, 1] {
            let mut altered = built.clone();
            let Some(value) = altered.table.entries.get_mut(entry) else {
                continue;
            };
            *value = value.saturating_add(wrong);
            let notices = |count: &u32| exact(&altered, *count) != exact(built, *count);
            if counts.iter().any(notices) {
                continue;
            }
            let around = at.saturating_sub(step).max(first)..(at + step).min(behind);
            counts.extend(around.into_iter().find(notices));
        }
    }
    counts.sort_unstable();
    counts.dedup();
    counts
        .into_iter()
        .map(|count| (count, exact(built, count)))
        .collect()
}
