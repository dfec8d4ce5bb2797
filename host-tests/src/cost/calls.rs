//! A function that is called in a row, and what the model answers to each call.

use std::path::PathBuf;

use super::CostError;
use super::chip::Chip;
use super::elf::Image;
use super::jobs::Origin;
use super::measure::{Costs, Figure};
use super::runner::Runner;

/// What is called, and what it must answer to each value.
pub(super) struct Calls {
    pub(super) what: String,
    pub(super) task: &'static str,
    pub(super) origin: Origin,
    pub(super) symbol: String,
    /// Data that are passed behind the swept value, in order.
    pub(super) data: Vec<String>,
    pub(super) argument: &'static str,
    pub(super) result: &'static str,
    /// First, last and step of the swept value.
    pub(super) sweep: (u32, u32, u32),
    /// Of the values there are, every how many-th is run.
    pub(super) every: u32,
    /// Whether it is in the table, or only run and checked.
    pub(super) shown: bool,
    pub(super) answers: Vec<u64>,
    /// Where the state is set up first; answers its size.
    pub(super) start: Option<String>,
}

impl Calls {
    /// Runs and checks them, and adds their figure; `alone` links a function by itself, for its size.
    ///
    /// # Errors
    /// [`CostError`].
    pub(super) fn run(
        &self,
        costs: &mut Costs,
        chip: Chip,
        runner: &mut Runner,
        alone: impl Fn(&str) -> Result<PathBuf, CostError>,
    ) -> Result<(), CostError> {
        let pointer = |symbol: &String| format!(" {}=&{symbol}", chip.pointer());
        let mut state_bytes = 0;
        if let (Some(start), Some(state)) = (&self.start, self.data.first()) {
            let rows = runner.call(start, "u16", pointer(state).trim())?;
            state_bytes = rows.rows.first().map_or(0, |row| row.result as u32);
        }
        let (first, last, step) = self.sweep;
        let data: String = self.data.iter().map(pointer).collect();
        let arguments = format!("{}={first}..{last}/{step}{data}", self.argument);
        let answered = runner.call(&self.symbol, self.result, &arguments)?;
        let rows = answered.rows;
        let counts = rows.len() as u64;
        if rows.len() != self.answers.len() || (self.start.is_some() && state_bytes == 0) {
            return Err(CostError::Runner {
                request: self.symbol.clone(),
                answer: format!("{counts} rows for {} counts", self.answers.len()),
            });
        }
        let wrong = rows
            .iter()
            .zip(&self.answers)
            .filter(|(row, answer)| row.result != **answer);
        let wrong = wrong.count() as u64;
        if !self.shown {
            costs.checked_besides.0 += counts;
            costs.checked_besides.1 += wrong;
            return Ok(());
        }
        let image = Image::read(&alone(&self.symbol)?)?;
        let amounts = || rows.iter().map(|row| row.amount);
        costs.figures.push(Figure {
            what: self.what.clone(),
            task: self.task.to_owned(),
            origin: self.origin.word().to_owned(),
            min: amounts().min().unwrap_or(0),
            mean: amounts().sum::<u64>() as f64 / counts as f64,
            max: amounts().max().unwrap_or(0),
            flash: image.flash,
            ram: image.ram + state_bytes,
            stack: rows.iter().map(|row| row.stack).max().unwrap_or(0),
            divisions: answered.divisions,
            counts,
            step: self.every,
            wrong,
            promised: true,
            broken_rules: image.broken_rules(),
        });
        Ok(())
    }
}
