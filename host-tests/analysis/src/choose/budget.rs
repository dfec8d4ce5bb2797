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
pub mod found;
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
use tallyvolt_model::front_end::FrontEnd;
use tallyvolt_model::rational::in_millivolts;

use crate::choose::findings::{findings, meets};
use crate::describe::limit_name::Direction;
use crate::describe::limits::stated;
use combine::{FirstOrder, combine, coverage_factor};
use distribution::Distribution;
use found::{Budget, Contribution, StateRow, TermRow, Total};
use guard_band::{GuardBands, LimitSites, guard_bands};
use headroom::headroom;
use monte_carlo::{COVERAGE, Run, Summary};
use quantity::{Place, Quantity};
use reading::{CELL_SITES, State, Temperature};
use terms::{Term, Terms};

/// Trials where nothing else is asked for: interval ends then wander by about 1 % of a standard uncertainty.
pub const TRIALS: usize = 100_000;
/// Fewest and most trials; the most take about 1.5 GB.
pub const TRIALS_RANGE: std::ops::RangeInclusive<u64> = 10_000..=4_000_000;

/// Makes the budget of a front end.
///
/// `progress` is told how many trials were done, from any thread.
pub fn budget(front_end: &FrontEnd, run: Run, progress: &(dyn Fn(u64) + Sync)) -> Budget {
    let cell = &front_end.cell;
    let voltages_mv = cell.millivolts();
    let mut sites = voltages_mv.to_vec();
    let limits = limit_sites(front_end, &mut sites);
    let terms = Terms::of(front_end, sites);
    let circuit = &terms.circuit;
    let model = |values: &[f64], errors: &mut [f64]| circuit.errors_mv(values, errors);
    let outputs = circuit.outputs();
    let firsts = combine(&terms.inputs, &terms.correlations, outputs, &model);
    let correlations = &terms.correlations;
    let trials = run.go(&terms.inputs, correlations, outputs, &model, progress);
    let every: Vec<(State, Temperature)> = State::ALL
        .into_iter()
        .flat_map(|state| Temperature::ALL.map(|temperature| (state, temperature)))
        .collect();
    let sites_of = |(state, temperature): &(State, Temperature)| {
        [0, 1, 2].map(|site| circuit.output(*state, *temperature, site))
    };
    let wanted: Vec<usize> = every.iter().flat_map(sites_of).collect();
    let summaries = trials.summaries(&wanted);
    let wanted = wanted.iter().filter_map(|output| firsts.get(*output));
    let found: Vec<(&FirstOrder, &Summary)> = wanted.zip(&summaries).collect();
    let states = every.iter().zip(found.chunks(CELL_SITES));
    let states = states
        .map(|((state, temperature), found)| {
            state_row(*state, *temperature, &terms, &voltages_mv, found)
        })
        .collect();
    let guard_bands: Vec<GuardBands> = if limits.is_empty() {
        Vec::new()
    } else {
        let guarded = |state| guard_bands(front_end, state, circuit, &limits, &trials);
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

/// Adds a site for each limit, in the order of [`thresholds::thresholds`]. A healthy cell is at the end of its own range, or nominal where the limit lies inside it.
fn limit_sites(front_end: &FrontEnd, sites: &mut Vec<f64>) -> Vec<LimitSites> {
    let cell = &front_end.cell;
    let limits = front_end.limits.iter();
    limits
        .flat_map(|limits| stated(limits.over_uv, limits.under_uv))
        .map(|(direction, limit_uv)| {
            let (healthy_uv, healthy_site) = match direction {
                Direction::Over if cell.max_uv < limit_uv => (cell.max_uv, 2),
                Direction::Under if cell.min_uv > limit_uv => (cell.min_uv, 0),
                _ => (cell.nominal_uv, 1),
            };
            sites.push(in_millivolts(limit_uv));
            LimitSites {
                site: sites.len() - 1,
                healthy_mv: in_millivolts(healthy_uv),
                healthy_site,
            }
        })
        .collect()
}

fn term_row(term: &Term) -> TermRow {
    TermRow {
        term: term.label.clone(),
        value: term.distribution.size(),
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
    let each =
        |value: &dyn Fn(&FirstOrder) -> f64| std::array::from_fn(|site| value(found[site].0));
    let contributions = terms
        .rows
        .iter()
        .map(|term| {
            let slot = term.quantity.slot();
            let slope = |first: &FirstOrder| first.sensitivities[slot];
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
        worst_mv: first.worst.into(),
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
    let flatter = (trials.high - trials.low) / 2.0 < twice;
    let why = match largest(terms, first) {
        Some(Term {
            label,
            distribution: flat @ (Distribution::Rectangular { .. } | Distribution::Arcsine { .. }),
            ..
        }) if flatter => format!(
            "Monte Carlo: the largest term, {label}, is {flat}, and k = 2 counts tails that it does not have"
        ),
        _ if first.dof < 30.0 => format!(
            "Monte Carlo, or k = {:.2}: {:.0} degrees of freedom are too few for k = 2",
            coverage_factor(COVERAGE, first.dof),
            first.dof.floor()
        ),
        _ => "Monte Carlo: the model bends within the uncertainty, which a first-order k = 2 cannot show"
            .to_owned(),
    };
    (false, why)
}

fn largest<'t>(terms: &'t Terms, first: &FirstOrder) -> Option<&'t Term> {
    let part = |term: &Term| first.contributions[term.quantity.slot()];
    terms
        .rows
        .iter()
        .max_by(|one, other| part(one).total_cmp(&part(other)))
}
