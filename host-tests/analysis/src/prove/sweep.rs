//! Every count of a front end, compared with the exact model: the proof by exhaustion.

use std::cmp::Ordering;

use rayon::prelude::*;
use tallyvolt_model::integer_form::IntegerForm;
use tallyvolt_model::outcome::Outcome;

/// Counts handed to a worker at once.
const CHUNK: u32 = 1 << 16;
/// Wrong counts that are kept as examples.
const EXAMPLES: usize = 5;
/// Output values a `u16` holds.
const VALUES: usize = 1 << 16;

/// What a sweep over counts found.
#[derive(Debug, Clone)]
pub struct Sweep {
    /// Counts compared.
    pub counts: u64,
    /// Counts whose value or fault differed from the model.
    pub wrong: u64,
    /// The first few wrong counts, with what was answered.
    pub examples: Vec<(u32, Outcome)>,
    /// Largest distance between an answered voltage and the exact one, in output units.
    pub largest_error: f64,
    /// Whether voltages never turn back along the counts.
    pub monotonic: bool,
    /// First and last count answered with a voltage.
    pub valid: Option<(u32, u32)>,
    ends: Option<(u32, u32)>,
    turn: Ordering,
    reached: Vec<u8>,
}

impl Sweep {
    /// Compares every count from 0 to `last` with the model.
    ///
    /// `progress` is told how many counts were done, from any thread.
    pub fn run(
        form: &IntegerForm,
        last: u32,
        subject: &(dyn Fn(u32) -> Outcome + Sync),
        progress: &(dyn Fn(u64) + Sync),
    ) -> Self {
        let chunks = last / CHUNK + 1;
        (0..chunks)
            .into_par_iter()
            .map(|chunk| {
                let first = chunk * CHUNK;
                let part = Self::walk(form, first, last.min(first + (CHUNK - 1)), subject);
                progress(part.counts);
                part
            })
            .reduce_with(Self::followed_by)
            .unwrap_or_else(Self::empty)
    }

    /// Output values within `low ..= high` that no count gives, and those that more than one count gives.
    pub fn gaps_and_doubles(&self, low: u32, high: u32) -> (u64, u64) {
        let range = low as usize..=(high as usize).min(VALUES - 1);
        let reached = self.reached.get(range).unwrap_or_default();
        let number =
            |wanted: fn(u8) -> bool| reached.iter().filter(|times| wanted(**times)).count() as u64;
        (number(|times| times == 0), number(|times| times > 1))
    }

    fn empty() -> Self {
        Self {
            counts: 0,
            wrong: 0,
            examples: Vec::new(),
            largest_error: 0.0,
            monotonic: true,
            valid: None,
            ends: None,
            turn: Ordering::Equal,
            reached: vec![0; VALUES],
        }
    }

    fn walk(
        form: &IntegerForm,
        first: u32,
        last: u32,
        subject: &(dyn Fn(u32) -> Outcome + Sync),
    ) -> Self {
        let mut found = Self::empty();
        let mut before = None;
        for count in first..=last {
            let answer = subject(count);
            found.counts += 1;
            if !form.is_right(count, answer) {
                found.wrong += 1;
                if found.examples.len() < EXAMPLES {
                    found.examples.push((count, answer));
                }
            }
            let Outcome::Units(units) = answer else {
                continue;
            };
            found.largest_error = found.largest_error.max(form.distance(count, units));
            if let Some(times) = found.reached.get_mut(units as usize) {
                *times = times.saturating_add(1);
            }
            if let Some(before) = before {
                found.turns(units.cmp(&before));
            }
            before = Some(units);
            found.valid = Some((found.valid.map_or(count, |(first, _)| first), count));
            found.ends = Some((found.ends.map_or(units, |(first, _)| first), units));
        }
        found
    }

    /// Notes where the voltage went; a turn against an earlier direction is not monotonic.
    fn turns(&mut self, turn: Ordering) {
        if turn.is_ne() {
            self.monotonic &= self.turn != turn.reverse();
            self.turn = turn;
        }
    }

    fn followed_by(mut self, next: Self) -> Self {
        if let (Some((_, before)), Some((behind, _))) = (self.ends, next.ends) {
            self.turns(behind.cmp(&before));
        }
        self.turns(next.turn);
        self.monotonic &= next.monotonic;
        self.counts += next.counts;
        self.wrong += next.wrong;
        self.examples.extend(next.examples);
        self.examples.truncate(EXAMPLES);
        self.largest_error = self.largest_error.max(next.largest_error);
        let joined = |left: Option<(u32, u32)>, right: Option<(u32, u32)>| match (left, right) {
            (Some((first, _)), Some((_, last))) => Some((first, last)),
            (left, right) => left.or(right),
        };
        self.valid = joined(self.valid, next.valid);
        self.ends = joined(self.ends, next.ends);
        for (mine, theirs) in self.reached.iter_mut().zip(&next.reached) {
            *mine = mine.saturating_add(*theirs);
        }
        self
    }
}
