//! The error budget of a front end: every term, three ways to total them, and what follows for alarms.
//!
//! ```text
//! terms        front-end file  -> quantities with distributions
//! reading      quantities      -> error of a reading, in every state of calibration
//! combine      GUM: sensitivities, combined standard uncertainty, degrees of freedom
//! corners      worst case: every sign searched
//! monte_carlo  JCGM 101: trials through the same model
//! thresholds   JCGM 106: alarm thresholds, from the file alone
//! guard_band   what they miss and give up, by the trials
//! headroom     how far every board reads
//! yields       the share of boards within an error
//! temperature  the same for a temperature sensor
//! dynamic      settling, drain, supply: what no static budget shows
//! ```

pub mod combine;
mod corners;
pub mod distribution;
pub mod dynamic;
pub mod guard_band;
pub mod headroom;
pub mod input;
pub mod monte_carlo;
pub mod noise;
pub mod quantity;
pub mod reading;
pub mod temperature;
pub mod terms;
pub mod thresholds;
pub mod yields;

use rayon::prelude::*;
use serde::Serialize;
use tallyvolt_model::front_end::FrontEnd;

use crate::choose::findings::finding::Finding;
use crate::choose::findings::{findings, meets};
use crate::describe::limit_name::Direction;
use combine::{FirstOrder, combine, coverage_factor};
use distribution::Distribution;
use guard_band::{GuardBands, Guarded, guard_bands};
use headroom::{Headroom, headroom};
use monte_carlo::{COVERAGE, Run, Summary};
use quantity::{Place, Quantity};
use reading::{CELL_SITES, State, Temperature};
use temperature::TemperatureBudget;
use terms::{Term, Terms};
use thresholds::thresholds;
use yields::Yields;

/// Trials where nothing else is asked for: interval ends then wander by about 1 % of a standard uncertainty.
pub const TRIALS: usize = 100_000;
/// Fewest and most trials; the most take about 1.5 GB.
pub const TRIALS_RANGE: std::ops::RangeInclusive<u64> = 10_000..=4_000_000;

/// What `tallyvolt budget` finds out about one front end.
#[derive(Debug, Clone, Serialize)]
pub struct Budget {
    /// The front end's name.
    pub name: String,
    /// `divided-input` or `supply-reference`.
    pub topology: &'static str,
    /// The cell's minimum, nominal and maximum in millivolts.
    pub voltages_mv: [f64; CELL_SITES],
    /// Points at which modules are calibrated, as planned.
    pub calibration_points: u32,
    /// Monte Carlo trials.
    pub trials: usize,
    /// Seed of the generator.
    pub seed: u64,
    /// Share of the values inside an interval.
    pub coverage: f64,
    /// Whether the noise dithers enough for samples to count.
    pub dithers: bool,
    /// What was assumed or left out.
    pub notes: Vec<String>,
    /// Every term.
    pub terms: Vec<TermRow>,
    /// Every state of calibration, at calibration temperature and over the range.
    pub states: Vec<StateRow>,
    /// Alarms for the file's limits.
    pub guard_bands: Vec<GuardBands>,
    /// The error of a temperature; none without a thermistor.
    pub temperature: Option<TemperatureBudget>,
    /// Shares of boards within an error.
    pub yields: Yields,
    /// How far every board reads; none where the nominal cell is not read.
    pub headroom: Option<Headroom>,
    /// What the file asks for, and whether it is met.
    pub findings: Vec<Finding>,
    /// Everything is met.
    pub meets: bool,
}

/// A term's value.
#[derive(Debug, Clone, Serialize)]
pub struct TermRow {
    /// In words.
    pub term: String,
    /// Limit or standard deviation, in `unit`.
    pub value: f64,
    /// Unit of the value.
    pub unit: &'static str,
    /// Distribution in words.
    pub distribution: String,
    /// Standard uncertainty, in `unit`.
    pub standard_uncertainty: f64,
    /// Whether it belongs to a reading of the calibration.
    pub on_bench: bool,
}

/// A state of calibration at a temperature.
#[derive(Debug, Clone, Serialize)]
pub struct StateRow {
    /// `uncalibrated`, `one-point` or `two-point`.
    pub calibration: &'static str,
    /// `at calibration temperature` or `over the range`.
    pub temperature: &'static str,
    /// What each term does, in the order of [`Budget::terms`].
    pub contributions: Vec<Contribution>,
    /// At the cell's minimum, nominal and maximum.
    pub totals: Vec<Total>,
}

/// What one term does to a reading.
#[derive(Debug, Clone, Serialize)]
pub struct Contribution {
    /// Millivolts of reading for one unit of the term, at the three voltages.
    pub sensitivity_mv: [f64; CELL_SITES],
    /// Standard uncertainty of the reading from this term alone.
    pub contribution_mv: [f64; CELL_SITES],
    /// Largest error of the reading from this term alone.
    pub worst_mv: [f64; CELL_SITES],
}

/// All terms together at one voltage.
#[derive(Debug, Clone, Serialize)]
pub struct Total {
    /// True voltage.
    pub at_mv: f64,
    /// Lowest and highest error with every term at its worst.
    pub worst_mv: [f64; 2],
    /// Combined standard uncertainty.
    pub combined_mv: f64,
    /// Effective degrees of freedom; none for infinitely many.
    pub effective_dof: Option<f64>,
    /// Coverage factor for 95 %.
    pub coverage_factor: f64,
    /// Expanded uncertainty with that factor.
    pub expanded_mv: f64,
    /// Twice the combined standard uncertainty: k = 2.
    pub twice_combined_mv: f64,
    /// Mean error of the trials.
    pub mean_mv: f64,
    /// Their standard deviation.
    pub sd_mv: f64,
    /// Their shortest 95 % interval.
    pub interval_mv: [f64; 2],
    /// Standard error of the interval's larger end: what chance alone moves it by.
    pub end_error_mv: f64,
    /// Whether interval and k = 2 agree.
    pub agree: bool,
    /// Which to trust, and why.
    pub trust: String,
}

impl Total {
    /// Largest error with every term at its worst.
    #[must_use]
    pub fn worst(&self) -> f64 {
        self.worst_mv
            .iter()
            .fold(0.0, |most, end| end.abs().max(most))
    }

    /// Largest error inside the 95 % interval.
    #[must_use]
    pub fn within_95(&self) -> f64 {
        self.interval_mv
            .iter()
            .fold(0.0, |most, end| end.abs().max(most))
    }
}

impl Budget {
    /// The row of a state.
    #[must_use]
    pub fn state(&self, state: State, temperature: Temperature) -> Option<&StateRow> {
        self.states
            .get(state as usize * Temperature::ALL.len() + temperature as usize)
    }
}

/// Makes the budget of a front end.
///
/// `progress` is told how many trials were done, from any thread.
pub fn budget(front_end: &FrontEnd, run: Run, progress: impl Fn(u64) + Sync) -> Budget {
    let millivolts = |uv: u32| f64::from(uv) / 1000.0;
    let cell = &front_end.cell;
    let voltages_mv = [cell.min_uv, cell.nominal_uv, cell.max_uv].map(millivolts);
    let mut sites = voltages_mv.to_vec();
    let limits = limit_sites(front_end, &mut sites);
    let terms = Terms::of(front_end, sites);
    let circuit = &terms.circuit;
    let model = |values: &[f64], errors: &mut [f64]| circuit.errors_mv(values, errors);
    let outputs = circuit.outputs();
    let firsts = combine(&terms.inputs, &terms.correlations, outputs, &model);
    let trials = run.go(
        &terms.inputs,
        &terms.correlations,
        outputs,
        &model,
        progress,
    );
    let every: Vec<(State, Temperature)> = State::ALL
        .into_iter()
        .flat_map(|state| Temperature::ALL.map(|temperature| (state, temperature)))
        .collect();
    let wanted: Vec<usize> = every
        .iter()
        .flat_map(|(state, temperature)| {
            [0, 1, 2].map(|site| circuit.output(*state, *temperature, site))
        })
        .collect();
    let summaries = trials.summaries(&wanted);
    let found: Vec<(&FirstOrder, &Summary)> = wanted
        .iter()
        .filter_map(|output| firsts.get(*output))
        .zip(&summaries)
        .collect();
    let states = every
        .iter()
        .zip(found.chunks(CELL_SITES))
        .map(|((state, temperature), found)| {
            state_row(*state, *temperature, &terms, &voltages_mv, found)
        })
        .collect();
    let guard_bands: Vec<GuardBands> = if limits.is_empty() {
        Vec::new()
    } else {
        let guarded = |state| {
            let thresholds = thresholds(front_end, state);
            let guarded: Vec<Guarded> = limits
                .iter()
                .zip(thresholds)
                .map(|(limit, threshold)| Guarded {
                    threshold,
                    output: circuit.output(state, Temperature::Range, limit.site),
                    healthy_mv: limit.healthy_mv,
                    healthy_output: circuit.output(state, Temperature::Range, limit.healthy_site),
                })
                .collect();
            guard_bands(front_end, state, &guarded, &trials)
        };
        State::ALL.into_par_iter().map(guarded).collect()
    };
    let findings = findings(front_end);
    Budget {
        name: front_end.name.clone(),
        topology: front_end.topology.word(),
        voltages_mv,
        calibration_points: front_end.calibration.points,
        trials: run.trials,
        seed: run.seed,
        coverage: COVERAGE,
        dithers: terms.averaged.dithers,
        notes: terms.notes.clone(),
        terms: terms.rows.iter().map(term_row).collect(),
        states,
        guard_bands,
        temperature: temperature::temperature(front_end, run),
        yields: yields::yields(front_end, circuit, &trials, run),
        headroom: headroom(front_end),
        meets: meets(&findings),
        findings,
    }
}

/// The sites that a limit needs.
struct LimitSite {
    site: usize,
    healthy_mv: f64,
    healthy_site: usize,
}

/// Adds a site for each limit, in the order of [`thresholds`]. A healthy cell is at the end of its own range, or nominal where the limit lies inside it.
fn limit_sites(front_end: &FrontEnd, sites: &mut Vec<f64>) -> Vec<LimitSite> {
    let Some(limits) = &front_end.limits else {
        return Vec::new();
    };
    let cell = &front_end.cell;
    [
        (Direction::Over, limits.over_uv, cell.max_uv, 2),
        (Direction::Under, limits.under_uv, cell.min_uv, 0),
    ]
    .into_iter()
    .filter_map(|(direction, limit_uv, end_uv, end_site)| {
        let limit_uv = limit_uv?;
        let limit_mv = f64::from(limit_uv) / 1000.0;
        let end_is_healthy = match direction {
            Direction::Over => end_uv < limit_uv,
            Direction::Under => end_uv > limit_uv,
        };
        let (healthy_uv, healthy_site) = if end_is_healthy {
            (end_uv, end_site)
        } else {
            (cell.nominal_uv, 1)
        };
        sites.push(limit_mv);
        Some(LimitSite {
            site: sites.len() - 1,
            healthy_mv: f64::from(healthy_uv) / 1000.0,
            healthy_site,
        })
    })
    .collect()
}

fn term_row(term: &Term) -> TermRow {
    let value = match term.distribution {
        Distribution::Constant => 0.0,
        Distribution::Rectangular { half } | Distribution::Arcsine { half } => half,
        Distribution::Normal { sd } | Distribution::StudentT { sd, .. } => sd,
    };
    TermRow {
        term: term.label.clone(),
        value,
        unit: term.unit,
        distribution: term.distribution.to_string(),
        standard_uncertainty: term.distribution.standard_uncertainty(),
        on_bench: term.quantity.slot() >= Quantity::Nonlinearity(Place::AtPoint).slot(),
    }
}

fn state_row(
    state: State,
    temperature: Temperature,
    terms: &Terms,
    voltages_mv: &[f64; CELL_SITES],
    found: &[(&FirstOrder, &Summary)],
) -> StateRow {
    let each = |value: &dyn Fn(&FirstOrder) -> f64| {
        let mut values = [0.0; CELL_SITES];
        for (place, (first, _)) in values.iter_mut().zip(found) {
            *place = value(first);
        }
        values
    };
    let contributions = terms
        .rows
        .iter()
        .map(|term| {
            let slot = term.quantity.slot();
            let slope = |first: &FirstOrder| first.sensitivities.get(slot).copied().unwrap_or(0.0);
            Contribution {
                sensitivity_mv: each(&slope),
                contribution_mv: each(&|first| {
                    slope(first).abs() * term.distribution.standard_uncertainty()
                }),
                worst_mv: each(&|first| slope(first).abs() * term.distribution.worst()),
            }
        })
        .collect();
    let totals = found
        .iter()
        .zip(voltages_mv)
        .map(|((first, summary), at_mv)| total(terms, *at_mv, first, summary))
        .collect();
    StateRow {
        calibration: state.word(),
        temperature: temperature.word(),
        contributions,
        totals,
    }
}

fn total(terms: &Terms, at_mv: f64, first: &FirstOrder, trials: &Summary) -> Total {
    let factor = coverage_factor(COVERAGE, first.dof);
    let (agree, trust) = verdict(terms, first, trials);
    Total {
        at_mv,
        worst_mv: [first.worst.0, first.worst.1],
        combined_mv: first.combined,
        effective_dof: first.dof.is_finite().then_some(first.dof),
        coverage_factor: factor,
        expanded_mv: factor * first.combined,
        twice_combined_mv: 2.0 * first.combined,
        mean_mv: trials.mean,
        sd_mv: trials.sd,
        interval_mv: [trials.low, trials.high],
        end_error_mv: trials.end_error,
        agree,
        trust,
    }
}

/// Ends of the interval further than this part of 2 u_c from k = 2 are a disagreement; chance alone moves them by about
/// 1 % with the default trials.
const DISAGREEMENT: f64 = 0.05;

/// Which of k = 2 and Monte Carlo to trust (JCGM 101 clause 8: where they differ, the trials are the reference).
fn verdict(terms: &Terms, first: &FirstOrder, trials: &Summary) -> (bool, String) {
    let twice = 2.0 * first.combined;
    let apart = (trials.low + twice).abs().max((trials.high - twice).abs());
    if apart <= DISAGREEMENT * twice {
        return (true, "either: they agree".to_owned());
    }
    let half = (trials.high - trials.low) / 2.0;
    let why = if half < twice {
        match largest(terms, first) {
            Some(term) if !matches!(term.distribution, Distribution::Normal { .. }) => format!(
                "Monte Carlo: the largest term, {}, is {}, and k = 2 counts tails that it does not have",
                term.label, term.distribution
            ),
            _ => "Monte Carlo: the sum is flatter than a normal distribution, and k = 2 counts tails that are not there"
                .to_owned(),
        }
    } else if first.dof < 30.0 {
        format!(
            "Monte Carlo, or k = {:.2}: {:.0} degrees of freedom are too few for k = 2",
            coverage_factor(COVERAGE, first.dof),
            first.dof.floor()
        )
    } else {
        "Monte Carlo: the model bends within the uncertainty, which a first-order k = 2 cannot show"
            .to_owned()
    };
    (false, why)
}

fn largest<'t>(terms: &'t Terms, first: &FirstOrder) -> Option<&'t Term> {
    let part = |term: &Term| {
        let part = first.contributions.get(term.quantity.slot()).copied();
        part.unwrap_or(0.0)
    };
    terms
        .rows
        .iter()
        .max_by(|one, other| part(one).total_cmp(&part(other)))
}
