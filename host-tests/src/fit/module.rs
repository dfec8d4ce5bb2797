//! One module: mode, line, uncertainty, verdict, and the words that are stored.

use num_traits::ToPrimitive;
use serde::Serialize;
use tallyvolt::fixed::types::{I24F8, U8F24};
use tallyvolt::{Calibration, Fingerprint, Record};

use super::allowed::Allowed;
use super::levels::Level;
use super::line::{Design, Line, Point};
use super::meter::Meter;
use super::noise::Noise;
use super::readings::ModuleReadings;
use super::transfer::Transfer;
use super::uncertainty::{Basis, NextPoint, Parameters, Standard, Weighed};
use super::verdict::{self, Check, Reason, Residual, SPAN_MIN};
use crate::front_end::FrontEnd;
use crate::outcome::Outcome;

/// Steps of the stored gain and offset in one.
const GAIN_STEPS: f64 = 16_777_216.0;
const OFFSET_STEPS: f64 = 256.0;
/// Voltages at which the firmware's own conversion is compared with the fit.
const VERIFIED: u32 = 33;
/// Rounding of output and words together, in output units, that the firmware may be off the fit.
const STORED_LIMIT_UNITS: f64 = 0.6;

/// What is fitted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Mode {
    /// Gain; the offset is taken as 0.
    GainOnly,
    /// Gain and offset.
    GainAndOffset,
}

impl Mode {
    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::GainOnly => "gain only",
            Self::GainAndOffset => "gain and offset",
        }
    }
}

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
    pub sequence: u32,
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
    /// The words, where they can be stored.
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

/// Gain and offset as firmware gets them.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct Stored {
    /// Steps of 2^-24.
    pub gain_word: u32,
    /// Steps of 1/256 count.
    pub offset_word: i32,
    /// Largest distance between the firmware's own conversion and the fit, over the cell's range, in millivolts.
    pub rounding_mv: f64,
    /// The record.
    #[serde(skip)]
    pub record: Record,
}

impl ModuleFit {
    /// No reason to suspect it, and words to store.
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

/// The mode and why; none where nothing can be fitted.
fn choose(
    bench: &Bench<'_>,
    voltages: usize,
    spread: f64,
    reasons: &mut Vec<Reason>,
) -> Option<(Mode, String)> {
    let percent = spread * 100.0;
    if voltages == 0 {
        reasons.push(Reason::new(
            Check::TooClose,
            "no reading that can be used".to_owned(),
        ));
        return None;
    }
    if voltages > 1 && spread < SPAN_MIN && bench.mode != Some(Mode::GainOnly) {
        let found = format!(
            "{voltages} voltages span {percent:.1} % of the cell's range, an offset needs {:.0} %",
            SPAN_MIN * 100.0
        );
        reasons.push(Reason::new(Check::TooClose, found));
    }
    match bench.mode {
        Some(Mode::GainAndOffset) if voltages < 2 => {
            let found =
                "one voltage gives no offset: read a second, or fit the gain only".to_owned();
            reasons.push(Reason::new(Check::TooClose, found));
            None
        }
        Some(mode) => Some((mode, "as asked".to_owned())),
        None if voltages == 1 => Some((Mode::GainOnly, "one voltage gives one value".to_owned())),
        None if spread < SPAN_MIN => Some((
            Mode::GainOnly,
            format!("the voltages span only {percent:.1} % of the cell's range"),
        )),
        None => Some((
            Mode::GainAndOffset,
            format!("{voltages} voltages span {percent:.1} % of the cell's range"),
        )),
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
        stored: stored(bench, &line, gain, offset, reasons),
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

/// Rounds gain and offset to their words and asks the firmware's own conversion what it makes of them.
fn stored(
    bench: &Bench<'_>,
    line: &Line,
    gain: f64,
    offset: f64,
    reasons: &mut Vec<Reason>,
) -> Option<Stored> {
    // Saturating, so a wild value is refused by the bounds, not wrapped.
    let gain_word = (gain * GAIN_STEPS).round() as u32;
    let offset_word = (offset * OFFSET_STEPS).round() as i32;
    let transfer = bench.transfer;
    let proven = Calibration::new(U8F24::from_bits(gain_word), I24F8::from_bits(offset_word))
        .and_then(|calibration| Ok((calibration, transfer.conversion(calibration)?)));
    let (calibration, conversion) = match proven {
        Ok(proven) => proven,
        Err(error) => {
            reasons.push(Reason::new(
                Check::Stored,
                format!("{error}: {}", error.mend()),
            ));
            return None;
        }
    };
    let mut rounding_mv: f64 = 0.0;
    for mv in transfer.grid(VERIFIED) {
        let place = line.at(transfer.position(mv)) - transfer.place(0);
        let count = place.round() as u32;
        let fitted = transfer.voltage_mv((transfer.place(count) - line.intercept) / line.slope);
        match conversion.outcome(count) {
            Outcome::Units(units) => {
                rounding_mv = rounding_mv.max((f64::from(units) * transfer.unit_mv - fitted).abs());
            }
            Outcome::Fault(fault) => {
                let found = format!(
                    "with these words firmware reads {mv:.0} mV (count {count}) as {fault}"
                );
                reasons.push(Reason::new(Check::Stored, found));
                return None;
            }
        }
    }
    if rounding_mv > STORED_LIMIT_UNITS * transfer.unit_mv {
        let found = format!("firmware is off the fit by {rounding_mv:.3} mV");
        reasons.push(Reason::new(Check::Stored, found));
    }
    let front_end: Fingerprint = transfer.fingerprint();
    let record = Record {
        front_end,
        calibration,
        sequence: bench.sequence,
    };
    Some(Stored {
        gain_word,
        offset_word,
        rounding_mv,
        record,
    })
}
