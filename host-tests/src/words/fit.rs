//! A fitted batch in words.

use std::fmt::Write as _;

use tallyvolt_model::front_end::FrontEnd;

use crate::words::fit_table::{SHOWN, table};
use crate::words::numbers::{counted, grouped, read, told};
use crate::words::sheet::{labelled, text_width};
use crate::words::wrapping::wrapped;
use tallyvolt_analysis::calibrate::fit::module::{Fit, ModuleFit};
use tallyvolt_analysis::calibrate::fit::readings::Readings;
use tallyvolt_analysis::calibrate::fit::records::hex_text;
use tallyvolt_analysis::calibrate::fit::uncertainty::Parameters;
use tallyvolt_analysis::calibrate::fit::verdict::Verdict;
use tallyvolt_analysis::calibrate::fit::{Batch, Settings};

/// Modules up to this number get a block each.
const BLOCKS: usize = 4;

/// A batch and what it was fitted from.
#[derive(Debug, Clone, Copy)]
pub struct Fitted<'a> {
    pub front_end: &'a FrontEnd,
    pub settings: &'a Settings,
    pub batch: &'a Batch,
    pub readings: &'a Readings,
}

impl<'a> Fitted<'a> {
    /// The modules of a verdict.
    pub(crate) fn of(self, verdict: Verdict) -> impl Iterator<Item = &'a ModuleFit> {
        let modules = self.batch.modules.iter();
        modules.filter(move |module| module.verdict() == verdict)
    }

    /// How many modules are unchecked, and whether they get a record; none where there is none.
    pub(crate) fn unchecked(self) -> Option<String> {
        let number = match self.of(Verdict::Unchecked).count() {
            0 => return None,
            number => grouped(number as u64),
        };
        Some(if self.settings.accept_unchecked {
            format!("{number} unchecked and accepted")
        } else {
            format!("{number} unchecked (no record without --accept-unchecked)")
        })
    }

    /// The batch for people; `file` is that of the readings, as typed.
    pub fn text(self, file: &str) -> String {
        let batch = self.batch;
        let mut text = self.head(file);
        if batch.modules.len() <= BLOCKS {
            for module in &batch.modules {
                text.push_str(&block(module));
            }
        }
        text.push_str(&table(batch));
        text.push_str(&guards(batch));
        for module in self.of(Verdict::Suspect).take(SHOWN) {
            for reason in &module.reasons {
                let label = format!("{}: {}", module.module, reason.check.words());
                text += &entry(&label, &reason.found);
            }
        }
        for module in self.of(Verdict::Unchecked).take(SHOWN) {
            let why = module.unchecked.as_deref().unwrap_or_default();
            text += &entry(&format!("{}: unchecked", module.module), why);
        }
        let number = |verdict| grouped(self.of(verdict).count() as u64);
        let _ = writeln!(
            text,
            "{}, {} good{}, {} suspect; a suspect module gets no record",
            counted(batch.modules.len(), "module"),
            number(Verdict::Good),
            told(self.unchecked(), "", |unchecked| format!(", {unchecked}")),
            number(Verdict::Suspect)
        );
        text
    }

    fn head(self, file: &str) -> String {
        let Self {
            front_end,
            settings,
            batch,
            readings,
        } = self;
        let meter = &settings.meter;
        let [min, nominal, max] = batch.transfer.cell_mv;
        let stated = if meter.is_ideal() {
            "taken as ideal: give its data sheet's figures (--meter-ppm-reading, ...)".to_owned()
        } else {
            format!(
                "at most {:.3} mV off at {min:.0} mV, {:.3} at {nominal:.0}, {:.3} at {max:.0}; display rounds to {} mV",
                meter.limit_mv(min),
                meter.limit_mv(nominal),
                meter.limit_mv(max),
                meter.resolution_mv
            )
        };
        let noise = &batch.noise;
        let degrees = told(noise.degrees, "", |degrees| {
            format!(", {degrees:.0} degrees of freedom")
        });
        let mut text = format!("{}  ({file})\n", front_end.name);
        text += &labelled([
            ("topology", front_end.topology.word().replace('-', " ")),
            (
                "fingerprint",
                format!("{:08x}", batch.transfer.fingerprint().0),
            ),
            ("read as", readings.understood.clone()),
            ("rows", read(readings.rows, readings.bad_rows)),
            ("meter", stated),
            (
                "converter noise",
                format!(
                    "{:.3} counts rms from {}{degrees}",
                    noise.per_count,
                    noise.source.words()
                ),
            ),
            (
                "shared within a voltage",
                format!(
                    "{:.3} counts: rounding that noise leaves, and nonlinearity as stated",
                    noise.per_level
                ),
            ),
        ]);
        text.push('\n');
        text
    }
}

fn block(module: &ModuleFit) -> String {
    let mut text = format!("{}  {}\n", module.module, module.verdict().word());
    if let Some(fit) = &module.fit {
        text += &labelled(details(module, fit));
    }
    text.push('\n');
    text
}

fn details(module: &ModuleFit, fit: &Fit) -> Vec<(&'static str, String)> {
    let with_u = |value: String, digits: usize, of: fn(&Parameters) -> f64| match &fit.uncertainty {
        Some(uncertainty) => format!("{value}, standard uncertainty {:.digits$}", of(uncertainty)),
        None => format!("{value}, uncertainty not known"),
    };
    let mut rows = vec![
        ("mode", format!("{}: {}", fit.mode.words(), fit.mode_reason)),
        (
            "gain",
            with_u(format!("{:.7}", fit.gain), 7, |of| of.gain.u),
        ),
        (
            "offset",
            with_u(format!("{:+.4} counts", fit.offset), 4, |of| of.offset.u),
        ),
    ];
    rows.extend(intervals(fit));
    rows.extend(fit.guards.iter().map(|guard| {
        let bands = format!(
            "{}: {:.2} mV needed, firmware alarms {:.2} mV before it",
            guard.limit, guard.needs_mv, guard.firmware_mv
        );
        ("guard band", bands)
    }));
    rows.extend([
        (
            "one more point",
            told(fit.next_point, "none helps", |next| {
                format!(
                    "at {:.0} mV: largest becomes {:.3} mV",
                    next.at_mv, next.then_mv
                )
            }),
        ),
        (
            "residuals, counts",
            fit.residuals
                .iter()
                .map(|residual| format!("{:+.2} at {:.0} mV", residual.counts, residual.mv))
                .collect::<Vec<_>>()
                .join(", "),
        ),
    ]);
    if let Some(stored) = &fit.stored {
        rows.push((
            "constants",
            format!(
                "{}; within {:.4} mV of the fit, {} counts swept, 0 wrong",
                crate::words::formulas::constants_formula(&stored.constants),
                stored.distance_mv,
                stored.swept
            ),
        ));
    }
    if module.gets_record()
        && let Some(record) = module.record()
    {
        rows.push(("record", hex_text(record)));
    }
    rows
}

/// The widest guard band of each limit, and what to write where firmware's is narrower.
fn guards(batch: &Batch) -> String {
    let mut text = String::new();
    for (module, guard) in batch.widest_guards() {
        let verdict = if guard.holds() {
            "wide enough".to_owned()
        } else {
            format!(
                "TOO NARROW: write {} = {:.2} in [limits], then check and emit again",
                guard.key,
                guard.to_state_mv()
            )
        };
        let found = format!(
            "{:.2} mV needed by {}, firmware alarms {:.2} mV before it: {verdict}",
            guard.needs_mv, module.module, guard.firmware_mv
        );
        text += &entry(&format!("guard band for {}", guard.limit), &found);
    }
    text
}

/// A line that goes on below its label.
fn entry(label: &str, found: &str) -> String {
    let found = wrapped(found, label.len() + 4, text_width());
    format!("  {label}: {found}\n")
}

/// What is stated with 95 %, or why nothing is.
fn intervals(fit: &Fit) -> Vec<(&'static str, String)> {
    let (Some(uncertainty), Some(reading)) = (&fit.uncertainty, &fit.reading) else {
        let why = fit.no_interval.as_deref().unwrap_or_default();
        return vec![("calibrated reading, 95 %", format!("no interval: {why}"))];
    };
    let degrees = |of: Option<f64>| told(of, "infinite", |degrees| format!("{degrees:.1}"));
    vec![
        ("correlation", format!("{:+.4}", uncertainty.correlation)),
        (
            "degrees of freedom",
            format!(
                "{} rows less values; effective: gain {}, offset {}, reading {}",
                fit.degrees,
                degrees(uncertainty.gain.degrees),
                degrees(uncertainty.offset.degrees),
                degrees(reading.degrees)
            ),
        ),
        (
            "calibrated reading, 95 %",
            format!(
                "+-{:.3} mV at the cell's minimum, {:.3} nominal, {:.3} maximum; largest {:.3} at {:.0} mV",
                reading.at_min,
                reading.at_nominal,
                reading.at_max,
                reading.worst,
                reading.worst_at_mv
            ),
        ),
    ]
}
