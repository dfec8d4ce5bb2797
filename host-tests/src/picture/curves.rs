//! The numbers behind a front end's plots: one set for the page, for single pictures and for JSON.
//!
//! ```text
//! characteristic  the counts that are voltages, as the model has them and as firmware answers
//! circuit    the drawing: parts and what is written at them
//! glance     figures of a first look
//! transfer   count -> voltage around the cell's range, and the step of a count over it
//! rounding   what firmware answers less the exact voltage, over every count
//! sensor     count -> temperature, and the table's error
//! limits     counts around each limit: where it trips, where it holds, where its guard band begins
//! ```
//!
//! Voltages come from the exact model and answers from the firmware's conversion; nothing is fitted or smoothed.

mod characteristic;
pub(crate) mod circuit;
pub(crate) mod glance;
pub(crate) mod limits;
pub(crate) mod rounding;
pub mod sensor;
pub(crate) mod transfer;
pub(crate) mod values;

use serde::Serialize;
use tallyvolt_model::Model;
use tallyvolt_model::front_end::{Accuracy, FrontEnd, SensorAccuracy, Tolerance};

use crate::words::drawing;
use characteristic::Characteristic;
use circuit::Circuit;
use limits::LimitCurve;
use rounding::Rounding;
use sensor::SensorCurves;
use tallyvolt_analysis::choose::budget::budget;
use tallyvolt_analysis::choose::budget::found::Budget;
use tallyvolt_analysis::choose::budget::headroom::{Headroom, headroom};
use tallyvolt_analysis::choose::budget::monte_carlo::Run;
use tallyvolt_analysis::describe::firmware::DescribeError;
use tallyvolt_analysis::describe::thermistor_table::BuiltTable;
use tallyvolt_analysis::prove::check::found::Check;
use tallyvolt_analysis::prove::check::{check_subject, conversion};
use transfer::{Step, Transfer};

/// Everything that is plotted about one front end, and the verdicts beside it.
#[derive(Debug, Clone, Serialize)]
pub struct Curves {
    /// The front end's name.
    pub name: String,
    /// What is drawn: label and text.
    pub drawing: Vec<(&'static str, String)>,
    /// The same as a circuit, for the picture and the page.
    #[serde(skip)]
    pub circuit: Circuit,
    /// The check of every count.
    pub check: Check,
    /// How far every board within its limits still reads; none where no count is a voltage.
    pub headroom: Option<Headroom>,
    /// Count to voltage; none where no count is a voltage.
    pub transfer: Option<Transfer>,
    /// Millivolts a count, over the cell's range.
    pub steps: Vec<Step>,
    /// Rounding over the counts that are voltages; none where there are none.
    pub rounding: Option<Rounding>,
    /// The error budget, where it was asked for and anything is described that it could be made of.
    pub budget: Option<Budget>,
    /// The thermistor, where one is described.
    pub sensor: Option<SensorCurves>,
    /// The limits, where any are described.
    pub limits: Vec<LimitCurve>,
}

impl Curves {
    /// Checks a front end over every count and works out its curves; without a `run` there is no error budget.
    ///
    /// `progress` is told how many counts and trials were done, from any thread.
    ///
    /// # Errors
    /// [`DescribeError`] when the firmware crate refuses the front end.
    pub fn of(
        front_end: &FrontEnd,
        run: Option<Run>,
        progress: &(dyn Fn(u64) + Sync),
    ) -> Result<Self, DescribeError> {
        let conversion = conversion(front_end)?;
        let subject = |count| conversion.outcome(count);
        let check = check_subject(front_end, &conversion, &subject, progress);
        let characteristic = check
            .valid_counts
            .map(|ends| Characteristic::new(front_end, conversion, ends));
        let budget = run
            .filter(|_| states_errors(front_end))
            .map(|run| budget(front_end, run, progress));
        let built = front_end.thermistor.as_ref().and_then(|drawn| {
            // A table that cannot be built was refused when the file was read.
            Some((drawn, BuiltTable::build(front_end, drawn).ok()?))
        });
        let built = built.as_ref();
        let mut rows = drawing::drawing(front_end);
        rows.extend(built.map(|(drawn, _)| ("sensor", drawing::sensor(drawn))));
        Ok(Self {
            name: front_end.name.clone(),
            drawing: rows,
            circuit: Circuit::of(front_end),
            headroom: headroom(front_end),
            transfer: characteristic.as_ref().map(Transfer::of),
            steps: transfer::steps(front_end),
            rounding: characteristic.as_ref().map(Rounding::of),
            sensor: built.map(|(drawn, built)| SensorCurves::of(front_end, drawn, built)),
            limits: characteristic.as_ref().map_or_else(Vec::new, |voltages| {
                let table = built.map(|(_, table)| table);
                limits::of(front_end, voltages, table, budget.as_ref())
            }),
            budget,
            check,
        })
    }

    /// What [`Curves::of`] tells `progress` in all, about.
    pub fn work(front_end: &FrontEnd, run: Option<Run>) -> u64 {
        let model = Model::as_drawn(front_end);
        let run = run.filter(|_| states_errors(front_end));
        u64::from(model.largest_count()) + 1 + run.map_or(0, |run| run.trials as u64)
    }
}

/// Whether a file says anything about errors: a budget of nothing but rounding is none.
fn states_errors(front_end: &FrontEnd) -> bool {
    let divider = front_end.topology.divider();
    let sensor = front_end.thermistor.as_ref().map(|drawn| &drawn.accuracy);
    front_end.converter.accuracy != Accuracy::default()
        || front_end.reference.tolerance != Tolerance::default()
        || divider.is_some_and(|divider| divider.tolerance != Tolerance::default())
        || front_end.meter.is_some()
        || sensor.is_some_and(|accuracy| *accuracy != SensorAccuracy::default())
}
