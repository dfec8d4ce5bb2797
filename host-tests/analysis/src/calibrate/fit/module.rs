//! One module: line, uncertainty and verdict.

use serde::Serialize;
use tallyvolt::Record;
use tallyvolt_model::rational::float;

use super::allowed::Allowed;
use super::bench::Bench;
use super::chance::Chance;
use super::error::{Error, Standard};
use super::guards::Guard;
use super::judge::Judge;
use super::levels::Level;
use super::line::{Design, Line, Point};
use super::mode::Mode;
use super::mode_choice::choose;
use super::noise;
use super::readings::ModuleReadings;
use super::stored::{Stored, stored};
use super::uncertainty::{Basis, NextPoint, Parameters, Weighed};
use super::verdict::{self, Check, Reason, Residual, SPAN_MIN, Verdict};

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
    /// Why nothing could contradict its fit; none where something could.
    pub unchecked: Option<String>,
    /// Whether it gets a record although it is unchecked.
    #[serde(skip)]
    accepted: bool,
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
    /// Their uncertainties; none where no interval can be given.
    pub uncertainty: Option<Parameters>,
    /// Rows less fitted values; rows at the converter's end are left out.
    pub degrees: usize,
    /// Expanded uncertainty (95 %) of a calibrated reading, in millivolts.
    ///
    /// None where no interval can be given.
    pub reading: Option<ReadingUncertainty>,
    /// Why no interval can be given.
    pub no_interval: Option<String>,
    /// The guard bands it needs, one a voltage limit on the true value; none where no interval can be given.
    pub guards: Vec<Guard>,
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
    /// Suspect with a reason or without a record, unchecked where nothing could contradict the fit, else good.
    pub fn verdict(&self) -> Verdict {
        if !self.reasons.is_empty() || self.record().is_none() {
            Verdict::Suspect
        } else if self.unchecked.is_some() {
            Verdict::Unchecked
        } else {
            Verdict::Good
        }
    }

    /// Checked, with constants to store, and no reason to suspect it.
    pub fn is_good(&self) -> bool {
        self.verdict() == Verdict::Good
    }

    /// Good, or unchecked and accepted as such.
    pub fn gets_record(&self) -> bool {
        match self.verdict() {
            Verdict::Good => true,
            Verdict::Unchecked => self.accepted,
            Verdict::Suspect => false,
        }
    }

    /// The record, suspect or not.
    pub fn record(&self) -> Option<&Record> {
        Some(&self.fit.as_ref()?.stored.as_ref()?.record)
    }
}

/// Why no interval can be given.
const NOISE_UNKNOWN: &str =
    "the noise is not known: read repeats, or state noise_rms_lsb in the front-end file";
const OFFSET_UNKNOWN: &str = "the offset is not fitted and the file states no offset_lsb: read a second voltage, or state it";

/// Fits one module.
pub fn fit(bench: &Bench<'_>, module: &ModuleReadings, levels: &[Level]) -> ModuleFit {
    let at_end = |count: u32| count == 0 || count >= bench.transfer.largest;
    let railed = module
        .readings
        .iter()
        .filter(|reading| at_end(reading.count));
    let railed: Vec<u64> = railed.map(|reading| reading.line).collect();
    let mut reasons = Vec::new();
    for (check, lines, what) in [
        (Check::BadRow, &module.bad_lines, "could not be read"),
        (
            Check::Saturated,
            &railed,
            "at the converter's end, left out",
        ),
    ] {
        if !lines.is_empty() {
            let lines = verdict::at_lines(lines);
            reasons.push(check.found(format!("{lines} {what}")));
        }
    }
    let (low, high) = bench.transfer.span();
    let spread = match (levels.first(), levels.last()) {
        (Some(first), Some(last)) => (last.position - first.position) / (high - low),
        _ => 0.0,
    };
    let choice = choose(bench, levels.len(), spread, &mut reasons);
    let fit = choice.and_then(|(mode, why)| line(bench, module, levels, mode, why, &mut reasons));
    reasons.sort_by_key(|reason| reason.check);
    let rows = levels.iter().map(|level| level.rows.len()).sum();
    let values = match fit.as_ref().map(|fit| fit.mode) {
        Some(Mode::GainAndOffset) => 2,
        _ => 1,
    };
    ModuleFit {
        unchecked: verdict::unchecked(rows, values, bench.noise),
        accepted: bench.settings.accept_unchecked,
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
    let accuracy = &bench.front_end.converter.accuracy;
    let stated_offset = accuracy.offset_lsb.as_ref().map(float);
    // A limit, so / sqrt(3); in counts. For gross mistakes, where it is not stated, as much as noise that is not known.
    let gross = bench.noise.or_gross(transfer);
    let unknown = stated_offset.map_or_else(
        || noise::gross(transfer),
        |limit| limit / 3_f64.sqrt() * transfer.per_sample,
    );
    let no_interval = if !bench.noise.is_known() {
        Some(NOISE_UNKNOWN.to_owned())
    } else if !with_offset && stated_offset.is_none() {
        Some(OFFSET_UNKNOWN.to_owned())
    } else {
        None
    };
    let mut basis = Basis {
        transfer,
        meter: &bench.settings.meter,
        noise: &gross,
        unknown_offset: if with_offset { 0.0 } else { unknown },
        slope: 1.0,
    };
    let judge = Judge {
        chance: Chance::new(
            verdict::tests(module.readings.len(), levels.len()),
            bench.tests,
        ),
        noise: &gross,
        transfer,
        meter: &bench.settings.meter,
    };
    let weighed: Vec<Weighed> = levels.iter().map(|level| basis.weigh(level)).collect();
    let points: Vec<Point> = weighed.iter().map(|level| level.point).collect();
    let design = if with_offset {
        Design::straight(&points)
    } else {
        Design::through_origin(&points)
    }?;
    let line = Line::fit(&points, design);
    if line.slope.is_nan() || line.slope <= 0.0 {
        reasons.extend(judge.non_monotonic(&weighed));
        reasons.push(Check::Gain.found("the counts do not follow the voltage"));
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

    reasons.extend(judge.duplicated(levels));
    reasons.extend(judge.outliers(levels, with_offset, &line, &residuals));
    reasons.extend(judge.non_monotonic(&weighed));
    reasons.extend(judge.scatter(levels));
    reasons.extend(judge.residuals(&residuals));
    let fitted = (gain, offset);
    reasons.extend(beyond_parts(bench, &judge, module, fitted, &uncertainty));

    let (worst_at_mv, worst) = basis.worst(&weighed, &design);
    let [at_min, at_nominal, at_max] = transfer
        .cell_mv
        .map(|mv| basis.reading(&weighed, &design, mv).expanded);
    let (low, high) = transfer.span();
    let stored = stored(bench, gain, offset, reasons);
    // The constants lie a little beside the line, by a known bound: as good as a further uncertainty of 95 %.
    let distance_mv = stored.map_or(0.0, |stored| stored.distance_mv);
    let reading = ReadingUncertainty {
        at_min: at_min.hypot(distance_mv),
        at_nominal: at_nominal.hypot(distance_mv),
        at_max: at_max.hypot(distance_mv),
        worst: worst.expanded.hypot(distance_mv),
        worst_at_mv,
        degrees: worst.degrees,
    };
    let design_of = |more: &[Weighed]| {
        let points: Vec<Point> = more.iter().map(|level| level.point).collect();
        let end = |of: fn(f64, f64) -> f64| points.iter().map(|point| point.x).reduce(of);
        let span = (end(f64::max)? - end(f64::min)?) / (high - low);
        if with_offset || (bench.settings.mode.is_none() && span >= SPAN_MIN) {
            Design::straight(&points)
        } else if bench.settings.mode.is_some() || points.len() == 1 {
            Design::through_origin(&points)
        } else {
            // A second voltage that is too close to the first would make the module suspect.
            None
        }
    };
    let is_known = no_interval.is_none();
    let guards = || {
        bench.guards.of_module(mode, basis.noise.degrees, |mv| {
            basis
                .reading_error(&weighed, &design, mv)
                .and(Error::rectangular(distance_mv.powi(2) / 3.0))
        })
    };
    Some(Fit {
        mode,
        mode_reason,
        gain,
        offset,
        uncertainty: is_known.then_some(uncertainty),
        degrees: residuals
            .iter()
            .map(|level| level.rows)
            .sum::<usize>()
            .saturating_sub(1 + usize::from(with_offset)),
        reading: is_known.then_some(reading),
        no_interval,
        guards: is_known.then(guards).unwrap_or_default(),
        next_point: is_known
            .then(|| basis.next_point(&weighed, worst, design_of))
            .flatten(),
        residuals,
        stored,
    })
}

/// Gain and offset that the parts of the drawing cannot make.
fn beyond_parts(
    bench: &Bench<'_>,
    judge: &Judge<'_>,
    module: &ModuleReadings,
    (gain, offset): (f64, f64),
    uncertainty: &Parameters,
) -> Vec<Reason> {
    let readings = module.readings.iter();
    let temperatures: Vec<f64> = readings.filter_map(|reading| reading.temp_c).collect();
    let temp_c = (!temperatures.is_empty())
        .then(|| temperatures.iter().sum::<f64>() / temperatures.len() as f64);
    let allowed = Allowed::new(bench.front_end, temp_c);
    let outside = |value: f64, low: f64, high: f64, of: Standard| {
        let beyond = (low - value).max(value - high);
        judge.chance.is_over(beyond / of.u, of.degrees)
    };
    let mut reasons = Vec::new();
    if let Some((low, high)) = allowed.gain
        && outside(gain, low, high, uncertainty.gain)
    {
        let found = format!("gain {gain:.5}, the parts' tolerances allow {low:.5} to {high:.5}");
        reasons.push(Check::Gain.found(found));
    }
    if let Some(limit) = allowed.offset
        && outside(offset, -limit, limit, uncertainty.offset)
    {
        let found =
            format!("offset {offset:+.2} counts, the converter's data sheet allows {limit:.2}");
        reasons.push(Check::Offset.found(found));
    }
    reasons
}
