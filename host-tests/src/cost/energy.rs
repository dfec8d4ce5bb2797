//! Cycles to charge: what a conversion takes from the cell that it measures.

use serde::Serialize;

use super::measure::{Costs, Figure};
use crate::front_end::Energy;

/// The charge of one function at one front end's clock and current.
#[derive(Debug, Clone, Serialize)]
pub struct Charge {
    /// The function.
    pub what: String,
    /// Core.
    pub core: String,
    /// Time of one conversion in microseconds, on average over the counts.
    pub microseconds: f64,
    /// Charge of one conversion in nanocoulombs, over what sleep would take in the same time.
    pub nanocoulombs: f64,
    /// Average current of the conversions alone, in microamperes, over the sleep current.
    pub conversions_ua: f64,
    /// The same with the sleep current added; none where the file states none.
    pub average_ua: Option<f64>,
}

/// Charges of a core's readings; nothing where instructions are counted and not cycles.
///
/// Charge = (active - sleep current) * cycles / clock. It is that of the arithmetic alone: the converter, its reference and the
/// time to settle come on top, and usually cost more.
#[must_use]
pub fn charges(costs: &Costs, energy: &Energy) -> Vec<Charge> {
    if costs.amount != "cycles" {
        return Vec::new();
    }
    costs
        .figures
        .iter()
        .filter(|figure| figure.task != "decimation")
        .map(|figure| charge(costs, figure, energy))
        .collect()
}

fn charge(costs: &Costs, figure: &Figure, energy: &Energy) -> Charge {
    let seconds = figure.mean / energy.clock_hz;
    let above_sleep_ua = energy.active_ua - energy.sleep_ua.unwrap_or(0.0);
    let conversions_ua = above_sleep_ua * seconds * energy.samples_per_second;
    Charge {
        what: figure.what.clone(),
        core: costs.core.clone(),
        microseconds: seconds * 1e6,
        nanocoulombs: above_sleep_ua * seconds * 1e3,
        conversions_ua,
        average_ua: energy.sleep_ua.map(|sleep| sleep + conversions_ua),
    }
}
