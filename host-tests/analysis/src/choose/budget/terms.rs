//! The terms of a budget: everything a front-end file says may be off, each with its distribution.

use num_rational::BigRational;
use tallyvolt_model::front_end::{Drift, FrontEnd, FullScale, Tolerance, Topology};
use tallyvolt_model::rational::{float, float_or_zero, in_millivolts};

use super::combine::{FirstOrder, combine};
use super::distribution::Distribution;
use super::input::{Correlation, Input};
use super::noise::{self, Averaged};
use super::quantity::{Place, Quantity, SLOTS};
use super::reading::{Circuit, Climate, Climates, State};

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
    pub fn of(front_end: &FrontEnd, sites_mv: Vec<f64>) -> Self {
        let mut rows = Rows::default();
        board(front_end, &mut rows);
        let averaged = readings(front_end, &mut rows);
        let unit_mv = in_millivolts(front_end.unit_uv);
        // A rounded number lies anywhere within half a step (GUM F.2.2.3).
        let rounding = Distribution::rectangular(unit_mv / 2.0);
        rows.add(Quantity::OutputRounding, rounding);
        if front_end.meter.is_some() {
            rows.add(Quantity::Meter, Distribution::rectangular(1.0));
        }
        let constants = Distribution::rectangular(unit_mv * CONSTANTS_PART);
        rows.add(Quantity::Constants, constants);
        let mut inputs = vec![Input::around_zero(Distribution::Constant); SLOTS];
        for row in &rows.0 {
            inputs[row.quantity.slot()].distribution = row.distribution;
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

    /// What a reading of each site is off by, over the range of temperature and calibrated as `state` says.
    pub fn over_range(&self, state: State) -> Vec<FirstOrder> {
        let circuit = &self.circuit;
        let model =
            |values: &[f64], errors: &mut [f64]| circuit.range_errors_mv(state, values, errors);
        let sites = circuit.sites_mv.len();
        combine(&self.inputs, &self.correlations, sites, &model)
    }
}

/// The largest distance of a module's constants from the curve that was fitted, in parts of an output step: what `fit`
/// chooses them by.
const CONSTANTS_PART: f64 = 1.0 / 20.0;

#[derive(Default)]
struct Rows(Vec<Term>);

impl Rows {
    fn add(&mut self, quantity: Quantity, distribution: Distribution) {
        self.add_of("", quantity, distribution);
    }

    /// A term of which there are several, with what tells them apart.
    fn add_of(&mut self, which: &str, quantity: Quantity, distribution: Distribution) {
        let (label, unit) = quantity.words();
        if !distribution.is_constant() {
            self.0.push(Term {
                quantity,
                label: format!("{label}{which}"),
                unit,
                distribution,
            });
        }
    }

    fn limit(&mut self, quantity: Quantity, half: &Option<BigRational>) {
        self.add(quantity, Distribution::rectangular(float_or_zero(half)));
    }
}

fn board(front_end: &FrontEnd, rows: &mut Rows) {
    let reference = &front_end.reference;
    rows.limit(Quantity::ReferenceTolerance, &reference.tolerance.ppm);
    rows.limit(Quantity::ReferenceDrift, &reference.tolerance.ppm_per_k);
    rows.limit(Quantity::ReferenceAgeing, &reference.ageing_ppm);
    let converter = &front_end.converter;
    if let Topology::DividedInput(divider) = &front_end.topology {
        let Tolerance { ppm, ppm_per_k } = &divider.tolerance;
        rows.limit(Quantity::TopTolerance, ppm);
        rows.limit(Quantity::TopDrift, ppm_per_k);
        rows.limit(Quantity::BottomTolerance, ppm);
        rows.limit(Quantity::BottomDrift, ppm_per_k);
        rows.limit(Quantity::Leakage, &converter.sampling.leakage_na);
    }
    rows.limit(Quantity::ConverterOffset, &converter.accuracy.offset_lsb);
    rows.limit(Quantity::ConverterGain, &converter.accuracy.gain_lsb);
}

/// The rows of a reading and of each calibration reading.
fn readings(front_end: &FrontEnd, rows: &mut Rows) -> Averaged {
    let converter = &front_end.converter;
    let averaged_over = front_end.calibration.readings.unwrap_or(1);
    let reading = noise::averaged(converter, 1);
    let bench = noise::averaged(converter, averaged_over);
    let nonlinearity = Distribution::rectangular(float_or_zero(&converter.accuracy.inl_lsb));
    let at = |uv: u32| format!(", calibration at {} mV", in_millivolts(uv));
    let (low, high) = front_end.calibration_points_uv();
    for (place, averaged, which) in [
        (Place::Reading, &reading, String::new()),
        (Place::AtPoint, &bench, at(front_end.calibration_point_uv())),
        (Place::LowPoint, &bench, at(low)),
        (Place::HighPoint, &bench, at(high)),
    ] {
        let mut add = |quantity, distribution| rows.add_of(&which, quantity, distribution);
        add(Quantity::Nonlinearity(place), nonlinearity);
        add(Quantity::Noise(place), averaged.noise);
        add(Quantity::Quantisation(place), averaged.quantisation);
        add(Quantity::Dither(place), averaged.stairs);
        add(Quantity::Shift(place), averaged.shift);
    }
    reading
}

fn correlations(front_end: &FrontEnd) -> Vec<Correlation> {
    let Topology::DividedInput(divider) = &front_end.topology else {
        return Vec::new();
    };
    let coefficient = float_or_zero(&divider.correlation);
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
    let (low, high) = front_end.calibration_points_uv();
    Circuit {
        reference_mv: in_millivolts(front_end.reference.microvolts),
        divider_ohms: (front_end.topology.divider())
            .map(|divider| (float(&divider.top_ohms), float(&divider.bottom_ohms))),
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
            in_millivolts(front_end.calibration_point_uv()),
            in_millivolts(low),
            in_millivolts(high),
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
    let reference = &front_end.reference.tolerance;
    let mut stated = vec![
        ("reference.tolerance_ppm", &reference.ppm),
        ("reference.tempco_ppm_per_k", &reference.ppm_per_k),
        ("converter.offset_lsb", &accuracy.offset_lsb),
        ("converter.gain_lsb", &accuracy.gain_lsb),
        ("converter.inl_lsb", &accuracy.inl_lsb),
        ("converter.noise_rms_lsb", &accuracy.noise_rms_lsb),
    ];
    if let Topology::DividedInput(divider) = &front_end.topology {
        let tolerance = &divider.tolerance;
        stated.push(("divider.tolerance_ppm", &tolerance.ppm));
        stated.push(("divider.tempco_ppm_per_k", &tolerance.ppm_per_k));
    }
    let missing = stated.into_iter().filter(|(_, value)| value.is_none());
    let missing: Vec<&str> = missing.map(|(key, _)| key).collect();
    if !missing.is_empty() {
        let keys = missing.join(", ");
        note(&format!("counted as perfect, not in the file: {keys}"));
    }
    note(&averaged.said);
    notes
}
