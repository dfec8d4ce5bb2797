//! Cycles to charge: what a conversion takes from the cell that it measures.

use serde::Serialize;
use tallyvolt_model::front_end::Energy;

use super::figure::{Costs, Figure};

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
        .filter(|figure| ["divided", "supply", "reading"].contains(&&*figure.task))
        .map(|figure| charge(costs, figure, energy))
        .collect()
}

fn charge(costs: &Costs, figure: &Figure, energy: &Energy) -> Charge {
    let seconds = figure.mean / energy.clock_hz;
    let above_sleep_ua = energy.active_ua - energy.sleep_ua.unwrap_or(0.0);
    let conversions_ua = above_sleep_ua * seconds * energy.samples_per_second;
    Charge {
        what: format!("{} ({}, {})", figure.what, figure.task, figure.origin),
        core: costs.core.clone(),
        microseconds: seconds * 1e6,
        nanocoulombs: above_sleep_ua * seconds * 1e3,
        conversions_ua,
        average_ua: energy.sleep_ua.map(|sleep| sleep + conversions_ua),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chip::Chip;
    use crate::recorded;

    #[test]
    fn charge_by_hand() {
        let mut costs = recorded::read(Chip::Avr).expect("the committed figures");
        costs.figures.truncate(1);
        costs.figures[0].mean = 96.0;
        let energy = Energy {
            clock_hz: 8e6,
            active_ua: 3201.0,
            samples_per_second: 100.0,
            sleep_ua: Some(1.0),
        };
        // 96 / 8 MHz = 12 us; 3.2 mA * 12 us = 38.4 nC; 100 times a second 3.84 uA.
        let charge = &charges(&costs, &energy)[0];
        assert!((charge.microseconds - 12.0).abs() < 1e-9);
        assert!((charge.nanocoulombs - 38.4).abs() < 1e-9);
        assert!((charge.conversions_ua - 3.84).abs() < 1e-9);
        assert!(charge.average_ua.is_some_and(|ua| (ua - 4.84).abs() < 1e-9));
    }

    #[test]
    fn instructions_are_no_charge() {
        let costs = recorded::read(Chip::Rv32imc).expect("the committed figures");
        let energy = Energy {
            clock_hz: 8e6,
            active_ua: 1000.0,
            samples_per_second: 1.0,
            sleep_ua: None,
        };
        assert!(charges(&costs, &energy).is_empty());
    }
}
