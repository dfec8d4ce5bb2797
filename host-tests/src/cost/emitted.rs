//! The emitted C header on a core: the library's jobs as firmware in C has them, built by the core's own C compiler.

use std::path::{Path, PathBuf};

use tallyvolt_cost::chip::Chip;
use tallyvolt_cost::error::CostError;
use tallyvolt_cost::figure::{Costs, Origin};
use tallyvolt_cost::images::{Code, compile_c, link, write};
use tallyvolt_cost::job::{Bench, First, Job, Load};
use tallyvolt_cost::runner::Simulator;
use tallyvolt_model::channel::{Place, SensorOutcome, alarm_after_each, sensor};
use tallyvolt_model::outcome::Outcome;

use super::channel;
use super::jobs::{answers, count_type, plain, reading, step};
use super::subject::{Subject, WINDOW};
use tallyvolt_analysis::describe::limit_name::LimitName;

/// Counts with faults told apart, evenly spread: enough for every rule, since the values themselves are swept besides.
const TOLD_APART: u32 = 4099;

/// What firmware makes of a header, written like it for the name `front_end`: each function of the header is inlined into its
/// only caller. `count_type` has 16 bits where counts fit, as the converter's register holds them.
const VOLTAGE: &str = include_str!("emitted/voltage.c");
const VOLTAGE_FAULTS: &str = include_str!("emitted/voltage_faults.c");
const TEMPERATURE: &str = include_str!("emitted/temperature.c");
const TEMPERATURE_FAULTS: &str = include_str!("emitted/temperature_faults.c");
const ALARM: &str = include_str!("emitted/alarm.c");
const CHANNEL: &str = include_str!("emitted/channel.c");
const COPIES: &str = include_str!("emitted/copies.c");

/// Which parts of a header are measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Parts {
    /// As drawn, and calibrated by a record.
    Voltages,
    /// Temperature, and the first limit, where they are described.
    Sensing,
    /// The whole channel, calibrated by a record.
    Channel,
}

/// A front end's header on a core.
#[derive(Debug, Clone, Copy)]
pub struct Emitted<'a> {
    /// The core.
    pub chip: Chip,
    /// What is asked for.
    pub subject: &'a Subject,
    /// What is compiled.
    pub header: &'a str,
    /// Up to so many counts are run one by one; above, a spaced set of about as many.
    pub counts: u32,
    /// Whether the header's assembly is left out.
    pub portable: bool,
}

/// Jobs on one program text, behind what its file has at the end of its name.
type Program = (&'static str, String, Vec<Job>);

impl Emitted<'_> {
    /// Adds the figures of a part. Compared besides: any count, some beyond the largest too, with faults told apart.
    ///
    /// # Errors
    /// [`CostError`].
    pub fn measure(
        &self,
        costs: &mut Costs,
        parts: Parts,
        simulator: &Simulator,
        folder: &Path,
    ) -> Result<(), CostError> {
        let chip = self.chip;
        let folder = folder.join(chip.word()).join("emitted");
        let names = &self.subject.names;
        write(&folder.join(format!("{}.h", names.lower)), self.header)?;
        let bench = Bench { chip, simulator };
        let programs = match parts {
            Parts::Voltages => self.voltages(),
            Parts::Sensing => self.sensing(),
            Parts::Channel => vec![self.channel()],
        };
        for (suffix, text, jobs) in programs {
            let source = folder.join(format!("{}{suffix}.c", names.lower));
            let text = format!(
                "{}#include \"front_end.h\"\n{text}{}",
                if self.portable {
                    "#define FRONT_END_PORTABLE\n"
                } else {
                    ""
                },
                if chip.is_avr() { "" } else { COPIES }
            );
            write(&source, &names.put_into(&text))?;
            let object = compile(chip, &source, &[])?;
            for job in &jobs {
                let figure = bench.run(job, &mut costs.checked_besides, &|name, symbols| {
                    link(chip, &folder, name, symbols, Code::C(&object))
                })?;
                costs.figures.extend(figure);
            }
            let calibrated = jobs.iter().find_map(|job| match &job.first {
                First::Load(load) => Some((job, load)),
                _ => None,
            });
            if let Some((job, load)) = calibrated {
                let object = compile(chip, &source, &["-Os"])?;
                costs.figures.push(bench.run_load(
                    &format!(
                        "{}, load a record, then convert",
                        self.subject.front_end.name
                    ),
                    Origin::Emitted,
                    load,
                    (&job.symbol, job.state.as_deref().unwrap_or_default()),
                    &|name, symbols| link(chip, &folder, name, symbols, Code::C(&object)),
                )?);
            }
        }
        Ok(())
    }

    fn voltages(&self) -> Vec<Program> {
        let Subject { names, rail, .. } = self.subject;
        let (lower, task) = (&names.lower, self.subject.task());
        let (drawn, module) = (self.subject.drawn_form(), self.subject.module_form());
        let constant = self.job("constant", task, *rail, "voltage", |count| {
            reading(&drawn, count)
        });
        let calibrated = Job {
            state: Some(format!("call_{lower}_module")),
            first: First::Load(Load {
                symbol: format!("call_{lower}_load"),
                place: format!("call_{lower}_record"),
                record: self.subject.record.to_vec(),
            }),
            ..self.job("calibrated", task, *rail, "calibrated", |count| {
                reading(&module, count)
            })
        };
        let faults = self.told_apart("outcome", *rail, |count| number(drawn.outcome(count)));
        let voltages = vec![constant, calibrated];
        vec![
            ("", program(VOLTAGE, *rail), voltages),
            ("_faults", program(VOLTAGE_FAULTS, *rail), vec![faults]),
        ]
    }

    fn sensing(&self) -> Vec<Program> {
        let lower = &self.subject.names.lower;
        let rail = self.subject.sensor_rail;
        let model = channel::model(self.subject, false);
        let mut programs = Vec::new();
        if let Some(table) = &model.table {
            let told_apart = |count| match sensor(table, count) {
                (SensorOutcome::Tenths(tenths), _) => u64::from(tenths as u16),
                (SensorOutcome::Open, _) => 5 << 16,
                (SensorOutcome::Short, _) => 6 << 16,
                (SensorOutcome::OutOfTable, Place::Low) => 7 << 16,
                (SensorOutcome::OutOfTable, _) => 8 << 16,
            };
            let answer = |count| match told_apart(count) {
                tenths @ 0..=0xFFFF => tenths,
                _ => 0x8000,
            };
            let what = "temperature, constant";
            let temperature = self.job(what, "temperature", rail, "temperature", answer);
            let faults = self.told_apart("sensor", rail, told_apart);
            let text = program(TEMPERATURE, rail);
            programs.push(("_sensor", text, vec![temperature]));
            let text = program(TEMPERATURE_FAULTS, rail);
            programs.push(("_sensor_faults", text, vec![faults]));
        }
        // The model has them in the same order.
        let set = LimitName::ALL.into_iter().zip(&model.limits);
        let first = set.filter_map(|(name, limit)| Some((name, limit.as_ref()?)));
        if let Some((name, limit)) = first.into_iter().next() {
            let of_voltage = name.is_of_voltage();
            let rail = if of_voltage { self.subject.rail } else { rail };
            let place = |count| match &model.table {
                Some(table) if !of_voltage => sensor(table, count).1,
                _ => model.voltage_place(count),
            };
            let mut alarm = self.job("alarm, a reading", "alarm", rail, "alarm", |_| 0);
            alarm.state = Some(format!("call_{lower}_state"));
            let counts = (0..=rail).step_by(alarm.sweep.2 as usize);
            let active = alarm_after_each(limit, counts.map(place));
            alarm.answers = active.into_iter().map(u64::from).collect();
            let text = program(ALARM, rail).replace("limit_name", name.identifier());
            programs.push(("_alarm", text, vec![alarm]));
        }
        programs
    }

    /// A whole reading of a buffer, as the library's images have it; of a shorter stream where there is little RAM.
    fn channel(&self) -> Program {
        let lower = &self.subject.names.lower;
        let length = channel::stream_length(self.chip);
        let samples = channel::stream(length);
        let record: Vec<String> = self.subject.record.iter().map(u8::to_string).collect();
        let stream: Vec<String> = samples.iter().map(u16::to_string).collect();
        let text = CHANNEL
            .replace("STREAM", &length.to_string())
            .replace("/* RECORD */", &record.join(", "))
            .replace("/* SAMPLES */", &stream.join(", "));
        let job = Job {
            types: ("u16", "u64"),
            sweep: (0, length - WINDOW, 1),
            state: Some(format!("call_{lower}_channel")),
            data: vec![format!("call_{lower}_samples")],
            first: First::Start(format!("call_{lower}_start")),
            answers: channel::whole_answers(self.subject, &samples),
            ..self.plain("whole reading of a buffer of 16", "reading", "reading")
        };
        ("_channel", text, vec![job])
    }

    /// A row of the table over the counts up to a rail.
    fn job(
        &self,
        what: &str,
        task: &'static str,
        rail: u32,
        symbol: &str,
        answer: impl Fn(u32) -> u64,
    ) -> Job {
        let sweep = (0, rail, step(rail, self.counts));
        Job {
            types: (count_type(rail), "u16"),
            sweep,
            answers: answers(sweep, answer),
            ..self.plain(what, task, symbol)
        }
    }

    /// A job that calls `call_NAME_SYMBOL`.
    fn plain(&self, what: &str, task: &'static str, symbol: &str) -> Job {
        let what = format!("{}, {what}", self.subject.front_end.name);
        let symbol = format!("call_{}_{symbol}", self.subject.names.lower);
        plain(&what, task, Origin::Emitted, &symbol)
    }

    fn told_apart(&self, symbol: &str, rail: u32, answer: impl Fn(u32) -> u64) -> Job {
        let sweep = (0, rail + 3, step(rail, TOLD_APART));
        Job {
            types: ("u32", "u32"),
            sweep,
            shown: false,
            answers: answers(sweep, answer),
            ..self.plain("faults", "", symbol)
        }
    }
}

fn program(text: &str, rail: u32) -> String {
    let bits = if rail <= 0xFFFF { 16 } else { 32 };
    text.replace("count_type", &format!("uint{bits}_t"))
}

fn compile(chip: Chip, source: &Path, more: &[&str]) -> Result<PathBuf, CostError> {
    let strict = [
        "-std=c99",
        "-Wall",
        "-Wextra",
        "-Wconversion",
        "-Werror",
        "-pedantic",
    ];
    let object = source.with_extension(if more.is_empty() { "o" } else { "small.o" });
    compile_c(chip, source, &object, &[&strict[..], more].concat())?
        .ok_or_else(|| CostError::file(source, "there is no C compiler for this core"))
}

/// A fault's number in the header, above the voltages: from 1 on, in the order of the model's.
fn number(outcome: Outcome) -> u64 {
    match outcome {
        Outcome::Units(units) => units.into(),
        Outcome::Fault(fault) => (fault as u64 + 1) << 16,
    }
}
