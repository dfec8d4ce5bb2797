//! The error of one board, straight from the drawing: every part off by an amount of its own, calibrated or not, at every site.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use tallyvolt_analysis::choose::budget::quantity::{Place, Quantity, SLOTS};
use tallyvolt_analysis::choose::budget::reading::{Circuit, Climate, Climates, State, Temperature};

use super::near;

struct Board<'a> {
    circuit: &'a Circuit,
    off: &'a [f64; SLOTS],
}

impl Board<'_> {
    fn off(&self, quantity: Quantity) -> f64 {
        self.off[quantity.slot()]
    }

    /// Steps of a sample: the part of the reference that reaches the pin, and what the converter makes of it.
    fn steps(
        &self,
        true_mv: f64,
        climate: Climate,
        aged_ppm: f64,
        leak_na: f64,
        place: Place,
    ) -> f64 {
        let parts = |ppm: f64| 1.0 + 1e-6 * ppm;
        let reference_mv = self.circuit.reference_mv
            * parts(
                self.off(Quantity::ReferenceTolerance)
                    + self.off(Quantity::ReferenceDrift) * climate.reference_k
                    + aged_ppm,
            );
        let ratio = match self.circuit.divider_ohms {
            Some((top, bottom)) => {
                let drift_k = climate.resistor_k;
                let top = top
                    * parts(
                        self.off(Quantity::TopTolerance) + self.off(Quantity::TopDrift) * drift_k,
                    );
                let bottom = bottom
                    * parts(
                        self.off(Quantity::BottomTolerance)
                            + self.off(Quantity::BottomDrift) * drift_k,
                    );
                let parallel = 1.0 / (1.0 / top + 1.0 / bottom);
                (true_mv * bottom / (top + bottom) + 1e-6 * leak_na * parallel) / reference_mv
            }
            None => reference_mv / true_mv,
        };
        ratio * self.circuit.full_scale
            + ratio * self.off(Quantity::ConverterGain)
            + self.off(Quantity::ConverterOffset)
            + self.off(Quantity::Nonlinearity(place))
            + self.off(Quantity::Noise(place))
            + self.off(Quantity::Quantisation(place))
            + self.off(Quantity::Dither(place))
            + self.off(Quantity::Shift(place))
    }

    /// What the nominal circuit would have given those steps.
    fn nominal_mv(&self, steps: f64) -> f64 {
        let part = steps / self.circuit.full_scale;
        match self.circuit.divider_ohms {
            Some((top, bottom)) => part * self.circuit.reference_mv * (top + bottom) / bottom,
            None => self.circuit.reference_mv / part,
        }
    }

    fn metered_mv(&self, true_mv: f64) -> f64 {
        let (of_reading, range_mv) = self.circuit.meter;
        true_mv + self.off(Quantity::Meter) * (of_reading * true_mv + range_mv)
    }

    fn error_mv(&self, state: State, temperature: Temperature, true_mv: f64) -> f64 {
        let climates = &self.circuit.climates;
        let climate = match (state, temperature) {
            (State::Uncalibrated, Temperature::Calibration) => climates.uncalibrated_bench,
            (State::Uncalibrated, Temperature::Range) => climates.uncalibrated_range,
            (_, Temperature::Calibration) => climates.bench,
            (_, Temperature::Range) => climates.calibrated_range,
        };
        let (aged, leak) = (
            self.off(Quantity::ReferenceAgeing),
            self.off(Quantity::Leakage),
        );
        let steps = self.steps(true_mv, climate, aged, leak, Place::Reading);
        // The bench is new, and its leakage is not known from that in use.
        let bench = |true_mv, place| self.steps(true_mv, climates.bench, 0.0, 0.0, place);
        let (at, low, high) = self.circuit.calibration_mv;
        let read_mv = match state {
            State::Uncalibrated => self.nominal_mv(steps),
            State::OnePoint => {
                let gain = self.metered_mv(at) / self.nominal_mv(bench(at, Place::AtPoint));
                gain * self.nominal_mv(steps) + self.off(Quantity::Constants)
            }
            State::TwoPoint => {
                let points = [(low, Place::LowPoint), (high, Place::HighPoint)]
                    .map(|(mv, place)| (bench(mv, place), self.metered_mv(mv)));
                through(points, steps, self.circuit.divider_ohms.is_some())
                    + self.off(Quantity::Constants)
            }
        };
        read_mv - true_mv + self.off(Quantity::OutputRounding)
    }
}

/// The curve of a topology through two points: a straight line, or `k / (steps - offset)`.
fn through([(p1, v1), (p2, v2)]: [(f64, f64); 2], steps: f64, is_line: bool) -> f64 {
    if is_line {
        return v1 + (steps - p1) * (v2 - v1) / (p2 - p1);
    }
    let offset = (v1 * p1 - v2 * p2) / (v1 - v2);
    v1 * (p1 - offset) / (steps - offset)
}

#[test]
fn one_board_is_off_by_what_its_parts_are_off_by() {
    let mut rng = ChaCha8Rng::seed_from_u64(19);
    let mut compared = 0;
    for divider_ohms in [Some((30_000.0, 10_000.0)), None] {
        for _ in 0..200 {
            let mut within = |half: f64| half * (2.0 * rng.random::<f64>() - 1.0);
            let climate = |within: &mut dyn FnMut(f64) -> f64| Climate {
                reference_k: within(60.0),
                resistor_k: within(60.0),
            };
            let circuit = Circuit {
                reference_mv: 1225.0,
                divider_ohms,
                full_scale: 4096.0,
                meter: (1e-3, 0.5),
                calibration_mv: (3300.0, 2600.0, 4100.0),
                climates: Climates {
                    bench: climate(&mut within),
                    uncalibrated_bench: climate(&mut within),
                    uncalibrated_range: climate(&mut within),
                    calibrated_range: climate(&mut within),
                },
                sites_mv: vec![2500.0, 3500.0, 4200.0],
            };
            let mut off: [f64; SLOTS] = std::array::from_fn(|_| within(2.0));
            for (quantity, size) in [
                (Quantity::ReferenceTolerance, 9000.0),
                (Quantity::ReferenceDrift, 80.0),
                (Quantity::ReferenceAgeing, 3000.0),
                (Quantity::TopTolerance, 9000.0),
                (Quantity::BottomTolerance, 9000.0),
                (Quantity::TopDrift, 80.0),
                (Quantity::BottomDrift, 80.0),
                (Quantity::ConverterOffset, 9.0),
                (Quantity::ConverterGain, 9.0),
                (Quantity::Leakage, 900.0),
                (Quantity::Meter, 1.0),
            ] {
                off[quantity.slot()] = within(size);
            }
            let mut errors = vec![0.0; circuit.outputs()];
            circuit.errors_mv(&off, &mut errors);
            let board = Board {
                circuit: &circuit,
                off: &off,
            };
            for state in State::ALL {
                let mut range = [0.0; 3];
                circuit.range_errors_mv(state, &off, &mut range);
                for temperature in Temperature::ALL {
                    for (site, true_mv) in circuit.sites_mv.iter().enumerate() {
                        let error = errors[circuit.output(state, temperature, site)];
                        near(error, board.error_mv(state, temperature, *true_mv), 1e-6);
                        if temperature == Temperature::Range {
                            assert_eq!(error, range[site]);
                        }
                        compared += 1;
                    }
                }
            }
        }
    }
    assert_eq!(compared, 2 * 200 * 18);
}
