//! One module: line, uncertainty and verdict.

use num_traits::ToPrimitive;
use serde::Serialize;
use tallyvolt::Record;

use super::allowed::Allowed;
use super::levels::Level;
use super::line::{Design, Line, Point};
use super::meter::Meter;
use super::mode::{Mode, choose};
use super::noise::Noise;
use super::readings::ModuleReadings;
use super::stored::{Stored, stored};
use super::transfer::Transfer;
use super::uncertainty::{Basis, NextPoint, Parameters, Standard, Weighed};
use super::verdict::{self, Check, Reason, Residual, SPAN_MIN};
use crate::front_end::FrontEnd;

/// What all modules of a batch share.
#[derive(Debug, Clone, Copy)]
pub struct Bench<'a> {
    /// The front end.
    pub front_end: &'a FrontEnd,
    /// Its nominal transfer.
    pub transfer: &'a Transfer,
    /// The meter.
    pub meter: &'a Meter,
    /// The noise of the batch.
    pub noise: &'a Noise,
    /// A mode that was asked for; none to let the data decide.
    pub mode: Option<Mode>,
    /// Sequence number of the records.
    pub sequence: u16,
}

/// The result of one module.
#[derive(Debug, Clone, Serialize)]
pub struct ModuleFit {
    /// Its name.
    pub module: String,
    /// Good rows.
    pub rows: usize,
    /// Different voltages among them.
    pub voltages: usize,
    /// Every reason to suspect it; empty for a good module.
    pub reasons: Vec<Reason>,
    /// The fit; none where the rows do not allow one.
    pub fit: Option<Fit>,
}

/// A fit.
#[derive(Debug, Clone, Serialize)]
pub struct Fit {
    /// What was fitted.
    pub mode: Mode,
    /// Why.
    pub mode_reason: String,
    /// Factor on the voltage.
    pub gain: f64,
    /// Single-sample counts, subtracted first.
    pub offset: f64,
    /// Their uncertainties.
    pub uncertainty: Parameters,
    /// Rows less fitted values.
    pub degrees: usize,
    /// Expanded uncertainty (95 %) of a calibrated reading, in millivolts.
    pub reading: ReadingUncertainty,
    /// What one more point would buy.
    pub next_point: Option<NextPoint>,
    /// Levels about the line.
    pub residuals: Vec<Residual>,
    /// The constants, where there are some.
    pub stored: Option<Stored>,
}

/// Expanded uncertainty (95 %) of a calibrated reading, in millivolts.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ReadingUncertainty {
    /// At the emptiest cell.
    pub at_min: f64,
    /// At the usual voltage.
    pub at_nominal: f64,
    /// At the fullest cell.
    pub at_max: f64,
    /// The largest in the cell's range.
    pub worst: f64,
    /// Where that is.
    pub worst_at_mv: f64,
    /// Its effective degrees of freedom; none is infinite.
    pub degrees: Option<f64>,
}

impl ModuleFit {
    /// No reason to suspect it, and constants to store.
    #[must_use]
    pub fn is_good(&self) -> bool {
        self.reasons.is_empty() && self.record().is_some()
    }

    /// The record, suspect or not.
    #[must_use]
    pub fn record(&self) -> Option<&Record> {
        Some(&self.fit.as_ref()?.stored.as_ref()?.record)
    }
}

/// Fits one module.
#[must_use]
pub fn fit(bench: &Bench<'_>, module: &ModuleReadings, levels: &[Level]) -> ModuleFit {
    let mut reasons = Vec::new();
    if !module.bad_lines.is_empty() {
        let found = format!(
            "{} could not be read",
            verdict::at_lines("line", &module.bad_lines)
        );
        reasons.push(Reason::new(Check::BadRow, found));
    }
    let railed: Vec<u64> = module
        .readings
        .iter()
        .filter(|reading| reading.count == 0 || reading.count >= bench.transfer.largest)
        .map(|reading| reading.line)
        .collect();
    if !railed.is_empty() {
        let found = format!(
            "{} at the converter's end, left out",
            verdict::at_lines("line", &railed)
        );
        reasons.push(Reason::new(Check::Saturated, found));
    }
    let (low, high) = bench.transfer.span();
    let spread = match (levels.first(), levels.last()) {
        (Some(first), Some(last)) => (last.position - first.position) / (high - low),
        _ => 0.0,
    };
    let choice = choose(bench, levels.len(), spread, &mut reasons);
    let fit = choice.and_then(|(mode, why)| line(bench, module, levels, mode, why, &mut reasons));
    reasons.sort_by_key(|reason| reason.check);
    ModuleFit {
        module: module.name.clone(),
        rows: module.readings.len(),
        voltages: levels.len(),
        reasons,
        fit,
    }
}

fn line(
    bench: &Bench<'_>,
    module: &ModuleReadings,
    levels: &[Level],
    mode: Mode,
    mode_reason: String,
    reasons: &mut Vec<Reason>,
) -> Option<Fit> {
    let transfer = bench.transfer;
    let with_offset = mode == Mode::GainAndOffset;
    let stated_offset = bench
        .front_end
        .converter
        .accuracy
        .offset_lsb
        .as_ref()
        .and_then(ToPrimitive::to_f64);
    // A limit, so / sqrt(3); in counts.
    let unknown = stated_offset.unwrap_or(0.0) / 3_f64.sqrt() * transfer.per_sample;
    let mode_reason = match stated_offset {
        None if !with_offset => format!(
            "{mode_reason}; the file states no offset_lsb, so the offset is taken as exactly 0"
        ),
        _ => mode_reason,
    };
    let mut basis = Basis {
        transfer,
        meter: bench.meter,
        noise: bench.noise,
        unknown_offset: if with_offset { 0.0 } else { unknown },
        slope: 1.0,
    };
    let weighed: Vec<Weighed> = levels
        .iter()
        .map(|level| basis.weigh(level.position, level.place, level.repeats()))
        .collect();
    let points: Vec<Point> = weighed.iter().map(|level| level.point).collect();
    let design = if with_offset {
        Design::straight(&points)
    } else {
        Design::through_origin(&points)
    }?;
    let line = Line::fit(&points, design);
    if line.slope.is_nan() || line.slope <= 0.0 {
        reasons.extend(verdict::non_monotonic(levels, bench.noise.per_count));
        reasons.push(Reason::new(
            Check::Gain,
            "the counts do not follow the voltage".to_owned(),
        ));
        return None;
    }
    basis.slope = line.slope;
    let gain = transfer.gain(line.slope);
    let offset = line.intercept / transfer.per_sample;
    let uncertainty = basis.parameters(&weighed, &design);
    let residuals: Vec<Residual> = weighed
        .iter()
        .zip(levels)
        .map(|(level, gathered)| Residual {
            mv: transfer.voltage_mv(level.point.x),
            rows: gathered.rows.len(),
            counts: level.point.y - line.at(level.point.x),
            u_counts: basis.residual(&weighed, &design, level),
        })
        .collect();

    let noise = bench.noise.per_count;
    let one_reading = noise.hypot(bench.noise.per_level);
    reasons.extend(verdict::duplicated(levels, noise));
    reasons.extend(verdict::outliers(levels, with_offset, one_reading));
    reasons.extend(verdict::non_monotonic(levels, noise));
    reasons.extend(verdict::scatter(levels, noise));
    reasons.extend(verdict::residuals(&residuals));
    reasons.extend(beyond_parts(bench, module, gain, offset, &uncertainty));

    let (worst_at_mv, worst) = basis.worst(&weighed, &design);
    let [at_min, at_nominal, at_max] = transfer
        .cell_mv
        .map(|mv| basis.reading(&weighed, &design, mv).expanded());
    let (low, high) = transfer.span();
    let next_point = basis.next_point(&weighed, worst, |more| {
        let points: Vec<Point> = more.iter().map(|level| level.point).collect();
        let end = |of: fn(f64, f64) -> f64| points.iter().map(|point| point.x).reduce(of);
        let span = (end(f64::max)? - end(f64::min)?) / (high - low);
        if with_offset || (bench.mode.is_none() && span >= SPAN_MIN) {
            Some((Design::straight(&points)?, 0.0))
        } else if bench.mode.is_some() || points.len() == 1 {
            Some((Design::through_origin(&points)?, unknown))
        } else {
            // A second voltage that is too close to the first would make the module suspect.
            None
        }
    });
    Some(Fit {
        mode,
        mode_reason,
        gain,
        offset,
        uncertainty,
        degrees: module
            .readings
            .len()
            .saturating_sub(if with_offset { 2 } else { 1 }),
        reading: ReadingUncertainty {
            at_min,
            at_nominal,
            at_max,
            worst: worst.expanded(),
            worst_at_mv,
            degrees: worst.degrees,
        },
        next_point,
        residuals,
        stored: stored(bench, gain, offset, reasons),
    })
}

/// Gain and offset that the parts of the drawing cannot make.
fn beyond_parts(
    bench: &Bench<'_>,
    module: &ModuleReadings,
    gain: f64,
    offset: f64,
    uncertainty: &Parameters,
) -> Vec<Reason> {
    let temperatures: Vec<f64> = module
        .readings
        .iter()
        .filter_map(|reading| reading.temp_c)
        .collect();
    let temp_c = (!temperatures.is_empty())
        .then(|| temperatures.iter().sum::<f64>() / temperatures.len() as f64);
    let allowed = Allowed::new(bench.front_end, temp_c);
    let outside = |value: f64, low: f64, high: f64, of: Standard| {
        let margin = verdict::BEYOND_CHANCE_U * of.u;
        value < low - margin || value > high + margin
    };
    let mut reasons = Vec::new();
    if let Some((low, high)) = allowed.gain
        && outside(gain, low, high, uncertainty.gain)
    {
        let found = format!("gain {gain:.5}, the parts' tolerances allow {low:.5} to {high:.5}");
        reasons.push(Reason::new(Check::Gain, found));
    }
    if let Some(limit) = allowed.offset
        && outside(offset, -limit, limit, uncertainty.offset)
    {
        let found =
            format!("offset {offset:+.2} counts, the converter's data sheet allows {limit:.2}");
        reasons.push(Reason::new(Check::Offset, found));
    }
    reasons
}
