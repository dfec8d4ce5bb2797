//! The emitted C header on a core: the library's jobs as firmware in C has them, built by the core's own C compiler.

use std::path::{Path, PathBuf};

use super::CostError;
use super::calls::Calls;
use super::channel;
use super::chip::Chip;
use super::images::{Code, compile_c, link};
use super::jobs::{Origin, step};
use super::measure::Costs;
use super::runner::Runner;
use crate::emit::names::Names;
use crate::emit::{Lang, emit};
use crate::front_end::{FrontEnd, Topology};
use crate::model::Model;
use crate::model::acquisition::AcquisitionModel;
use crate::model::calibration::CalibrationModel;
use crate::model::channel::{Place, SensorOutcome, alarm_after_each, sensor};
use crate::model::integer_form::IntegerForm;
use crate::outcome::{FaultName, Outcome};

/// Counts with faults told apart, evenly spread: enough for every rule, since the values themselves are swept besides.
const TOLD_APART: u32 = 4099;

/// What firmware makes of a header, written like it for the name `front_end`: each function of the header is inlined into its
/// only caller. `count_type` has 16 bits where counts fit, as the converter's register holds them.
const VOLTAGE: &str = include_str!("emitted/voltage.c");
const VOLTAGE_FAULTS: &str = include_str!("emitted/voltage_faults.c");
const TEMPERATURE: &str = include_str!("emitted/temperature.c");
const TEMPERATURE_FAULTS: &str = include_str!("emitted/temperature_faults.c");
const ALARM: &str = include_str!("emitted/alarm.c");
const COPIES: &str = include_str!("emitted/copies.c");

/// The limits in the order of [`crate::model::channel::PlainLimits`]; the last two are the sensor's.
const LIMITS: [&str; 4] = [
    "over_voltage",
    "under_voltage",
    "over_temperature",
    "under_temperature",
];

/// Which parts of a header are measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Parts {
    /// As drawn and calibrated.
    Voltages,
    /// Temperature, and the first limit, where they are described.
    Sensing,
}

/// A front end's header on a core.
#[derive(Debug, Clone, Copy)]
pub struct Emitted<'a> {
    /// The core.
    pub chip: Chip,
    /// What is asked for.
    pub front_end: &'a FrontEnd,
    /// What is compiled.
    pub header: &'a str,
    /// Up to so many counts are run one by one; above, a spaced set of about as many.
    pub counts: u32,
    /// A module's gain in 2^-24 and offset in 1/256 counts.
    pub words: (u32, i32),
    /// Whether the header's assembly is left out.
    pub portable: bool,
}

/// The header of a front end.
///
/// # Errors
/// [`CostError::File`] when it does not pass its check.
pub fn header(front_end: &FrontEnd) -> Result<String, CostError> {
    emit(front_end, Lang::C, "tallyvolt cost")
        .map_err(|error| CostError::file(Path::new(&front_end.name), error))
}

impl Emitted<'_> {
    /// Adds the figures of a part. Compared besides: any count, some beyond the largest too, with faults told apart.
    ///
    /// # Errors
    /// [`CostError`].
    pub fn measure(
        &self,
        costs: &mut Costs,
        parts: Parts,
        simulator: &Path,
        folder: &Path,
    ) -> Result<(), CostError> {
        let (text, faults, calls) = match parts {
            Parts::Voltages => self.voltages(),
            Parts::Sensing => self.sensing()?,
        };
        let folder = folder.join(self.chip.word()).join("emitted");
        std::fs::create_dir_all(&folder).map_err(|error| CostError::file(&folder, error))?;
        let names = Names::of(&self.front_end.name);
        let lower = &names.lower;
        write(&folder.join(format!("{lower}.h")), self.header)?;
        for (suffix, text, shown) in [("", text, true), ("_faults", faults, false)] {
            let calls: Vec<&Calls> = calls.iter().filter(|calls| calls.shown == shown).collect();
            if calls.is_empty() {
                continue;
            }
            let text = format!("#include \"front_end.h\"\n{text}");
            let portable = format!(
                "#define {}_PORTABLE {}\n",
                names.upper,
                i32::from(self.portable)
            );
            let copies = if self.chip == Chip::Avr { "" } else { COPIES };
            let source = folder.join(format!("{lower}{suffix}.c"));
            write(&source, &(portable + &names.put_into(&text) + copies))?;
            let object = compile(self.chip, &source)?;
            let alone = |symbols: &[String], name: &str| {
                link(self.chip, &folder, name, symbols, Code::C(&object))
            };
            let symbols: Vec<String> = calls
                .iter()
                .flat_map(|calls| calls.data.iter().chain([&calls.symbol]).cloned())
                .collect();
            let image = alone(&symbols, &format!("{lower}{suffix}"))?;
            let mut runner = Runner::start(simulator, &image)?;
            for calls in calls {
                calls.run(costs, self.chip, &mut runner, |symbol| {
                    alone(&[symbol.to_owned()], symbol)
                })?;
            }
        }
        Ok(())
    }

    /// Program text, the same for faults, and what is called.
    fn voltages(&self) -> (String, String, Vec<Calls>) {
        let front_end = self.front_end;
        let drawn = Model::new(front_end, CalibrationModel::identity());
        let rail = drawn.largest_count();
        let drawn = IntegerForm::of(&drawn);
        let (gain, offset) = self.words;
        let module = IntegerForm::of(&Model::new(
            front_end,
            CalibrationModel::from_words(gain, offset),
        ));
        let task = match front_end.topology {
            Topology::DividedInput(_) => "divided",
            Topology::SupplyReference => "supply",
        };
        let lower = Names::of(&front_end.name).lower;
        let mut constant = self.calls("constant", task, rail);
        constant.symbol = format!("call_{lower}_voltage");
        constant.answers = answers(constant.sweep, |count| {
            number(drawn.outcome(count)).min(0xFFFF)
        });
        // Before the calibrated counts, whose constants it makes; 0 is FRONT_END_ACCEPTED.
        let mut calibrate = self.calls("its calibration, once at load", "calibration", rail);
        calibrate.symbol = format!("call_{lower}_calibrate");
        calibrate.data = vec![format!("call_{lower}_module")];
        calibrate.argument = "u32";
        calibrate.sweep = (gain, gain, 1);
        calibrate.every = 1;
        calibrate.answers = vec![0];
        let mut calibrated = self.calls("calibrated", task, rail);
        calibrated.symbol = format!("call_{lower}_calibrated");
        calibrated.data = vec![format!("call_{lower}_module")];
        calibrated.answers = answers(calibrated.sweep, |count| {
            number(module.outcome(count)).min(0xFFFF)
        });
        let faults = self.told_apart(format!("call_{lower}_outcome"), rail, |count| {
            number(drawn.outcome(count))
        });
        (
            program(VOLTAGE, rail).replace("offset_word", &offset.to_string()),
            program(VOLTAGE_FAULTS, rail),
            vec![constant, calibrate, calibrated, faults],
        )
    }

    fn sensing(&self) -> Result<(String, String, Vec<Calls>), CostError> {
        let front_end = self.front_end;
        let lower = Names::of(&front_end.name).lower;
        let (mut text, mut faults, mut calls) = (String::new(), String::new(), Vec::new());
        let model = channel::model(front_end, false)?;
        let rail = front_end.thermistor.as_ref().map_or(0, |drawn| {
            AcquisitionModel::new(&drawn.converter(&front_end.converter)).largest_count()
        });
        if let Some(table) = &model.table {
            text += &program(TEMPERATURE, rail);
            faults += &program(TEMPERATURE_FAULTS, rail);
            let told_apart = |count| match sensor(table, count) {
                (SensorOutcome::Tenths(tenths), _) => u64::from(tenths as u16),
                (SensorOutcome::Open, _) => 5 << 16,
                (SensorOutcome::Short, _) => 6 << 16,
                (SensorOutcome::OutOfTable, Place::Low) => 7 << 16,
                (SensorOutcome::OutOfTable, _) => 8 << 16,
            };
            let mut temperature = self.calls("temperature, constant", "temperature", rail);
            temperature.symbol = format!("call_{lower}_temperature");
            temperature.answers = answers(temperature.sweep, |count| match told_apart(count) {
                tenths @ 0..=0xFFFF => tenths,
                _ => 0x8000,
            });
            calls.push(temperature);
            calls.push(self.told_apart(format!("call_{lower}_sensor"), rail, told_apart));
        }
        let limits = LIMITS.into_iter().enumerate().zip(&model.limits);
        let first = limits
            .filter_map(|(name, limit)| limit.as_ref().map(|limit| (name, limit)))
            .next();
        if let Some(((at, name), limit)) = first {
            let rail = match at {
                0 | 1 => AcquisitionModel::new(&front_end.converter).largest_count(),
                _ => rail,
            };
            text += &program(ALARM, rail).replace("limit_name", name);
            let place = |count| match &model.table {
                Some(table) if at > 1 => sensor(table, count).1,
                _ => model.voltage_place(count),
            };
            let mut alarm = self.calls("alarm, a reading", "alarm", rail);
            alarm.symbol = format!("call_{lower}_alarm");
            alarm.data = vec![format!("call_{lower}_state")];
            let counts = (0..=rail).step_by(alarm.every as usize);
            let active = alarm_after_each(limit, counts.map(place));
            alarm.answers = active.into_iter().map(u64::from).collect();
            calls.push(alarm);
        }
        Ok((text, faults, calls))
    }

    /// A row of the table over the counts up to a rail, still without symbol and answers.
    fn calls(&self, what: &str, task: &'static str, rail: u32) -> Calls {
        let every = step(rail, self.counts);
        Calls {
            what: format!("{}, {what}", self.front_end.name),
            task,
            origin: Origin::Emitted,
            symbol: String::new(),
            data: Vec::new(),
            argument: if rail <= 0xFFFF { "u16" } else { "u32" },
            result: "u16",
            sweep: (0, rail, every),
            every,
            shown: true,
            answers: Vec::new(),
            start: None,
        }
    }

    fn told_apart(&self, symbol: String, rail: u32, answer: impl Fn(u32) -> u64) -> Calls {
        let sweep = (0, rail + 3, step(rail, TOLD_APART));
        Calls {
            symbol,
            argument: "u32",
            result: "u32",
            sweep,
            shown: false,
            answers: answers(sweep, answer),
            ..self.calls("faults", "", rail)
        }
    }
}

fn program(text: &str, rail: u32) -> String {
    let count = if rail <= 0xFFFF {
        "uint16_t"
    } else {
        "uint32_t"
    };
    text.replace("count_type", count)
}

fn compile(chip: Chip, source: &Path) -> Result<PathBuf, CostError> {
    let strict = [
        "-std=c99",
        "-Wall",
        "-Wextra",
        "-Wconversion",
        "-Werror",
        "-pedantic",
    ];
    let object = source.with_extension("o");
    compile_c(chip, source, &object, &strict)?
        .ok_or_else(|| CostError::file(source, "there is no C compiler for this core"))
}

fn write(path: &Path, text: &str) -> Result<(), CostError> {
    std::fs::write(path, text).map_err(|error| CostError::file(path, error))
}

fn answers((first, last, step): (u32, u32, u32), answer: impl Fn(u32) -> u64) -> Vec<u64> {
    (first..=last).step_by(step as usize).map(answer).collect()
}

/// A fault's number in the header, above the voltages.
fn number(outcome: Outcome) -> u64 {
    match outcome {
        Outcome::Units(units) => units.into(),
        Outcome::Fault(FaultName::ZeroCount) => 1 << 16,
        Outcome::Fault(FaultName::Rail) => 2 << 16,
        Outcome::Fault(FaultName::BelowRange) => 3 << 16,
        Outcome::Fault(FaultName::AboveRange) => 4 << 16,
    }
}
