//! The table builder: the smallest table of 16 to 64 entries whose answers stay within the error asked for.
//!
//! A table is certified by walking every count of its range: what firmware answers (the table's exact fraction, rounded to
//! 0.1 degC) against the sensor's law. Nothing is sampled, so the certified error is the largest there is.
//!
//! Entries are not the law's own values: a chord of a bent curve errs to one side, so each entry is moved by half of the
//! largest error of the segments beside it, which halves the error of the table.

pub mod error;
pub mod offset;

use error::BuildError;
use num_traits::ToPrimitive;
use offset::SensorOffset;
use tallyvolt::bounds::{TABLE_ENTRIES, TABLE_FRACTION_BITS, TABLE_STEP_LOG2};
use tallyvolt::{ConfigError, Count, SensorSide, Table, Thermistor, ThermistorDescription};
use tallyvolt_model::front_end::{self, FrontEnd};
use tallyvolt_model::rational::float;
use tallyvolt_model::table::{self, SensorTable};
use tallyvolt_model::thermistor::ThermistorModel;

/// A table with everything firmware needs around it, and its certified error.
#[derive(Debug, Clone, PartialEq)]
pub struct BuiltTable {
    /// The table, and the counts around it.
    pub table: SensorTable,
    /// Largest distance of an answer from the law, in thousandths of a degree.
    pub answer_error_mc: f64,
    /// The same before the answer is rounded to 0.1 degC.
    pub table_error_mc: f64,
    /// Largest distance of a maker's table from the curve behind it, in thousandths of a degree; 0 for a formula.
    pub interpolation_mc: f64,
    /// The calibrated reading whose offset the entries have taken off, if there is one.
    pub offset: Option<SensorOffset>,
}

impl BuiltTable {
    /// Builds the table of a front end's thermistor.
    ///
    /// # Errors
    /// [`BuildError`].
    pub fn build(
        front_end: &FrontEnd,
        thermistor: &front_end::Thermistor,
    ) -> Result<Self, BuildError> {
        if thermistor.excitation_uv.is_some()
            && front_end.topology == front_end::Topology::SupplyReference
        {
            return Err(BuildError::ForeignExcitation);
        }
        let model = ThermistorModel::new(front_end, thermistor);
        let offset = SensorOffset::of(&model, thermistor)?;
        let span = Span::find(&model, thermistor)?;
        let most = i64::from(span.counts());
        let mut best_mc = f64::INFINITY;
        for step_log2 in (TABLE_STEP_LOG2.min..=TABLE_STEP_LOG2.max).rev() {
            let entries = (most + (1 << step_log2) - 1) / (1 << step_log2) + 1;
            if !(TABLE_ENTRIES.min..=TABLE_ENTRIES.max).contains(&entries) {
                continue;
            }
            let curve = span.curve(1 << step_log2, entries as usize);
            for fraction_bits in fractions(step_log2) {
                let Some(built) = span.table(thermistor, &curve, step_log2, fraction_bits) else {
                    continue;
                };
                if built.certified_mc() <= f64::from(thermistor.max_error_mc) {
                    return Ok(Self { offset, ..built });
                }
                best_mc = best_mc.min(built.certified_mc());
            }
        }
        Err(BuildError::Coarse {
            wanted_mc: thermistor.max_error_mc,
            best_mc,
            most: TABLE_ENTRIES.max,
        })
    }

    /// Largest distance of an answer from the sensor, in thousandths of a degree: from the law, and from there to the curve
    /// behind a maker's points.
    pub fn certified_mc(&self) -> f64 {
        self.answer_error_mc + self.interpolation_mc
    }

    /// The same before answers are rounded to 0.1 degC.
    pub fn unrounded_mc(&self) -> f64 {
        self.table_error_mc + self.interpolation_mc
    }

    /// As firmware describes it.
    ///
    /// # Errors
    /// [`ConfigError`] if the crate refuses the table.
    pub fn firmware(&self) -> Result<Thermistor<'_>, ConfigError> {
        let table = &self.table;
        Thermistor::new(ThermistorDescription {
            side: match table.side {
                front_end::SensorSide::Low => SensorSide::Low,
                front_end::SensorSide::High => SensorSide::High,
            },
            table: Table::new(&table.entries, self.step_log2(), self.fraction_bits())?,
            first: Count(table.first),
            counts: table.counts,
            low_wire: Count(table.low_wire),
            high_wire: Count(table.high_wire),
        })
    }

    /// Counts between entries, base-2 logarithm.
    pub fn step_log2(&self) -> u8 {
        self.table.step.trailing_zeros() as u8
    }

    /// Bits by which entries are finer than 0.1 degC.
    pub fn fraction_bits(&self) -> u8 {
        self.table.entries_per_tenth.trailing_zeros() as u8
    }
}

/// Fineness of the entries, best first: a whole shift of 8 or 16 bits costs an 8-bit core nothing; then the finest.
fn fractions(step_log2: i64) -> impl Iterator<Item = i64> {
    let whole = [8 - step_log2, 16 - step_log2]
        .into_iter()
        .filter(|bits| *bits >= TABLE_FRACTION_BITS.min && *bits <= TABLE_FRACTION_BITS.max);
    whole.chain((TABLE_FRACTION_BITS.min..=TABLE_FRACTION_BITS.max).rev())
}

/// The counts of the temperature range, with the law's temperature at each.
struct Span {
    first: u32,
    celsius: Vec<f64>,
    top_count: u32,
    interpolation_mc: f64,
}

impl Span {
    fn find(
        model: &ThermistorModel,
        thermistor: &front_end::Thermistor,
    ) -> Result<Self, BuildError> {
        let (min, max) = (float(&thermistor.min_c), float(&thermistor.max_c));
        let rail = model.largest_count();
        // A table of a maker ends where its last point stands, so its neighbouring count may have no temperature.
        let celsius = (1..rail).filter_map(|count| Some((count, model.celsius(count)?)));
        let inside = celsius.filter(|(_, celsius)| (min..=max).contains(celsius));
        let inside: Vec<(u32, f64)> = inside.collect();
        let counts = u32::try_from(inside.len()).unwrap_or(u32::MAX);
        let least = u32::try_from(TABLE_ENTRIES.min).unwrap_or(u32::MAX);
        let (Some(&(first, at_first)), Some(&(last, at_last)), true) =
            (inside.first(), inside.last(), counts >= least)
        else {
            return Err(BuildError::FewCounts { counts, least });
        };
        let most = (TABLE_ENTRIES.max - 1) << TABLE_STEP_LOG2.max;
        if i64::from(counts) > most {
            return Err(BuildError::ManyCounts {
                counts,
                most: u32::try_from(most).unwrap_or(u32::MAX),
            });
        }
        // Both ends must be reached to within two steps of the converter.
        let step =
            |a: Option<&(u32, f64)>, b: f64| a.map_or(0.0, |(_, celsius)| (celsius - b).abs());
        let near_first = 2.0 * step(inside.get(1), at_first);
        let near_last = 2.0 * step(inside.get(inside.len() - 2), at_last);
        let rises = at_first < at_last;
        let (low_end, high_end) = if rises { (min, max) } else { (max, min) };
        for (found, end, near) in [
            (at_first, low_end, near_first),
            (at_last, high_end, near_last),
        ] {
            if (found - end).abs() > near {
                return Err(BuildError::NotReached { celsius: end });
            }
        }
        if model.top_count() <= last + 1 {
            return Err(BuildError::NoRoom);
        }
        Ok(Self {
            first,
            interpolation_mc: inside
                .iter()
                .filter_map(|(count, _)| model.interpolation_k(*count))
                .fold(0.0, f64::max)
                * 1000.0,
            celsius: inside.into_iter().map(|(_, celsius)| celsius).collect(),
            top_count: model.top_count(),
        })
    }

    fn counts(&self) -> u32 {
        u32::try_from(self.celsius.len()).unwrap_or(u32::MAX)
    }

    /// The law, or its straight continuation, at the table's entries; moved to halve the error.
    fn curve(&self, step: usize, entries: usize) -> Vec<f64> {
        let last = self.celsius.len() - 1;
        let law = |position: usize| match self.celsius.get(position) {
            Some(celsius) => *celsius,
            None => {
                // Beyond the range: straight on through the last segment's start and the range's last count.
                let start = last / step * step;
                let (from, to) = (self.celsius[start.min(last)], self.celsius[last]);
                let slope = if last > start {
                    (to - from) / (last - start) as f64
                } else {
                    to - self.celsius[last - 1]
                };
                from + slope * (position - start) as f64
            }
        };
        let plain: Vec<f64> = (0..entries).map(|entry| law(entry * step)).collect();
        // The largest error of each chord, with its sign.
        let bends: Vec<f64> = plain
            .windows(2)
            .enumerate()
            .map(|(segment, ends)| {
                let positions = segment * step..((segment + 1) * step).min(last + 1);
                positions
                    .map(|position| {
                        let part = (position - segment * step) as f64 / step as f64;
                        self.celsius[position] - (ends[0] + (ends[1] - ends[0]) * part)
                    })
                    .fold(0.0, |largest: f64, bend| {
                        if bend.abs() > largest.abs() {
                            bend
                        } else {
                            largest
                        }
                    })
            })
            .collect();
        let moved = plain.iter().enumerate().map(|(entry, celsius)| {
            let beside = &bends[entry.saturating_sub(1)..bends.len().min(entry + 1)];
            celsius + beside.iter().sum::<f64>() / beside.len() as f64 / 2.0
        });
        moved.collect()
    }

    /// The table of a curve, certified; none where an entry does not fit or the crate refuses it.
    fn table(
        &self,
        thermistor: &front_end::Thermistor,
        curve: &[f64],
        step_log2: i64,
        fraction_bits: i64,
    ) -> Option<BuiltTable> {
        let per_degree = f64::from(10 << fraction_bits);
        let entries = curve
            .iter()
            .map(|celsius| {
                let entry = (celsius * per_degree).round();
                (entry.abs() <= f64::from(i16::MAX)).then_some(entry as i16)
            })
            .collect::<Option<Vec<i16>>>()?;
        let last = self.first + self.counts() - 1;
        let mut built = BuiltTable {
            table: SensorTable {
                side: thermistor.side,
                entries,
                step: 1 << step_log2,
                entries_per_tenth: 1 << fraction_bits,
                first: self.first,
                counts: self.counts(),
                // Half way from the range's end to what a broken or shorted wire reads.
                low_wire: self.first / 2,
                high_wire: last + 1 + (self.top_count - last - 1) / 2,
            },
            answer_error_mc: 0.0,
            table_error_mc: 0.0,
            interpolation_mc: self.interpolation_mc,
            offset: None,
        };
        built.firmware().ok()?;
        for (count, celsius) in (self.first..).zip(&self.celsius) {
            let exact = built.table.tenths(count)?;
            let answer = table::nearest_ties_up(exact).to_f64()?;
            let error_mc = |tenths: f64| (tenths / 10.0 - celsius).abs() * 1000.0;
            built.answer_error_mc = built.answer_error_mc.max(error_mc(answer));
            built.table_error_mc = built.table_error_mc.max(error_mc(exact.to_f64()?));
        }
        Some(built)
    }
}
