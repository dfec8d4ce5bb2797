//! A front end's curves as pictures: one SVG a kind, the same bytes on every run.
//!
//! ```text
//! kind       curves  -> which pictures there are
//! circuit    circuit -> the drawing
//! figures    curves  -> what is drawn of voltages: axes, marks, curves
//! sensor, limit      -> of temperatures and of limits
//! bars               -> rows of them on one scale
//! terms      budget  -> bars of the error budget's terms
//! before_after       -> bars of several front ends' errors
//! batch, log         -> of a fitted batch, and of a replayed log
//! alone              -> a picture that goes out without a page, with the caution
//! axis               -> round numbers along a range
//! series             -> what is between the axes, as plain data
//! pen                -> strokes and text
//! legend     series  -> their names
//! picture            -> axes and series, described for those who do not see it, and drawn as SVG
//! palette            -> colours, for light paper and dark screens
//! ```

mod alone;
mod axis;
mod bars;
pub(crate) mod batch;
pub(crate) mod before_after;
mod circuit;
mod figures;
mod legend;
mod limit;
pub(crate) mod log;
mod palette;
mod pen;
mod picture;
mod sensor;
mod series;
pub(crate) mod terms;

use clap::ValueEnum;
use serde::Serialize;

use crate::picture::curves::Curves;
pub use alone::alone;
pub use palette::dark_style;
use tallyvolt_analysis::describe::limit_name::LimitName;

/// What a picture shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// The front end as a circuit.
    Circuit,
    /// Count to voltage, with the cell's range and the limits.
    Transfer,
    /// Millivolts a count, over the cell's range.
    Step,
    /// Firmware's answers less the exact voltages, over every count.
    Rounding,
    /// Terms of the error budget, in three states of calibration.
    Budget,
    /// Count to temperature.
    Temperature,
    /// Error of the temperature table against the sensor's law.
    TableError,
    /// Counts around the upper voltage limit.
    OverVoltage,
    /// Counts around the lower voltage limit.
    UnderVoltage,
    /// Counts around the upper temperature limit.
    OverTemperature,
    /// Counts around the lower temperature limit.
    UnderTemperature,
}

impl Kind {
    /// The kinds of limits, in the order of [`LimitName::ALL`].
    pub const LIMITS: [Self; 4] = [
        Self::OverVoltage,
        Self::UnderVoltage,
        Self::OverTemperature,
        Self::UnderTemperature,
    ];

    /// The limit that a picture is about.
    pub fn limit(self) -> Option<LimitName> {
        let place = Self::LIMITS.iter().position(|kind| *kind == self)?;
        LimitName::ALL.get(place).copied()
    }

    /// Whether it shows something of the error budget, guard bands included.
    pub fn needs_budget(self) -> bool {
        matches!(self, Self::Budget | Self::OverVoltage | Self::UnderVoltage)
    }

    /// In words.
    pub fn title(self) -> &'static str {
        match self {
            Self::Circuit => "The circuit",
            Self::Transfer => "Count to voltage",
            Self::Step => "Step of a count",
            Self::Rounding => "Rounding",
            Self::Budget => "Error budget",
            Self::Temperature => "Count to temperature",
            Self::TableError => "Error of the temperature table",
            Self::OverVoltage => "Upper voltage limit",
            Self::UnderVoltage => "Lower voltage limit",
            Self::OverTemperature => "Upper temperature limit",
            Self::UnderTemperature => "Lower temperature limit",
        }
    }

    /// What a front end without this picture lacks.
    pub fn lacking(self) -> &'static str {
        match self {
            Self::Circuit | Self::Transfer | Self::Step | Self::Rounding => "no count is a voltage",
            Self::Budget => "the file states no tolerance, no converter error and no meter",
            Self::Temperature | Self::TableError => "the file has no [thermistor]",
            Self::OverVoltage | Self::UnderVoltage => "the file has no such limit in [limits]",
            Self::OverTemperature | Self::UnderTemperature => {
                "the file has no such limit in [limits], or no [thermistor]"
            }
        }
    }
}

/// The picture of a kind; none where the front end has nothing of it.
pub fn svg(curves: &Curves, kind: Kind) -> Option<String> {
    let title = format!("{}, {}", kind.title(), curves.name);
    let check = &curves.check;
    let picture = match kind {
        Kind::Circuit => return Some(circuit::svg(&curves.circuit, &title)),
        Kind::Transfer => figures::transfer(curves.transfer.as_ref()?),
        Kind::Step => figures::step(&curves.steps, check),
        Kind::Rounding => figures::rounding(curves.rounding.as_ref()?, check),
        Kind::Budget => terms::picture(curves.budget.as_ref()?),
        Kind::Temperature => {
            sensor::temperature(curves.sensor.as_ref()?, check.thermistor.as_ref()?)
        }
        Kind::TableError => {
            sensor::table_error(curves.sensor.as_ref()?, check.thermistor.as_ref()?)
        }
        Kind::OverVoltage | Kind::UnderVoltage | Kind::OverTemperature | Kind::UnderTemperature => {
            let key = kind.limit()?.key();
            let limit = curves.limits.iter().find(|limit| limit.key == key)?;
            limit::around(limit, &curves.limits)
        }
    };
    Some(picture.svg(&title))
}
