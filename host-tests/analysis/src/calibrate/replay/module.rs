//! What is kept of one module's log: sums and stretches, never its rows.

use serde::Serialize;
use tallyvolt_model::outcome::{FaultName, Outcome};

use super::log::Entry;
use crate::calibrate::fit::transfer::Transfer;
use crate::describe::firmware::Conversion;

/// Intervals that tell what a usual one is.
const USUAL_OF: usize = 9;
/// An interval this many times the usual is a gap.
const GAP_TIMES: f64 = 3.0;
/// While the meter moves by more than this many counts, a count has to move too.
const STILL_COUNTS: f64 = 3.0;

/// A number of stretches, and the longest of them.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct Stretches {
    /// How many.
    pub number: u64,
    /// Rows of the longest.
    pub longest_rows: u64,
    /// Seconds of the longest.
    pub longest_s: f64,
    /// Line where the longest begins.
    pub longest_line: u64,
}

impl Stretches {
    fn add(&mut self, rows: u64, seconds: f64, line: u64) {
        self.number += 1;
        if self.number == 1 || (rows, seconds) > (self.longest_rows, self.longest_s) {
            (self.longest_rows, self.longest_s, self.longest_line) = (rows, seconds, line);
        }
    }
}

/// Differences to the meter, firmware's voltage less the meter's, in millivolts.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct Errors {
    /// Rows with a meter reading and a voltage.
    pub rows: u64,
    /// Mean.
    pub bias_mv: f64,
    /// Sum of squares about the mean.
    #[serde(skip)]
    squares: f64,
    /// The one furthest from 0.
    pub worst_mv: f64,
    /// Its line.
    pub worst_line: u64,
    /// Rows beyond the limit.
    pub beyond_limit: u64,
}

impl Errors {
    fn add(&mut self, error: f64, line: u64, limit: Option<f64>) {
        self.rows += 1;
        // Welford: no cancellation, however long the log.
        let before = error - self.bias_mv;
        self.bias_mv += before / self.rows as f64;
        self.squares += before * (error - self.bias_mv);
        if self.rows == 1 || error.abs() > self.worst_mv.abs() {
            (self.worst_mv, self.worst_line) = (error, line);
        }
        self.beyond_limit += u64::from(limit.is_some_and(|limit| error.abs() > limit));
    }

    /// Standard deviation about the bias.
    pub fn spread_mv(&self) -> f64 {
        if self.rows > 1 {
            (self.squares / (self.rows - 1) as f64).sqrt()
        } else {
            0.0
        }
    }

    /// Root mean square about zero.
    pub fn rms_mv(&self) -> f64 {
        if self.rows == 0 {
            return 0.0;
        }
        (self.squares / self.rows as f64 + self.bias_mv * self.bias_mv).sqrt()
    }
}

/// Rows with the same count.
#[derive(Debug, Clone, Copy)]
struct Run {
    count: u32,
    rows: u64,
    line: u64,
    from_s: f64,
    to_s: f64,
    meter: Option<(f64, f64)>,
}

/// What is looked for.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Watch {
    /// Rows with one count that make a stuck stretch.
    pub stuck_rows: u64,
    /// Seconds that make a gap; none for three times the module's usual interval.
    pub gap_s: Option<f64>,
}

/// One module's log so far.
#[derive(Debug, Clone)]
pub struct ModuleLog {
    /// Rows.
    pub rows: u64,
    /// Rows whose count is no voltage.
    pub faults: u64,
    /// Against the meter.
    pub errors: Errors,
    /// Stretches with one count.
    pub stuck: Stretches,
    /// Stretches at zero or at the rail.
    pub railed: Stretches,
    /// Gaps; their rows are 0.
    pub gaps: Stretches,
    /// Rows earlier than the one before them.
    pub time_back: u64,
    conversion: Conversion,
    limit_mv: Option<f64>,
    last_s: Option<f64>,
    run: Option<Run>,
    usual: Vec<(f64, u64)>,
    gap_from_s: Option<f64>,
}

impl ModuleLog {
    /// An empty log of a module with its conversion and, where there is one, the limit of its readings.
    pub fn new(conversion: Conversion, limit_mv: Option<f64>, watch: &Watch) -> Self {
        Self {
            rows: 0,
            faults: 0,
            errors: Errors::default(),
            stuck: Stretches::default(),
            railed: Stretches::default(),
            gaps: Stretches::default(),
            time_back: 0,
            conversion,
            limit_mv,
            last_s: None,
            run: None,
            usual: Vec::new(),
            gap_from_s: watch.gap_s,
        }
    }

    /// Takes a row.
    pub fn push(&mut self, entry: &Entry<'_>, transfer: &Transfer, watch: &Watch) {
        self.rows += 1;
        let reading_mv = self.reading_mv(entry.count, transfer);
        self.faults += u64::from(reading_mv.is_none());
        if let (Some(reading_mv), Some(meter_mv)) = (reading_mv, entry.meter_mv) {
            let error = reading_mv - meter_mv;
            self.errors.add(error, entry.line, self.limit_mv);
        }
        self.interval(entry);
        match &mut self.run {
            Some(run) if run.count == entry.count => {
                run.rows += 1;
                run.to_s = entry.time_s;
                run.meter = match (run.meter, entry.meter_mv) {
                    (Some((low, high)), Some(mv)) => Some((low.min(mv), high.max(mv))),
                    (known, mv) => known.or(mv.map(|mv| (mv, mv))),
                };
            }
            _ => {
                self.end_run(transfer, watch);
                self.run = Some(Run {
                    count: entry.count,
                    rows: 1,
                    line: entry.line,
                    from_s: entry.time_s,
                    to_s: entry.time_s,
                    meter: entry.meter_mv.map(|mv| (mv, mv)),
                });
            }
        }
    }

    /// What its firmware answers to a count, in millivolts; none where the count is no voltage.
    pub fn reading_mv(&self, count: u32, transfer: &Transfer) -> Option<f64> {
        let units = self.conversion.outcome(count).units();
        units.map(|units| f64::from(units) * transfer.unit_mv)
    }

    /// Counts what is still open; call once after the last row.
    pub fn finish(&mut self, transfer: &Transfer, watch: &Watch) {
        self.end_run(transfer, watch);
        if self.gap_from_s.is_none() {
            self.settle_usual();
        }
    }

    /// The interval that makes a gap, in seconds; none before a usual one is known.
    pub fn gap_s(&self) -> Option<f64> {
        self.gap_from_s
    }

    fn interval(&mut self, entry: &Entry<'_>) {
        let Some(last_s) = self.last_s.replace(entry.time_s) else {
            return;
        };
        let interval = entry.time_s - last_s;
        if interval < 0.0 {
            self.time_back += 1;
        } else if self.gap_from_s.is_some() {
            self.gap(interval, entry.line);
        } else {
            self.usual.push((interval, entry.line));
            if self.usual.len() >= USUAL_OF {
                self.settle_usual();
            }
        }
    }

    /// The median of the first intervals is the usual one; gaps among them are counted now.
    fn settle_usual(&mut self) {
        let mut first = std::mem::take(&mut self.usual);
        let in_order = first.clone();
        first.sort_by(|one, other| one.0.total_cmp(&other.0));
        if let Some((median, _)) = first.get(first.len() / 2) {
            self.gap_from_s = Some(median * GAP_TIMES);
            for (interval, line) in in_order {
                self.gap(interval, line);
            }
        }
    }

    fn gap(&mut self, interval: f64, line: u64) {
        if self.gap_from_s.is_some_and(|gap| interval > gap) {
            self.gaps.add(0, interval, line);
        }
    }

    fn end_run(&mut self, transfer: &Transfer, watch: &Watch) {
        let Some(run) = self.run.take() else { return };
        let seconds = run.to_s - run.from_s;
        match self.conversion.outcome(run.count) {
            Outcome::Fault(FaultName::ZeroCount | FaultName::Rail) => {
                self.railed.add(run.rows, seconds, run.line);
            }
            _ if run.rows < watch.stuck_rows => {}
            _ => {
                // A count may stand still while the meter does.
                let moved = run.meter.is_none_or(|(low, high)| {
                    (high - low) * transfer.counts_per_mv(high).abs()
                        > STILL_COUNTS * transfer.per_sample
                });
                if moved {
                    self.stuck.add(run.rows, seconds, run.line);
                }
            }
        }
    }
}
