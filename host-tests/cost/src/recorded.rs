//! The committed figures, one file a core: the budget that a change may not exceed, and the table of `--recorded`.

use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use super::chip::Chip;
use super::cores::cores_folder;
use super::error::CostError;
use super::figure::Costs;

/// The file of a core.
#[must_use]
pub fn path(chip: Chip) -> PathBuf {
    cores_folder()
        .join("recorded")
        .join(format!("{}.json", chip.word()))
}

/// The figures that were committed when this program was built.
const fn built_in(chip: Chip) -> Option<&'static str> {
    Some(match chip {
        Chip::Avr => include_str!("../../cores/recorded/avr.json"),
        Chip::Avrxt => include_str!("../../cores/recorded/avrxt.json"),
        Chip::Avr25 => include_str!("../../cores/recorded/avr25.json"),
        Chip::CortexM0plus => include_str!("../../cores/recorded/cortex-m0plus.json"),
        Chip::Rv32e => include_str!("../../cores/recorded/rv32e.json"),
        Chip::Rv32imc => include_str!("../../cores/recorded/rv32imc.json"),
        _ => return None,
    })
}

/// Reads a core's committed figures: those of the source, or away from it those that the program was built with.
///
/// # Errors
/// [`CostError::File`] when the source's cannot be read.
pub fn read(chip: Chip) -> Result<Costs, CostError> {
    let path = path(chip);
    let text = match (std::fs::read_to_string(&path), built_in(chip)) {
        (Ok(text), _) => text,
        (Err(error), Some(text)) if error.kind() == ErrorKind::NotFound => text.to_owned(),
        (Err(error), _) => return Err(CostError::file(&path, error)),
    };
    serde_json::from_str(&text).map_err(|error| CostError::file(&path, error))
}

/// A core's figures as they are committed.
///
/// # Errors
/// [`CostError::File`] when they cannot be written down.
pub fn text(costs: &Costs) -> Result<String, CostError> {
    serde_json::to_string_pretty(costs)
        .map(|text| text + "\n")
        .map_err(|error| CostError::file(Path::new(&costs.core), error))
}

/// How the figures compare with the budget.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Verdict {
    /// Nothing grew, and so many figures were compared.
    Within(usize),
    /// What grew, or is missing, or has no budget yet.
    Exceeds(Vec<String>),
    /// Another compiler: nothing was compared.
    OtherCompiler {
        /// The budget's.
        recorded: String,
        /// This run's.
        measured: String,
    },
}

/// Compares figures with a budget, which holds for its own compilers only.
///
/// Cycles (or instructions), flash, static RAM and stack of the library's paths may shrink, not grow.
#[must_use]
pub fn compare(recorded: &Costs, measured: &Costs) -> Verdict {
    let compilers = |costs: &Costs| format!("{}, {}", costs.rust, costs.c);
    if compilers(recorded) != compilers(measured) {
        return Verdict::OtherCompiler {
            recorded: compilers(recorded),
            measured: compilers(measured),
        };
    }
    let mut exceeded = Vec::new();
    let mut compared = 0;
    let promised = |costs: &Costs| -> Vec<_> {
        costs
            .figures
            .iter()
            .filter(|figure| figure.promised)
            .cloned()
            .collect()
    };
    let measured_figures = promised(measured);
    for budget in promised(recorded) {
        let name = format!("{} ({})", budget.what, budget.origin);
        let same = |figure: &&super::figure::Figure| {
            figure.what == budget.what && figure.origin == budget.origin
        };
        let Some(figure) = measured_figures.iter().find(same) else {
            exceeded.push(format!("{name}: is in the budget and was not measured"));
            continue;
        };
        compared += 1;
        // A mean is a sum over the same counts divided by their number: a thousandth is below one cycle in one count.
        let numbers = [
            ("max", budget.max as f64, figure.max as f64),
            ("mean", budget.mean + 1e-3, figure.mean),
            ("flash", f64::from(budget.flash), f64::from(figure.flash)),
            ("static RAM", f64::from(budget.ram), f64::from(figure.ram)),
            ("stack", f64::from(budget.stack), f64::from(figure.stack)),
        ];
        for (what, allowed, found) in numbers {
            if found > allowed {
                exceeded.push(format!("{name}: {what} {found:.1}, budget {allowed:.1}"));
            }
        }
    }
    for figure in &measured_figures {
        let known = |budget: &super::figure::Figure| {
            figure.what == budget.what && figure.origin == budget.origin
        };
        if !recorded.figures.iter().any(known) {
            exceeded.push(format!(
                "{} ({}): has no budget",
                figure.what, figure.origin
            ));
        }
    }
    if exceeded.is_empty() {
        Verdict::Within(compared)
    } else {
        Verdict::Exceeds(exceeded)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn avr() -> Costs {
        read(Chip::Avr).expect("the committed figures")
    }

    #[test]
    fn a_program_away_from_the_source_holds_the_same_figures() {
        for chip in Chip::ALL {
            let source = std::fs::read_to_string(path(chip)).expect("the committed figures");
            assert_eq!(built_in(chip), Some(&*source), "{}", chip.word());
        }
    }

    #[test]
    fn figures_that_grow_are_named() {
        let budget = avr();
        assert!(matches!(compare(&budget, &budget), Verdict::Within(figures) if figures > 20));
        for grow in [
            |costs: &mut Costs| costs.figures[0].max += 1,
            |costs: &mut Costs| costs.figures[0].mean += 0.01,
            |costs: &mut Costs| costs.figures[0].flash += 1,
            |costs: &mut Costs| costs.figures[0].ram += 1,
            |costs: &mut Costs| costs.figures[0].stack += 1,
            |costs: &mut Costs| costs.figures[0].what.push('x'),
            |costs: &mut Costs| drop(costs.figures.remove(0)),
        ] {
            let mut grown = budget.clone();
            grow(&mut grown);
            assert!(
                matches!(compare(&budget, &grown), Verdict::Exceeds(lines) if !lines.is_empty())
            );
        }
        let mut other = budget.clone();
        other.rust.push('x');
        assert!(matches!(
            compare(&budget, &other),
            Verdict::OtherCompiler { .. }
        ));
    }

    /// What is promised of a small core: load and convert in flash and stack, and cycles of a calibrated conversion.
    #[test]
    fn the_committed_figures_reach_what_is_promised() {
        use Chip::{Avr, Avr25, Avrxt, CortexM0plus, Rv32e, Rv32imc};
        let figure = |chip, what: &str, origin: &str| {
            let costs = read(chip).expect("the committed figures");
            let same =
                |figure: &&crate::figure::Figure| figure.what == what && figure.origin == origin;
            costs.figures.iter().find(same).expect("a figure").clone()
        };
        let load = |name: &str| format!("{name}, load a record, then convert");
        for (chip, origin, divided, supply) in [
            (Avr25, "c, emitted", 700, 750),
            (Avr25, "portable", 850, 950),
            (CortexM0plus, "portable", 500, 650),
            (Rv32e, "portable", 850, 950),
        ] {
            for (name, flash) in [("hut-divided-12bit", divided), ("hut-supply-12bit", supply)] {
                let found = figure(chip, &load(name), origin);
                assert!(
                    found.flash <= flash,
                    "{chip:?} {origin} {name}: {}",
                    found.flash
                );
                assert!(found.max <= 20_000, "{chip:?} {name}: {}", found.max);
                if chip == Avr25 {
                    assert!(found.stack <= 64, "{name}: {}", found.stack);
                }
            }
        }
        for (chip, what, origin, cycles) in [
            (Avr, "hut-divided-10bit, constant", "arch", 45.0),
            (Avr, "hut-divided-12bit, constant", "arch", 42.0),
            (Avr, "hut-divided-16bit, constant", "arch", 75.0),
            (Avr, "hut-divided-10bit, calibrated", "arch", 60.0),
            (Avr, "hut-divided-12bit, calibrated", "arch", 60.0),
            (Avr, "hut-divided-16bit, calibrated", "arch", 60.0),
            (Avr, "hut-divided-10bit, calibrated", "portable", 130.0),
            (Avr, "hut-divided-12bit, calibrated", "portable", 130.0),
            (Avr, "hut-divided-16bit, calibrated", "portable", 130.0),
            (Avr, "hut-supply-12bit, calibrated", "arch", 170.0),
            (CortexM0plus, "hut-divided-10bit, calibrated", "arch", 14.0),
            (CortexM0plus, "hut-divided-12bit, calibrated", "arch", 14.0),
            (CortexM0plus, "hut-divided-16bit, calibrated", "arch", 14.0),
            (CortexM0plus, "supply-10bit, calibrated", "arch", 40.0),
            (CortexM0plus, "hut-supply-12bit, calibrated", "arch", 40.0),
            (CortexM0plus, "supply-10bit, calibrated", "portable", 60.0),
            (
                CortexM0plus,
                "hut-supply-12bit, calibrated",
                "portable",
                60.0,
            ),
            (
                CortexM0plus,
                "hut-divided-thermistor, whole reading of a buffer of 16",
                "arch",
                350.0,
            ),
            (Rv32imc, "hut-divided-12bit, calibrated", "portable", 12.0),
        ] {
            let found = figure(chip, what, origin);
            assert!(found.mean <= cycles, "{chip:?} {what}: {:.1}", found.mean);
            assert_eq!(found.wrong, 0);
        }
        // At every count of a lithium cell, and not in the mean only; beyond, counts are divided bit by bit.
        for chip in [Avr, Avrxt] {
            for (name, counts) in [("supply-10bit", 300), ("hut-supply-12bit", 1300)] {
                let whole = format!("{name}, calibrated with a table");
                let cell = figure(chip, &format!("{whole}, 2.0 to 4.35 V"), "arch");
                assert!(cell.max <= 105, "{chip:?} {name}: {}", cell.max);
                assert!(cell.counts >= counts, "{chip:?} {name}: {}", cell.counts);
                let whole = figure(chip, &whole, "arch");
                assert!(whole.counts > 3 * cell.counts, "{chip:?} {name}");
                assert_eq!((cell.wrong, whole.wrong), (0, 0), "{chip:?} {name}");
            }
        }
    }

    /// The whole channel in C takes at most 1.2 times what the fastest in Rust takes.
    #[test]
    fn a_channel_in_c_keeps_up_with_rust() {
        for chip in [Chip::Avr25, Chip::Avr, Chip::Avrxt, Chip::CortexM0plus] {
            let costs = read(chip).expect("the committed figures");
            for name in ["hut-divided-thermistor", "hut-supply-thermistor"] {
                let what = format!("{name}, whole reading of a buffer of 16");
                let of = |c: bool| {
                    let same = costs.figures.iter().filter(|figure| figure.what == what);
                    let means = same.filter(|figure| (figure.origin == "c, emitted") == c);
                    means.map(|figure| figure.mean).reduce(f64::min)
                };
                let (c, rust) = (of(true).expect("in C"), of(false).expect("in Rust"));
                assert!(c <= 1.2 * rust, "{chip:?} {name}: {c:.1}, Rust {rust:.1}");
            }
        }
    }
}
