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
    /// The reading with its samples; none where the file does not say how long the converter takes.
    pub whole: Option<Whole>,
}

/// A reading from the first sample on, the core running all the while.
#[derive(Debug, Clone, Serialize)]
pub struct Whole {
    /// Time that the converter takes, in microseconds.
    pub converter_microseconds: f64,
    /// Share of the reading's time that this function takes, in percent.
    pub share_percent: f64,
    /// Charge of both in nanocoulombs, over what sleep would take in the same time.
    pub nanocoulombs: f64,
}

/// Samples of a reading: of the cell, and of the sensor where there is one.
#[derive(Debug, Clone, Copy)]
pub struct Samples {
    /// Of the cell.
    pub cell: u32,
    /// Of the sensor.
    pub sensor: Option<u32>,
}

/// Charges of a core's readings; nothing where instructions are counted and not cycles.
///
/// Charge = (active - sleep current) * cycles / clock. It is that of the arithmetic alone: where the file says how long the converter takes,
/// [`Charge::whole`] has the reading with its samples, at the same current. What converter and reference draw themselves comes on top.
#[must_use]
pub fn charges(costs: &Costs, energy: &Energy, samples: Samples) -> Vec<Charge> {
    if costs.amount != "cycles" {
        return Vec::new();
    }
    costs
        .figures
        .iter()
        .filter(|figure| ["divided", "supply", "reading"].contains(&&*figure.task))
        .map(|figure| charge(costs, figure, energy, samples))
        .collect()
}

fn charge(costs: &Costs, figure: &Figure, energy: &Energy, samples: Samples) -> Charge {
    let seconds = figure.mean / energy.clock_hz;
    let above_sleep_ua = energy.active_ua - energy.sleep_ua.unwrap_or(0.0);
    let conversions_ua = above_sleep_ua * seconds * energy.samples_per_second;
    // A voltage alone is of the cell's samples, a whole reading of the sensor's too.
    let sensor = samples.sensor.filter(|_| figure.task == "reading");
    let whole = energy.converter.map(|converter| {
        let sampled = converter.seconds([samples.cell].into_iter().chain(sensor));
        Whole {
            converter_microseconds: sampled * 1e6,
            share_percent: 100.0 * seconds / (sampled + seconds),
            nanocoulombs: above_sleep_ua * (sampled + seconds) * 1e3,
        }
    });
    Charge {
        what: format!("{} ({}, {})", figure.what, figure.task, figure.origin),
        core: costs.core.clone(),
        microseconds: seconds * 1e6,
        nanocoulombs: above_sleep_ua * seconds * 1e3,
        conversions_ua,
        average_ua: energy.sleep_ua.map(|sleep| sleep + conversions_ua),
        whole,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chip::Chip;
    use crate::recorded;
    use tallyvolt_model::front_end::ConverterTiming;

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
            converter: Some(ConverterTiming {
                clock_hz: 125_000.0,
                conversion_clocks: 13.0,
                discarded: 8,
            }),
        };
        let samples = Samples {
            cell: 16,
            sensor: Some(4),
        };
        // 96 / 8 MHz = 12 us; 3.2 mA * 12 us = 38.4 nC; 100 times a second 3.84 uA.
        let charge = &charges(&costs, &energy, samples)[0];
        assert!((charge.microseconds - 12.0).abs() < 1e-9);
        assert!((charge.nanocoulombs - 38.4).abs() < 1e-9);
        assert!((charge.conversions_ua - 3.84).abs() < 1e-9);
        assert!(charge.average_ua.is_some_and(|ua| (ua - 4.84).abs() < 1e-9));
        // A voltage: 24 conversions of 13 clocks of 8 us are 2496 us, of 2508 us; at 3.2 mA 8025.6 nC.
        let whole = charge
            .whole
            .as_ref()
            .expect("the converter's time is known");
        assert!((whole.converter_microseconds - 2496.0).abs() < 1e-6);
        assert!((whole.share_percent - 100.0 * 12.0 / 2508.0).abs() < 1e-9);
        assert!((whole.nanocoulombs - 8025.6).abs() < 1e-6);
        // A whole reading: 12 more for the sensor.
        costs.figures[0].task = "reading".to_owned();
        let charge = &charges(&costs, &energy, samples)[0];
        let whole = charge
            .whole
            .as_ref()
            .expect("the converter's time is known");
        assert!((whole.converter_microseconds - 3744.0).abs() < 1e-6);
    }

    #[test]
    fn instructions_are_no_charge() {
        let costs = recorded::read(Chip::Rv32imc).expect("the committed figures");
        let energy = Energy {
            clock_hz: 8e6,
            active_ua: 1000.0,
            samples_per_second: 1.0,
            sleep_ua: None,
            converter: None,
        };
        let samples = Samples {
            cell: 16,
            sensor: None,
        };
        assert!(charges(&costs, &energy, samples).is_empty());
    }
}
