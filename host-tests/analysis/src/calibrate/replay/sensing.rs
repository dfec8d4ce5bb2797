//! Temperatures and alarms of one module's log, as its firmware has them.

use serde::Serialize;
use tallyvolt::{Alarm, ConfigError, Count, Limit, TemperatureFault, Thermistor};
use tallyvolt_model::front_end::FrontEnd;
use tallyvolt_model::thermistor::ThermistorModel;

use super::log::Entry;
use crate::choose::described_limits::described;
use crate::describe::firmware::Conversion;
use crate::describe::thermistor_table::BuiltTable;

/// What a front end describes beside its voltage.
#[derive(Debug, Clone)]
pub struct Beside<'a> {
    front_end: &'a FrontEnd,
    thermistor: Option<Thermistor<'a>>,
    /// The sensor's largest count; none without a thermistor.
    pub sensor_largest: Option<u32>,
}

impl<'a> Beside<'a> {
    /// The limits of a front end, and its thermistor by the table that was built for it.
    ///
    /// # Errors
    /// [`ConfigError`] if the crate refuses the table.
    pub fn of(front_end: &'a FrontEnd, table: Option<&'a BuiltTable>) -> Result<Self, ConfigError> {
        Ok(Self {
            front_end,
            thermistor: table.map(BuiltTable::firmware).transpose()?,
            sensor_largest: table
                .and(front_end.thermistor.as_ref())
                .map(|thermistor| ThermistorModel::new(front_end, thermistor).largest_count()),
        })
    }

    /// An empty log of a module with this conversion.
    pub fn log(&self, conversion: &Conversion) -> SensingLog {
        let alarms = described(self.front_end, conversion, self.thermistor.as_ref())
            .into_iter()
            .filter_map(|described| {
                Some(Watched {
                    limit: described.name.key(),
                    raised: 0,
                    rows: 0,
                    first_line: 0,
                    // A limit that no count reaches never trips; `check` says so.
                    counts: described.limit.ok()?,
                    alarm: Alarm::CLEAR,
                })
            })
            .collect();
        SensingLog {
            alarms,
            ..SensingLog::default()
        }
    }
}

/// Temperatures of a module.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct Temperatures {
    /// Rows with a sensor's count.
    pub rows: u64,
    /// Of these, an open sensor.
    pub open: u64,
    /// A short one.
    pub short: u64,
    /// Outside the table.
    pub out_of_table: u64,
    /// Coldest, in degrees Celsius.
    pub coldest_c: Option<f64>,
    /// Hottest.
    pub hottest_c: Option<f64>,
    /// Rows with a temperature and a thermometer's reading.
    pub compared: u64,
    /// Mean of firmware's temperature less the thermometer's, in kelvin.
    pub bias_k: f64,
    /// The one furthest from 0.
    pub worst_k: f64,
    /// Its line.
    pub worst_line: u64,
}

impl Temperatures {
    /// Rows without a temperature, though the sensor was sampled.
    pub fn faults(&self) -> u64 {
        self.open + self.short + self.out_of_table
    }

    fn push(&mut self, entry: &Entry<'_>, count: u32, thermistor: &Thermistor<'_>) {
        self.rows += 1;
        match thermistor.temperature(Count(count)) {
            Err(TemperatureFault::OpenCircuit) => self.open += 1,
            Err(TemperatureFault::ShortCircuit) => self.short += 1,
            Err(TemperatureFault::BelowTable | TemperatureFault::AboveTable) => {
                self.out_of_table += 1;
            }
            Ok(temperature) => {
                let celsius = f64::from(temperature.0) / 10.0;
                self.coldest_c = Some(self.coldest_c.map_or(celsius, |c| c.min(celsius)));
                self.hottest_c = Some(self.hottest_c.map_or(celsius, |c| c.max(celsius)));
                if let Some(meter_c) = entry.meter_c {
                    self.compare(celsius - meter_c, entry.line);
                }
            }
        }
    }

    fn compare(&mut self, error_k: f64, line: u64) {
        self.compared += 1;
        self.bias_k += (error_k - self.bias_k) / self.compared as f64;
        if self.compared == 1 || error_k.abs() > self.worst_k.abs() {
            (self.worst_k, self.worst_line) = (error_k, line);
        }
    }
}

/// A limit of the file with firmware's alarm on it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Watched {
    /// Key of the limit in `[limits]`.
    pub limit: &'static str,
    /// Times that the alarm was raised.
    pub raised: u64,
    /// Rows at which it was active.
    pub rows: u64,
    /// Line at which it was first raised; 0 where it never was.
    pub first_line: u64,
    #[serde(skip)]
    counts: Limit,
    #[serde(skip)]
    alarm: Alarm,
}

impl Watched {
    /// Whether it watches the sensor's count and not the cell's.
    fn is_of_temperature(&self) -> bool {
        self.limit.ends_with("_c")
    }

    fn push(&mut self, count: u32, line: u64) {
        let was = self.alarm.is_active();
        let is = self.alarm.update(&self.counts, Count(count));
        self.rows += u64::from(is);
        if is && !was {
            self.raised += 1;
            if self.raised == 1 {
                self.first_line = line;
            }
        }
    }
}

/// Temperatures and alarms of a module so far.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct SensingLog {
    /// Temperatures.
    pub temperatures: Temperatures,
    /// Alarms, one a limit of the file.
    pub alarms: Vec<Watched>,
}

impl SensingLog {
    /// Takes a row: its count for the voltage limits, its sensor's count, where it has one, for the others.
    pub fn push(&mut self, entry: &Entry<'_>, beside: &Beside<'_>) {
        if let (Some(thermistor), Some(count)) = (&beside.thermistor, entry.sensor_count) {
            self.temperatures.push(entry, count, thermistor);
        }
        for alarm in &mut self.alarms {
            let count = if alarm.is_of_temperature() {
                entry.sensor_count
            } else {
                Some(entry.count)
            };
            if let Some(count) = count {
                alarm.push(count, entry.line);
            }
        }
    }
}
