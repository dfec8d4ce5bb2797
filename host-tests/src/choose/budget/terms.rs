//! The terms of a budget: everything a front-end file says may be off, each with its distribution.

use num_rational::BigRational;
use num_traits::Zero;
use tallyvolt_model::front_end::{Drift, FrontEnd, FullScale, Tolerance, Topology};
use tallyvolt_model::rational::float;

use super::distribution::Distribution;
use super::input::{Correlation, Input};
use super::noise::{self, Averaged};
use super::quantity::{Place, Quantity, SLOTS};
use super::reading::{Circuit, Climate, Climates};

/// One row of a budget.
#[derive(Debug, Clone)]
pub struct Term {
    /// Which quantity.
    pub quantity: Quantity,
    /// In words.
    pub label: String,
    /// Unit of its value.
    pub unit: &'static str,
    /// What is known about it.
    pub distribution: Distribution,
}

/// All terms of a front end, and the circuit that they act in.
#[derive(Debug, Clone)]
pub struct Terms {
    /// Rows that are not constant.
    pub rows: Vec<Term>,
    /// Inputs by slot; constant where there is no row.
    pub inputs: Vec<Input>,
    /// Resistors that go together.
    pub correlations: Vec<Correlation>,
    /// The circuit.
    pub circuit: Circuit,
    /// What samples do to a reading's noise and quantisation.
    pub averaged: Averaged,
    /// What the file leaves open, in words.
    pub notes: Vec<String>,
}

impl Terms {
    /// The terms of a front end that reads at the given true voltages (millivolts).
    #[must_use]
    pub fn of(front_end: &FrontEnd, sites_mv: Vec<f64>) -> Self {
        let mut rows = Rows::default();
        board(front_end, &mut rows);
        let averaged = readings(front_end, &mut rows);
        rows.add(
            Quantity::OutputRounding,
            "output rounding",
            "mV",
            // A rounded number lies anywhere within half a step (GUM F.2.2.3).
            Distribution::rectangular(f64::from(front_end.unit_uv) / 2000.0),
        );
        if front_end.meter.is_some() {
            rows.add(
                Quantity::Meter,
                "meter",
                "of limit",
                Distribution::rectangular(1.0),
            );
        }
        rows.add(
            Quantity::Constants,
            "module constants",
            "mV",
            Distribution::rectangular(f64::from(front_end.unit_uv) / 1000.0 * CONSTANTS_PART),
        );
        let mut inputs = vec![Input::around_zero(Distribution::Constant); SLOTS];
        for row in &rows.0 {
            if let Some(input) = inputs.get_mut(row.quantity.slot()) {
                input.distribution = row.distribution;
            }
        }
        Self {
            correlations: correlations(front_end),
            circuit: circuit(front_end, sites_mv),
            notes: notes(front_end, &averaged),
            rows: rows.0,
            inputs,
            averaged,
        }
    }
}

/// The largest distance of a module's constants from the curve that was fitted, in parts of an output step: what `fit`
/// chooses them by.
const CONSTANTS_PART: f64 = 1.0 / 20.0;

#[derive(Default)]
struct Rows(Vec<Term>);

impl Rows {
    fn add(
        &mut self,
        quantity: Quantity,
        label: impl Into<String>,
        unit: &'static str,
        distribution: Distribution,
    ) {
        if !distribution.is_constant() {
            self.0.push(Term {
                quantity,
                label: label.into(),
                unit,
                distribution,
            });
        }
    }

    fn limit(
        &mut self,
        quantity: Quantity,
        label: &str,
        unit: &'static str,
        half: Option<&BigRational>,
    ) {
        self.add(
            quantity,
            label,
            unit,
            Distribution::rectangular(or_zero(half)),
        );
    }

    fn part(&mut self, name: &str, tolerance: &Tolerance, quantities: (Quantity, Quantity)) {
        let (initial, drift) = quantities;
        self.limit(
            initial,
            &format!("{name} tolerance"),
            "ppm",
            tolerance.ppm.as_ref(),
        );
        self.limit(
            drift,
            &format!("{name} drift"),
            "ppm/K",
            tolerance.ppm_per_k.as_ref(),
        );
    }
}

fn board(front_end: &FrontEnd, rows: &mut Rows) {
    let reference = &front_end.reference;
    rows.part(
        "reference",
        &reference.tolerance,
        (Quantity::ReferenceTolerance, Quantity::ReferenceDrift),
    );
    let ageing = reference.ageing_ppm.as_ref();
    rows.limit(Quantity::ReferenceAgeing, "reference ageing", "ppm", ageing);
    if let Topology::DividedInput(divider) = &front_end.topology {
        rows.part(
            "top resistor",
            &divider.tolerance,
            (Quantity::TopTolerance, Quantity::TopDrift),
        );
        rows.part(
            "bottom resistor",
            &divider.tolerance,
            (Quantity::BottomTolerance, Quantity::BottomDrift),
        );
        let leakage = front_end.converter.sampling.leakage_na.as_ref();
        rows.limit(Quantity::Leakage, "input leakage", "nA", leakage);
    }
    let accuracy = &front_end.converter.accuracy;
    for (quantity, label, limit) in [
        (
            Quantity::ConverterOffset,
            "converter offset",
            &accuracy.offset_lsb,
        ),
        (
            Quantity::ConverterGain,
            "converter gain error",
            &accuracy.gain_lsb,
        ),
    ] {
        rows.limit(quantity, label, "steps", limit.as_ref());
    }
}

/// The rows of a reading and of each calibration reading.
fn readings(front_end: &FrontEnd, rows: &mut Rows) -> Averaged {
    let converter = &front_end.converter;
    let averaged_over = front_end.calibration.readings.unwrap_or(1);
    let reading = noise::averaged(converter, 1);
    let bench = noise::averaged(converter, averaged_over);
    let at = |uv: u32| format!(", calibration at {} mV", f64::from(uv) / 1000.0);
    let (low, high) = front_end.calibration_points_uv();
    for (place, averaged, suffix) in [
        (Place::Reading, &reading, String::new()),
        (Place::AtPoint, &bench, at(front_end.calibration_point_uv())),
        (Place::LowPoint, &bench, at(low)),
        (Place::HighPoint, &bench, at(high)),
    ] {
        let mut add = |quantity, label: &str, distribution| {
            rows.add(quantity, format!("{label}{suffix}"), "steps", distribution);
        };
        add(
            Quantity::Nonlinearity(place),
            "nonlinearity",
            Distribution::rectangular(or_zero(converter.accuracy.inl_lsb.as_ref())),
        );
        add(Quantity::Noise(place), "noise", averaged.noise);
        add(
            Quantity::Quantisation(place),
            "quantisation",
            averaged.quantisation,
        );
        add(
            Quantity::Dither(place),
            "stairs left by dither",
            averaged.stairs,
        );
        add(Quantity::Shift(place), "right shift", averaged.shift);
    }
    reading
}

fn correlations(front_end: &FrontEnd) -> Vec<Correlation> {
    let Topology::DividedInput(divider) = &front_end.topology else {
        return Vec::new();
    };
    let coefficient = or_zero(divider.correlation.as_ref());
    if coefficient == 0.0 {
        return Vec::new();
    }
    [
        (Quantity::TopTolerance, Quantity::BottomTolerance),
        (Quantity::TopDrift, Quantity::BottomDrift),
    ]
    .map(|(one, other)| Correlation {
        one: one.slot(),
        other: other.slot(),
        coefficient,
    })
    .into()
}

fn circuit(front_end: &FrontEnd, sites_mv: Vec<f64>) -> Circuit {
    let converter = &front_end.converter;
    let codes = f64::from(1_u32 << converter.bits);
    let millivolts = |uv: u32| f64::from(uv) / 1000.0;
    let (low, high) = front_end.calibration_points_uv();
    Circuit {
        reference_mv: millivolts(front_end.reference.microvolts),
        divider_ohms: match &front_end.topology {
            Topology::DividedInput(divider) => {
                Some((float(&divider.top_ohms), float(&divider.bottom_ohms)))
            }
            Topology::SupplyReference => None,
        },
        full_scale: match converter.full_scale {
            FullScale::PowerOfTwo => codes,
            FullScale::TopCode => codes - 1.0,
        },
        meter: front_end.meter.as_ref().map_or((0.0, 0.0), |meter| {
            let range_mv = 1e-6 * float(&meter.range_ppm) * float(&meter.range_mv);
            let digits_mv = float(&meter.digits) * float(&meter.resolution_mv);
            (1e-6 * float(&meter.reading_ppm), range_mv + digits_mv)
        }),
        calibration_mv: (
            millivolts(front_end.calibration_point_uv()),
            millivolts(low),
            millivolts(high),
        ),
        climates: climates(front_end),
        sites_mv,
    }
}

/// Data sheets state tolerances at this temperature: common practice, no source.
const DATA_SHEET_C: f64 = 25.0;

/// A slope acts over the distance in temperature; a box (box method, as data sheets of references define it) says nothing
/// about where in the range the change happens, so any other temperature may be the whole box away.
pub(crate) fn climates(front_end: &FrontEnd) -> Climates {
    let Some(environment) = &front_end.environment else {
        return Climates::default();
    };
    let (bench, min, max) = (
        float(&environment.calibrated_at_c),
        float(&environment.min_c),
        float(&environment.max_c),
    );
    let farthest = |from: f64| (max - from).abs().max((min - from).abs());
    let is_box = front_end.reference.drift == Drift::Box;
    let climate = |kelvins: f64, box_k: f64| Climate {
        reference_k: if is_box { box_k } else { kelvins },
        resistor_k: kelvins,
    };
    let span = max - min;
    let from_sheet = bench - DATA_SHEET_C;
    // Calibrated drift is counted from the bench: the parts' state there is the calibration's zero.
    let calibrated = farthest(bench);
    let away = if (max - bench).abs() >= (min - bench).abs() {
        calibrated
    } else {
        -calibrated
    };
    Climates {
        bench: climate(from_sheet, 0.0),
        uncalibrated_bench: climate(from_sheet, span),
        uncalibrated_range: climate(farthest(DATA_SHEET_C), span),
        calibrated_range: climate(from_sheet + away, span),
    }
}

fn notes(front_end: &FrontEnd, averaged: &Averaged) -> Vec<String> {
    let mut notes = Vec::new();
    let mut note = |text: &str| notes.push(text.to_owned());
    if front_end.environment.is_none() {
        note("no [environment]: no drift is counted, and \"over the range\" says nothing");
    }
    if front_end.meter.is_none() {
        note("no [meter]: calibrated figures hold for a perfect meter");
    }
    let accuracy = &front_end.converter.accuracy;
    let mut missing: Vec<&str> = [
        (
            "reference.tolerance_ppm",
            &front_end.reference.tolerance.ppm,
        ),
        (
            "reference.tempco_ppm_per_k",
            &front_end.reference.tolerance.ppm_per_k,
        ),
        ("converter.offset_lsb", &accuracy.offset_lsb),
        ("converter.gain_lsb", &accuracy.gain_lsb),
        ("converter.inl_lsb", &accuracy.inl_lsb),
        ("converter.noise_rms_lsb", &accuracy.noise_rms_lsb),
    ]
    .into_iter()
    .filter_map(|(key, value)| value.is_none().then_some(key))
    .collect();
    if let Topology::DividedInput(divider) = &front_end.topology {
        let tolerance = &divider.tolerance;
        missing.extend(
            [
                ("divider.tolerance_ppm", &tolerance.ppm),
                ("divider.tempco_ppm_per_k", &tolerance.ppm_per_k),
            ]
            .into_iter()
            .filter_map(|(key, value)| value.is_none().then_some(key)),
        );
    }
    if !missing.is_empty() {
        note(&format!(
            "counted as perfect, not in the file: {}",
            missing.join(", ")
        ));
    }
    note(&averaged.said);
    notes
}

fn or_zero(exact: Option<&BigRational>) -> f64 {
    exact.filter(|value| !value.is_zero()).map_or(0.0, float)
}
