//! Uncertainties against a second computation: one error after another is made, the line is fitted anew, and what a value moves by is
//! squared and added up (GUM 5.1.4).

use super::super::examples::{divided, level, stated_noise, supply};
use super::super::line::Line;
use super::*;

/// The true line, in counts and positions; 0.6 counts of offset where it is fitted.
const SLOPE: f64 = 0.9;
const OFFSET: f64 = 0.6;
/// A thousandth of each standard uncertainty is made as an error.
const PART: f64 = 1e-3;

/// One error: of a level's place, of the meter in its standard uncertainties, and of an offset in counts.
#[derive(Debug, Clone, Copy, Default)]
struct Made {
    place: Option<(usize, f64)>,
    meter: f64,
    offset: f64,
}

struct Bench<'a> {
    basis: Basis<'a>,
    levels: Vec<Weighed>,
    design: Design,
    with_offset: bool,
}

impl Bench<'_> {
    fn truth(&self, position: f64) -> f64 {
        SLOPE * position + if self.with_offset { OFFSET } else { 0.0 }
    }

    /// The fitted line, and the points it was fitted to, as the bench sees them.
    fn fitted(&self, made: Made) -> (Line, Vec<Point>) {
        let transfer = self.basis.transfer;
        let seen = |(at, level): (usize, &Weighed)| {
            let mv = transfer.voltage_mv(level.point.x);
            let own = made
                .place
                .filter(|(which, _)| *which == at)
                .map_or(0.0, |(_, off)| off);
            Point {
                x: transfer.position(mv + made.meter * self.basis.meter.systematic_mv(mv)),
                y: self.truth(level.point.x) + own + made.offset,
                ..level.point
            }
        };
        let points: Vec<Point> = self.levels.iter().enumerate().map(seen).collect();
        let design = if self.with_offset {
            Design::straight(&points)
        } else {
            Design::through_origin(&points)
        };
        (Line::fit(&points, design.expect("a line")), points)
    }

    /// Gain and offset less what they really are, a reading at a voltage, and the second level's residual.
    fn values(&self, made: Made, mv: f64) -> [f64; 4] {
        let transfer = self.basis.transfer;
        let (line, points) = self.fitted(made);
        let count = self.truth(transfer.position(mv)) + made.offset;
        [
            transfer.gain(line.slope),
            (line.intercept - made.offset) / transfer.per_sample,
            transfer.voltage_mv((count - line.intercept) / line.slope),
            points[1].y - line.at(points[1].x),
        ]
    }

    /// What each error moves each value by, in its standard uncertainty.
    fn moves(&self, mv: f64) -> Vec<[f64; 4]> {
        let none = self.values(Made::default(), mv);
        let place = |(at, level): (usize, &Weighed)| Made {
            place: Some((at, PART * level.error.variance.sqrt())),
            ..Made::default()
        };
        let mut made: Vec<Made> = self.levels.iter().enumerate().map(place).collect();
        made.push(Made {
            meter: PART,
            ..Made::default()
        });
        made.push(Made {
            offset: PART * self.basis.unknown_offset,
            ..Made::default()
        });
        let moved = |made: &Made| {
            let moved = self.values(*made, mv);
            std::array::from_fn(|value| (moved[value] - none[value]) / PART)
        };
        made.iter().map(moved).collect()
    }

    fn agrees(&self, mv: f64) {
        let moves = self.moves(mv);
        let both = |one: usize, other: usize| -> f64 {
            moves.iter().map(|moved| moved[one] * moved[other]).sum()
        };
        let close = |what: &str, stated: f64, found: f64| {
            let off = (stated - found).abs();
            assert!(
                off <= 2e-3 * found.abs().max(1e-9),
                "{what}: {stated} {found}"
            );
        };
        let transfer = self.basis.transfer;
        let parameters = self.basis.parameters(&self.levels, &self.design);
        close("gain", parameters.gain.u, both(0, 0).sqrt());
        close("offset", parameters.offset.u, both(1, 1).sqrt());
        let covariance = parameters.correlation * parameters.gain.u * parameters.offset.u;
        close("covariance", covariance, both(0, 1));
        let residual = self
            .basis
            .residual(&self.levels, &self.design, &self.levels[1]);
        close("residual", residual, both(3, 3).sqrt());
        let error = self.basis.reading_error(&self.levels, &self.design, mv);
        let own = self.basis.noise.one().variance;
        let per_mv = SLOPE * transfer.counts_per_mv(mv);
        let alone = own / per_mv.powi(2) + transfer.unit_mv.powi(2) / 12.0;
        close("reading", error.variance, both(2, 2) + alone);
    }
}

/// In both topologies, with an offset and without, where the meter, an offset that is not known, or noise is most of it.
#[test]
fn uncertainties_are_what_errors_make() {
    for mut front_end in [divided(), supply()] {
        front_end.converter.samples = 4;
        let transfer = Transfer::new(&front_end).expect("legal");
        let noise = stated_noise(&front_end, 2);
        for with_offset in [true, false] {
            for (range_ppm, unknown) in [(0.0, 0.0), (800.0, 0.0), (800.0, 9.0), (0.0, 40.0)] {
                let meter = Meter {
                    ppm_reading: range_ppm,
                    ppm_range: range_ppm,
                    range_mv: 10_000.0,
                    digits: 0.0,
                    resolution_mv: 0.5,
                };
                let basis = Basis {
                    transfer: &transfer,
                    meter: &meter,
                    noise: &noise,
                    unknown_offset: if with_offset { 0.0 } else { unknown },
                    slope: SLOPE,
                };
                let levels: Vec<Weighed> = [(2100.0, 3), (2600.0, 1), (3500.0, 2)]
                    .map(|(mv, rows)| level(transfer.position(mv), &vec![0.0; rows], 0.5, 0.5))
                    .iter()
                    .map(|level| basis.weigh(level))
                    .collect();
                let points: Vec<Point> = levels.iter().map(|level| level.point).collect();
                let design = if with_offset {
                    Design::straight(&points)
                } else {
                    Design::through_origin(&points)
                };
                let bench = Bench {
                    basis,
                    levels,
                    design: design.expect("a line"),
                    with_offset,
                };
                for mv in [2000.0, 2825.0, 3650.0] {
                    bench.agrees(mv);
                }
            }
        }
    }
}
