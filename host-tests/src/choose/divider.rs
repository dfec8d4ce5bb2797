//! Resistor pairs for a divided input: every pair of a preferred series, held against the file's constraints, ranked.

use num_integer::Integer;
use num_rational::BigRational;
use rayon::prelude::*;
use serde::Serialize;
use tallyvolt_model::Model;
use tallyvolt_model::calibration::CalibrationModel;
use tallyvolt_model::front_end::{Divider, FrontEnd, Topology};
use tallyvolt_model::rational::{float, whole};
use thiserror::Error;

use super::findings::finding::Finding;
use crate::choose::budget::dynamic::{source_max_ohms, source_ohms, time_constants};
use crate::choose::budget::headroom::{headroom, must_read};
use crate::choose::budget::terms::climates;
use crate::choose::findings::{broken, findings, meets};
use crate::describe::eseries::Series;

/// Pairs that are shown.
const SHOWN: usize = 10;
/// Pairs that are held against everything the file asks for until ten of them meet it.
const TRIED: usize = 200;

/// What makes a pair better.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, clap::ValueEnum)]
#[serde(rename_all = "kebab-case")]
pub enum Objective {
    /// The finest step; then the least drain.
    Step,
    /// The least drain; then the finest step.
    Drain,
    /// The quickest settling, lowest source resistance; then the finest step.
    Settling,
}

/// What every pair must meet.
#[derive(Debug, Clone, Serialize)]
pub struct Constraints {
    /// Highest voltage that must be read, in millivolts: the fullest cell, the upper limit, or the upper calibration voltage.
    pub must_read_mv: f64,
    /// How far above that every board must still read.
    pub headroom_mv: f64,
    /// Most current from the fullest cell in microamperes; none where the file states none.
    pub drain_max_ua: Option<f64>,
    /// Highest source resistance in ohms, by settling and by the data sheet; none where the file says nothing about either.
    pub source_max_ohms: Option<f64>,
}

/// One pair.
#[derive(Debug, Clone, Serialize)]
pub struct Pair {
    /// From the cell to the pin.
    pub top_ohms: u32,
    /// From the pin to ground.
    pub bottom_ohms: u32,
    /// (top + bottom) / bottom in lowest terms.
    pub ratio: String,
    /// Highest voltage that is read with nominal parts.
    pub reads_to_mv: f64,
    /// The same on every board within its limits.
    pub surely_to_mv: f64,
    /// From what must be read up to `surely_to_mv`.
    pub headroom_mv: f64,
    /// Millivolts a count.
    pub step_mv: f64,
    /// Current from the fullest cell.
    pub drain_ua: f64,
    /// Both resistors in parallel.
    pub source_ohms: f64,
    /// Time to settle to half a step; none where the file states no sampling capacitance.
    pub settling_us: Option<f64>,
    /// What else the file asks for and a front end with this pair does not meet.
    pub not_met: Vec<String>,
    /// Why it stands where it stands.
    pub why: String,
}

/// The result of a search.
#[derive(Debug, Clone, Serialize)]
pub struct Found {
    /// The front end's name.
    pub name: String,
    /// The series.
    pub series: String,
    /// What was sought.
    pub objective: Objective,
    /// What had to be met.
    pub constraints: Constraints,
    /// Pairs looked at.
    pub pairs: usize,
    /// Pairs that meet everything.
    pub fitting: usize,
    /// The best of them, one for each ratio.
    pub best: Vec<Pair>,
    /// What the file asks for, with the divider that stands in it.
    pub findings: Vec<Finding>,
}

impl Found {
    /// Whether a front end with the best pair meets everything that the file asks for.
    #[must_use]
    pub fn meets(&self) -> bool {
        self.best
            .first()
            .is_some_and(|pair| pair.not_met.is_empty())
    }
}

/// Why there is no search.
#[derive(Debug, Error)]
pub enum SearchError {
    /// No divider in the topology.
    #[error("{name} has a supply reference: there is no divider to choose")]
    NoDivider {
        /// The front end.
        name: String,
    },
}

/// Searches a series for a front end's range.
///
/// # Errors
/// [`SearchError`].
pub fn search(
    front_end: &FrontEnd,
    series: Series,
    objective: Objective,
) -> Result<Found, SearchError> {
    let Topology::DividedInput(divider) = &front_end.topology else {
        return Err(SearchError::NoDivider {
            name: front_end.name.clone(),
        });
    };
    let constraints = constraints(front_end, divider);
    let bench = Bench::new(front_end, divider, &constraints);
    let ohms = series.ohms();
    let mut fitting: Vec<Candidate> = ohms
        .par_iter()
        .flat_map_iter(|bottom| {
            ohms.iter()
                .filter_map(|top| bench.fits(*top, *bottom))
                .collect::<Vec<_>>()
        })
        .collect();
    fitting.par_sort_unstable_by(|one, other| one.cmp(other, objective));
    let best = bench.best(&fitting);
    let first = best.first().copied();
    let best = best
        .iter()
        .map(|candidate| bench.pair(candidate, &first.unwrap_or(*candidate), objective))
        .collect();
    Ok(Found {
        name: front_end.name.clone(),
        series: series.to_string(),
        objective,
        constraints,
        pairs: ohms.len() * ohms.len(),
        fitting: fitting.len(),
        best,
        findings: findings(front_end),
    })
}

fn constraints(front_end: &FrontEnd, divider: &Divider) -> Constraints {
    let (_, (must_read_mv, _)) = must_read(front_end);
    let sampling = &front_end.converter.sampling;
    let by_settling = match (
        &divider.filter_nf,
        &sampling.picofarads,
        &sampling.nanoseconds,
    ) {
        (None, Some(picofarads), Some(nanoseconds)) => Some(source_max_ohms(
            float(nanoseconds),
            float(picofarads),
            sampling.switch_ohms.as_ref().map_or(0.0, float),
            (front_end.converter.bits, 1),
        )),
        _ => None,
    };
    // A filter capacitor takes the place of a low source resistance.
    let stated = sampling.source_max_ohms.as_ref().map(float);
    let stated = stated.filter(|_| divider.filter_nf.is_none());
    Constraints {
        must_read_mv,
        headroom_mv: f64::from(front_end.asks.headroom_uv) / 1000.0,
        drain_max_ua: divider.drain_max_ua.as_ref().map(float),
        source_max_ohms: match (by_settling, stated) {
            (Some(one), Some(other)) => Some(one.min(other)),
            (one, other) => one.or(other),
        },
    }
}

#[derive(Debug, Clone, Copy)]
struct Candidate {
    top: u32,
    bottom: u32,
    /// (top + bottom) / bottom in lowest terms.
    ratio: (u32, u32),
}

impl Candidate {
    fn sum(&self) -> u64 {
        u64::from(self.top) + u64::from(self.bottom)
    }

    fn cmp(&self, other: &Self, objective: Objective) -> std::cmp::Ordering {
        // Exact comparisons of fractions by cross-multiplication: at most 24 bits a factor.
        let ratio = |c: &Self| (u64::from(c.ratio.0), u64::from(c.ratio.1));
        let ((a, b), (c, d)) = (ratio(self), ratio(other));
        let finest = (a * d).cmp(&(c * b));
        let thriftiest = other.sum().cmp(&self.sum());
        match objective {
            Objective::Step => finest.then(thriftiest),
            Objective::Drain => thriftiest.then(finest),
            Objective::Settling => {
                let source = |c: &Self| {
                    (
                        u128::from(c.top) * u128::from(c.bottom),
                        u128::from(c.sum()),
                    )
                };
                let ((p, q), (r, s)) = (source(self), source(other));
                (p * s).cmp(&(r * q)).then(finest)
            }
        }
    }
}

struct Bench<'f> {
    front_end: &'f FrontEnd,
    constraints: &'f Constraints,
    /// Voltage of the last count below the rail, in millivolts at the pin.
    pin_mv: f64,
    /// Lowest and highest voltage at the pin that every board reads, in millivolts.
    surely_mv: (f64, f64),
    /// Lowest voltage that must be read, less the headroom, and highest, with it.
    must_mv: (f64, f64),
    /// How far each resistor may be off, as a part.
    resistor: f64,
    /// Whether both are off by the same part.
    together: bool,
    /// Millivolts for each ohm of the top resistor.
    leakage: f64,
    step_part: f64,
    constants: f64,
}

impl<'f> Bench<'f> {
    fn new(front_end: &'f FrontEnd, divider: &Divider, constraints: &'f Constraints) -> Self {
        let mut bare = front_end.clone();
        // Wide enough for any pin; what the output's own unit allows is a finding about the pair.
        bare.unit_uv = 1000;
        // A ratio of 2 keeps the model exact; it is divided out again.
        bare.topology = Topology::DividedInput(Divider::nominal(whole(1), whole(1)));
        bare.converter.sampling.leakage_na = None;
        // The nominal cell stands in the middle of what the bare pin reads, wherever that is.
        let middle_uv = front_end.reference.microvolts;
        bare.cell.nominal_uv = middle_uv;
        let model = Model::new(&bare, CalibrationModel::identity());
        let last = model.largest_count().saturating_sub(1);
        let pin_uv = model.voltage_uv(last).unwrap_or_else(|| whole(0)) / whole(2);
        let pin = headroom(&bare);
        let surely_mv = pin.map_or((f64::INFINITY, f64::NEG_INFINITY), |pin| {
            (pin.low.surely_mv / 2.0, pin.high.surely_mv / 2.0)
        });
        let ((low, _), (high, _)) = must_read(front_end);
        let or_zero = |ppm: &Option<BigRational>| ppm.as_ref().map_or(0.0, float);
        let kelvins = climates(front_end).uncalibrated_range.resistor_k.abs();
        Self {
            front_end,
            constraints,
            pin_mv: float(&(pin_uv / whole(1000))),
            surely_mv,
            must_mv: (
                low - constraints.headroom_mv,
                high + constraints.headroom_mv,
            ),
            resistor: 1e-6
                * (or_zero(&divider.tolerance.ppm)
                    + or_zero(&divider.tolerance.ppm_per_k) * kelvins),
            together: or_zero(&divider.correlation) >= 1.0,
            // nA * ohm = 1e-6 mV.
            leakage: 1e-6 * or_zero(&front_end.converter.sampling.leakage_na),
            step_part: float(&(model.step_uv(&whole(0)) / whole(2000))),
            constants: time_constants(front_end.converter.bits, 1),
        }
    }

    /// Lowest and highest voltage that every board with this pair reads: that of the pin, through the resistors in every
    /// corner of their limits, with the leakage against it.
    fn surely(&self, top: u32, bottom: u32) -> (f64, f64) {
        let (low, high) = self.surely_mv;
        let mut ends = (f64::NEG_INFINITY, f64::INFINITY);
        for top_off in [-self.resistor, self.resistor] {
            for bottom_off in [-self.resistor, self.resistor] {
                if self.together && top_off != bottom_off {
                    continue;
                }
                let top = f64::from(top) * (1.0 + top_off);
                let multiple = 1.0 + top / (f64::from(bottom) * (1.0 + bottom_off));
                let leaked = self.leakage * top;
                ends.0 = ends.0.max(low * multiple + leaked);
                ends.1 = ends.1.min(high * multiple - leaked);
            }
        }
        ends
    }

    fn fits(&self, top: u32, bottom: u32) -> Option<Candidate> {
        let (low, high) = self.surely(top, bottom);
        let range = low <= self.must_mv.0 && high >= self.must_mv.1;
        let drain = self
            .constraints
            .drain_max_ua
            .is_none_or(|most| self.drain_ua(top, bottom) <= most);
        let settles = self
            .constraints
            .source_max_ohms
            .is_none_or(|most| source_ohms(f64::from(top), f64::from(bottom)) <= most);
        // The crate's own limit on what a sum of resistances may be keeps the fraction in 32 bits.
        (range && drain && settles).then(|| {
            let sum = top + bottom;
            let common = sum.gcd(&bottom);
            Candidate {
                top,
                bottom,
                ratio: (sum / common, bottom / common),
            }
        })
    }

    /// The first pairs that meet everything that the file asks for, one for each ratio. Where none is found, the first pairs
    /// as they stand; each says what it does not meet.
    ///
    /// What a pair meets is costly to find out, so the first that does is searched by doubling and halving the place.
    fn best(&self, ranked: &[Candidate]) -> Vec<Candidate> {
        let meets = |candidate: &Candidate| {
            let built = self.built(candidate.top, candidate.bottom);
            meets(&findings(&built))
        };
        let at = |place: usize| ranked.get(place).is_some_and(meets);
        let (mut fails, mut place) = (0, 0);
        while place < ranked.len() && !at(place) {
            fails = place + 1;
            place = 2 * place + 1;
        }
        let found = place < ranked.len();
        while found && fails < place {
            let middle = fails + (place - fails) / 2;
            if at(middle) {
                place = middle;
            } else {
                fails = middle + 1;
            }
        }
        let from = if found { place } else { 0 };
        let mut best: Vec<Candidate> = Vec::new();
        let mut tried = 0;
        for candidate in ranked.iter().skip(from) {
            if best.len() == SHOWN || tried == TRIED {
                break;
            }
            if best.iter().all(|taken| taken.ratio != candidate.ratio) {
                tried += 1;
                if !found || meets(candidate) {
                    best.push(*candidate);
                }
            }
        }
        best
    }

    /// The front end with a pair instead of its own divider.
    fn built(&self, top: u32, bottom: u32) -> FrontEnd {
        let mut built = self.front_end.clone();
        if let Topology::DividedInput(divider) = &mut built.topology {
            divider.top_ohms = whole(top);
            divider.bottom_ohms = whole(bottom);
        }
        built
    }

    fn drain_ua(&self, top: u32, bottom: u32) -> f64 {
        f64::from(self.front_end.cell.max_uv) / (f64::from(top) + f64::from(bottom))
    }

    fn pair(&self, candidate: &Candidate, first: &Candidate, objective: Objective) -> Pair {
        let Candidate { top, bottom, ratio } = *candidate;
        let multiple = f64::from(ratio.0) / f64::from(ratio.1);
        let source = source_ohms(f64::from(top), f64::from(bottom));
        let built = self.built(top, bottom);
        let (_, surely_mv) = self.surely(top, bottom);
        let surely_to_mv = headroom(&built).map_or(surely_mv, |reach| reach.high.surely_mv);
        let sampling = &self.front_end.converter.sampling;
        let switch = sampling.switch_ohms.as_ref().map_or(0.0, float);
        let settling_us = match &self.front_end.topology {
            Topology::DividedInput(divider) => match (&divider.filter_nf, &sampling.picofarads) {
                (Some(nanofarads), _) => Some(1e-3 * self.constants * source * float(nanofarads)),
                (None, Some(picofarads)) => {
                    Some(1e-6 * self.constants * (source + switch) * float(picofarads))
                }
                (None, None) => None,
            },
            Topology::SupplyReference => None,
        };
        Pair {
            top_ohms: top,
            bottom_ohms: bottom,
            ratio: format!("{}/{}", ratio.0, ratio.1),
            reads_to_mv: self.pin_mv * multiple,
            surely_to_mv,
            headroom_mv: surely_to_mv - self.constraints.must_read_mv,
            step_mv: self.step_part * multiple,
            drain_ua: self.drain_ua(top, bottom),
            source_ohms: source,
            settling_us,
            not_met: broken(&findings(&built)).map(Finding::line).collect(),
            why: self.why(candidate, first, objective),
        }
    }

    /// What the objective says of a pair, against the first.
    fn why(&self, pair: &Candidate, first: &Candidate, objective: Objective) -> String {
        let source = |c: &Candidate| source_ohms(f64::from(c.top), f64::from(c.bottom));
        let multiple = |c: &Candidate| f64::from(c.ratio.0) / f64::from(c.ratio.1);
        let (best, more, ratio) = match objective {
            Objective::Step => ("finest step", "coarser", multiple(pair) / multiple(first)),
            Objective::Drain => (
                "least drain",
                "more drain",
                first.sum() as f64 / pair.sum() as f64,
            ),
            Objective::Settling => (
                "lowest source",
                "higher source",
                source(pair) / source(first),
            ),
        };
        if pair.top == first.top && pair.bottom == first.bottom {
            format!("{best} that every constraint allows")
        } else if ratio <= 1.0 {
            "equal to the first, behind it by the tie-break".to_owned()
        } else {
            format!("{:.2} % {more}", 100.0 * (ratio - 1.0))
        }
    }
}
