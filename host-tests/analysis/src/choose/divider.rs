//! Resistor pairs for a divided input: every pair of a preferred series, held against the file's constraints, ranked.

pub mod found;

use num_integer::Integer;
use rayon::prelude::*;
use tallyvolt_model::Model;
use tallyvolt_model::front_end::{Divider, FrontEnd, Topology};
use tallyvolt_model::rational::{float, float_or_zero, in_millivolts, whole};

use super::findings::finding::Finding;
use crate::choose::budget::dynamic::{settling_us, source_max_ohms, source_ohms};
use crate::choose::budget::headroom::{headroom, must_read};
use crate::choose::budget::terms::climates;
use crate::choose::findings::{broken, findings, meets};
use crate::choose::halving::first_where;
use crate::describe::eseries::Series;
use found::{Constraints, Found, Objective, Pair, SearchError};

/// Pairs that are shown.
const SHOWN: usize = 10;
/// Pairs that are held against everything the file asks for until ten of them meet it.
const TRIED: usize = 200;

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
    let best = best
        .iter()
        .map(|candidate| bench.pair(candidate, &best[0], objective))
        .collect();
    Ok(Found {
        name: front_end.name.clone(),
        series: format!("{series:?}"),
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
            float_or_zero(&sampling.switch_ohms),
            (front_end.converter.bits, 1),
        )),
        _ => None,
    };
    // A filter capacitor takes the place of a low source resistance.
    let stated = sampling.source_max_ohms.as_ref().map(float);
    let stated = stated.filter(|_| divider.filter_nf.is_none());
    Constraints {
        must_read_mv,
        headroom_mv: in_millivolts(front_end.asks.headroom_uv),
        drain_max_ua: divider.drain_max_ua.as_ref().map(float),
        source_max_ohms: by_settling.into_iter().chain(stated).reduce(f64::min),
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

    fn multiple(&self) -> f64 {
        f64::from(self.ratio.0) / f64::from(self.ratio.1)
    }

    fn source_ohms(&self) -> f64 {
        source_ohms(f64::from(self.top), f64::from(self.bottom))
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
                let product = |c: &Self| u128::from(c.top) * u128::from(c.bottom);
                let (sum, others_sum) = (u128::from(self.sum()), u128::from(other.sum()));
                let order = (product(self) * others_sum).cmp(&(product(other) * sum));
                order.then(finest)
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
        let model = Model::as_drawn(&bare);
        let last = model.largest_count().saturating_sub(1);
        let pin_uv = model.voltage_uv(last).unwrap_or_else(|| whole(0)) / whole(2);
        let pin = headroom(&bare);
        let surely_mv = pin.map_or((f64::INFINITY, f64::NEG_INFINITY), |pin| {
            (pin.low.surely_mv / 2.0, pin.high.surely_mv / 2.0)
        });
        let ((low, _), (high, _)) = must_read(front_end);
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
                * (float_or_zero(&divider.tolerance.ppm)
                    + float_or_zero(&divider.tolerance.ppm_per_k) * kelvins),
            together: float_or_zero(&divider.correlation) >= 1.0,
            // nA * ohm = 1e-6 mV.
            leakage: 1e-6 * float_or_zero(&front_end.converter.sampling.leakage_na),
            step_part: float(&(model.step_uv(&whole(0)) / whole(2000))),
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
        let Constraints {
            drain_max_ua,
            source_max_ohms,
            ..
        } = self.constraints;
        let drain = drain_max_ua.is_none_or(|most| self.drain_ua(top, bottom) <= most);
        let source = source_ohms(f64::from(top), f64::from(bottom));
        let settles = source_max_ohms.is_none_or(|most| source <= most);
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
        let there = |place: u32| ranked.get(place as usize);
        let at = |place: u32| there(place).is_some_and(meets);
        let (mut fails, mut place) = (0, 0);
        while there(place).is_some() && !at(place) {
            fails = place + 1;
            place = 2 * place + 1;
        }
        let found = there(place).is_some();
        let from = if found {
            first_where(fails, place, at)
        } else {
            0
        };
        let mut best: Vec<Candidate> = Vec::new();
        let mut tried = 0;
        for candidate in ranked.iter().skip(from as usize) {
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
        let multiple = candidate.multiple();
        let built = self.built(top, bottom);
        let (_, surely_mv) = self.surely(top, bottom);
        let surely_to_mv = headroom(&built).map_or(surely_mv, |reach| reach.high.surely_mv);
        Pair {
            top_ohms: top,
            bottom_ohms: bottom,
            ratio: format!("{}/{}", ratio.0, ratio.1),
            reads_to_mv: self.pin_mv * multiple,
            surely_to_mv,
            headroom_mv: surely_to_mv - self.constraints.must_read_mv,
            step_mv: self.step_part * multiple,
            drain_ua: self.drain_ua(top, bottom),
            source_ohms: candidate.source_ohms(),
            settling_us: settling_us(&built),
            not_met: broken(&findings(&built)).map(Finding::line).collect(),
            why: self.why(candidate, first, objective),
        }
    }

    /// What the objective says of a pair, against the first.
    fn why(&self, pair: &Candidate, first: &Candidate, objective: Objective) -> String {
        let (best, more) = match objective {
            Objective::Step => ("finest step", "coarser"),
            Objective::Drain => ("least drain", "more drain"),
            Objective::Settling => ("lowest source", "higher source"),
        };
        let ratio = match objective {
            Objective::Step => pair.multiple() / first.multiple(),
            Objective::Drain => first.sum() as f64 / pair.sum() as f64,
            Objective::Settling => pair.source_ohms() / first.source_ohms(),
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
