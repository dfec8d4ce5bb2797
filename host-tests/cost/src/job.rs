//! One function to measure: what is called, what it must answer, and its figure.

use std::path::PathBuf;

use super::chip::Chip;
use super::elf::Image;
use super::error::CostError;
use super::figure::{Figure, Origin};
use super::runner::{Row, Runner, Simulator};

/// An answer that is not looked at.
pub const ANY: u64 = u64::MAX;

/// What makes the state before the calls.
#[derive(Debug, Clone)]
pub enum First {
    /// Nothing: there is none, or it is as the image has it.
    Nothing,
    /// A function that takes the state and answers 0.
    Start(String),
    /// A load of a record.
    Load(Load),
}

/// A function that loads a record into the state.
#[derive(Debug, Clone)]
pub struct Load {
    /// Its name.
    pub symbol: String,
    /// Where the record is written.
    pub place: String,
    /// The bytes of a good record.
    pub record: Vec<u8>,
}

/// A function, called once for every value of its first argument, in a row.
#[derive(Debug, Clone)]
pub struct Job {
    /// What it does, in the table.
    pub what: String,
    /// Kind of job: ratios are taken within one.
    pub task: &'static str,
    /// Whose code it is.
    pub origin: Origin,
    /// Its name.
    pub symbol: String,
    /// Types of the swept value and of the answer.
    pub types: (&'static str, &'static str),
    /// First, last and step of the swept value.
    pub sweep: (u32, u32, u32),
    /// Its own RAM, whose address is passed next.
    pub state: Option<String>,
    /// Data whose addresses are passed behind that.
    pub data: Vec<String>,
    /// What is called before.
    pub first: First,
    /// What it must answer, call by call; [`ANY`] where it does not matter.
    pub answers: Vec<u64>,
    /// Whether every answer must be exact; the usual ways are only counted.
    pub promised: bool,
    /// Whether it is in the table, or only run and checked.
    pub shown: bool,
}

/// What the runs besides the table came to: answers, and wrong ones among them.
pub type Besides = (u64, u64);

/// Links the named functions and data, and only what they need.
pub type Link<'a> = dyn Fn(&str, &[String]) -> Result<PathBuf, CostError> + 'a;

/// A core and its simulator.
#[derive(Debug, Clone, Copy)]
pub struct Bench<'a> {
    /// The core.
    pub chip: Chip,
    /// The program that simulates it.
    pub simulator: &'a Simulator,
}

impl Bench<'_> {
    fn pointer(self, symbol: &str) -> String {
        format!(" {}=&{symbol}", self.chip.pointer())
    }

    /// Runs a job on an image of its own and checks every answer; its figure, where it is shown.
    ///
    /// # Errors
    /// [`CostError`]: a step that failed, or a simulator that answers something else.
    pub fn run(
        self,
        job: &Job,
        besides: &mut Besides,
        link: &Link<'_>,
    ) -> Result<Option<Figure>, CostError> {
        let only = std::slice::from_ref(&job.symbol);
        let state: Vec<String> = job.state.iter().cloned().collect();
        let setting = match &job.first {
            First::Nothing => Vec::new(),
            First::Start(symbol) => vec![symbol.clone()],
            First::Load(load) => vec![load.symbol.clone(), load.place.clone()],
        };
        let image = link("run", &[only, &state, &job.data, &setting].concat())?;
        let mut runner = Runner::start(self.simulator, &image)?;
        let owned = state.first().map_or("", String::as_str);
        match &job.first {
            First::Nothing => {}
            First::Start(symbol) => {
                let rows = runner.call(symbol, "u8", self.pointer(owned).trim())?;
                accepted(symbol, &rows.rows)?;
            }
            First::Load(load) => {
                accepted(&load.symbol, &[self.load(&mut runner, load, owned)?])?;
            }
        }
        let (first, last, step) = job.sweep;
        let pointers: String = state
            .iter()
            .chain(&job.data)
            .map(|symbol| self.pointer(symbol))
            .collect();
        let (argument, result) = job.types;
        let swept = format!("{argument}={first}..{last}/{step}{pointers}");
        let answered = runner.call(&job.symbol, result, &swept)?;
        let wrong = wrong(&job.symbol, &answered.rows, &job.answers)?;
        if !job.shown {
            besides.0 += job.answers.len() as u64;
            besides.1 += wrong;
            return Ok(None);
        }
        let alone = Image::read(&link("alone", only)?)?;
        let owning = Image::read(&link("owning", &[only, &state].concat())?)?;
        Ok(Some(Figure {
            ram: owning.ram,
            divisions: answered.divisions,
            step,
            wrong,
            promised: job.promised,
            broken_rules: alone.broken_rules(),
            ..Figure::of(
                (&job.what, job.task, job.origin),
                &answered.rows,
                alone.flash,
            )
        }))
    }

    /// Loads good and bad records in a row, the good one first and last. Flash and RAM are those of a program that loads and
    /// converts.
    ///
    /// # Errors
    /// As [`Bench::run`].
    pub fn run_load(
        self,
        what: &str,
        origin: Origin,
        load: &Load,
        (convert, state): (&str, &str),
        link: &Link<'_>,
    ) -> Result<Figure, CostError> {
        let program = [load.symbol.clone(), convert.to_owned()];
        let owning = [&program[..], &[state.to_owned()]].concat();
        let image = link(
            "run",
            &[&owning[..], std::slice::from_ref(&load.place)].concat(),
        )?;
        let mut runner = Runner::start(self.simulator, &image)?;
        let (mut rows, mut wrong) = (Vec::new(), 0);
        for (record, good) in records(&load.record) {
            let load = Load {
                record,
                ..load.clone()
            };
            let row = self.load(&mut runner, &load, state)?;
            wrong += u64::from((row.result == 0) != good);
            rows.push(row);
        }
        let flash = Image::read(&link("alone", &program)?)?;
        Ok(Figure {
            ram: Image::read(&link("owning", &owning)?)?.ram,
            wrong,
            broken_rules: [flash.broken_rules(), flash.broken_load_rules()].concat(),
            ..Figure::of((what, "load", origin), &rows, flash.flash)
        })
    }

    fn load(self, runner: &mut Runner, load: &Load, state: &str) -> Result<Row, CostError> {
        runner.poke(&load.place, &load.record)?;
        let pointers = self.pointer(state) + &self.pointer(&load.place);
        let rows = runner.call(&load.symbol, "u8", pointers.trim())?;
        rows.rows.first().copied().ok_or_else(|| CostError::Runner {
            request: load.symbol.clone(),
            answer: "no row".to_owned(),
        })
    }
}

/// A record, erased memory, the record with one bit flipped in each byte, and the record again; and whether each is good.
fn records(record: &[u8]) -> Vec<(Vec<u8>, bool)> {
    let flipped = (0..record.len()).map(|byte| {
        let mut damaged = record.to_vec();
        damaged[byte] ^= 1 << (byte % 8);
        (damaged, false)
    });
    let good = || (record.to_vec(), true);
    [good(), (vec![0xFF; record.len()], false)]
        .into_iter()
        .chain(flipped)
        .chain([good()])
        .collect()
}

fn accepted(symbol: &str, rows: &[Row]) -> Result<(), CostError> {
    match rows {
        [Row { result: 0, .. }] => Ok(()),
        other => Err(CostError::Runner {
            request: symbol.to_owned(),
            answer: format!("{other:?}, and 0 is accepted"),
        }),
    }
}

fn wrong(symbol: &str, rows: &[Row], answers: &[u64]) -> Result<u64, CostError> {
    if rows.len() != answers.len() {
        return Err(CostError::Runner {
            request: symbol.to_owned(),
            answer: format!("{} rows for {} counts", rows.len(), answers.len()),
        });
    }
    let differ = rows
        .iter()
        .zip(answers)
        .filter(|(row, answer)| **answer != ANY && row.result != **answer);
    Ok(differ.count() as u64)
}
