//! Resistor pairs for a divided input: every pair of a preferred series, held against the file's constraints, ranked.

use num_integer::Integer;
use num_rational::BigRational;
use rayon::prelude::*;
use serde::Serialize;
use thiserror::Error;

use crate::budget::dynamic::{source_max_ohms, source_ohms, time_constants};
use crate::budget::terms::float;
use crate::eseries::Series;
use crate::front_end::{Divider, FrontEnd, Topology};
use crate::model::Model;
use crate::model::calibration::CalibrationModel;
use crate::model::rational::whole;

/// Pairs that are shown.
const SHOWN: usize = 10;

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
    /// Highest voltage that must be read, in millivolts: the fullest cell, or the upper alarm limit where that is higher.
    pub must_read_mv: f64,
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
    /// Voltage of the last count below the rail, with nominal parts.
    pub reads_to_mv: f64,
    /// The same with reference and resistors at their worst.
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
    let mut best: Vec<Candidate> = Vec::new();
    for candidate in &fitting {
        if best.len() == SHOWN {
            break;
        }
        if best.iter().all(|taken| taken.ratio != candidate.ratio) {
            best.push(*candidate);
        }
    }
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
    })
}

fn constraints(front_end: &FrontEnd, divider: &Divider) -> Constraints {
    let limit_uv = front_end.limits.as_ref().and_then(|limits| limits.over_uv);
    let must_read_uv = front_end.cell.max_uv.max(limit_uv.unwrap_or(0));
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
        must_read_mv: f64::from(must_read_uv) / 1000.0,
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
    /// Voltage of the last count below the rail, as a part of full scale times the reference, in millivolts at the pin.
    pin_mv: f64,
    /// The same with the reference at its lowest.
    pin_low_mv: f64,
    /// How far each resistor may be off, as a part.
    resistor: f64,
    step_part: f64,
    constants: f64,
}

impl<'f> Bench<'f> {
    fn new(front_end: &'f FrontEnd, divider: &Divider, constraints: &'f Constraints) -> Self {
        let mut bare = front_end.clone();
        // A ratio of 2 keeps the model exact; it is divided out again.
        bare.topology = Topology::DividedInput(Divider {
            top_ohms: whole(1),
            bottom_ohms: whole(1),
            ..divider.clone()
        });
        let model = Model::new(&bare, CalibrationModel::identity());
        let last = model.largest_count().saturating_sub(1);
        let pin_uv = model.voltage_uv(last).unwrap_or_else(|| whole(0)) / whole(2);
        let pin_mv = float(&(pin_uv / whole(1000)));
        let parts = |tolerance: &crate::front_end::Tolerance| {
            let far = front_end.environment.as_ref().map_or(0.0, |environment| {
                let from = |c: &BigRational| (float(c) - 25.0).abs();
                from(&environment.min_c).max(from(&environment.max_c))
            });
            let ppm = tolerance.ppm.as_ref().map_or(0.0, float);
            let per_k = tolerance.ppm_per_k.as_ref().map_or(0.0, float);
            1e-6 * (ppm + per_k * far)
        };
        Self {
            front_end,
            constraints,
            pin_mv,
            pin_low_mv: pin_mv * (1.0 - parts(&front_end.reference.tolerance)),
            resistor: parts(&divider.tolerance),
            step_part: float(&(model.step_uv(&whole(0)) / whole(2000))),
            constants: time_constants(front_end.converter.bits, 1),
        }
    }

    /// Full-scale reading with every part at its lowest.
    fn surely_to_mv(&self, top: u32, bottom: u32) -> f64 {
        let top = f64::from(top) * (1.0 - self.resistor);
        let bottom = f64::from(bottom) * (1.0 + self.resistor);
        self.pin_low_mv * (top + bottom) / bottom
    }

    fn fits(&self, top: u32, bottom: u32) -> Option<Candidate> {
        let rail = self.surely_to_mv(top, bottom) >= self.constraints.must_read_mv;
        let drain = self
            .constraints
            .drain_max_ua
            .is_none_or(|most| self.drain_ua(top, bottom) <= most);
        let settles = self
            .constraints
            .source_max_ohms
            .is_none_or(|most| source_ohms(f64::from(top), f64::from(bottom)) <= most);
        // The crate's own limit on what a sum of resistances may be keeps the fraction in 32 bits.
        (rail && drain && settles).then(|| {
            let sum = top + bottom;
            let common = sum.gcd(&bottom);
            Candidate {
                top,
                bottom,
                ratio: (sum / common, bottom / common),
            }
        })
    }

    fn drain_ua(&self, top: u32, bottom: u32) -> f64 {
        f64::from(self.front_end.cell.max_uv) / (f64::from(top) + f64::from(bottom))
    }

    fn pair(&self, candidate: &Candidate, first: &Candidate, objective: Objective) -> Pair {
        let Candidate { top, bottom, ratio } = *candidate;
        let multiple = f64::from(ratio.0) / f64::from(ratio.1);
        let source = source_ohms(f64::from(top), f64::from(bottom));
        let surely_to_mv = self.surely_to_mv(top, bottom);
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
