//! Conversions and their rivals: the same voltages as they are usually computed, verified before anyone times them.

mod float;
mod whole;

use tallyvolt::{
    Acquisition, CellRange, Count, DividedConversion, DividedDescription, DividedInput, Fault,
    OutputUnit, SupplyConversion, SupplyDescription, SupplyReference, Voltage, proven,
};
use tallyvolt_analysis::calibrate::fit::stored::form;
use tallyvolt_analysis::describe::firmware::width::{AtWidth, at_width};
use tallyvolt_analysis::describe::firmware::{Constants, Firmware, answered};
use tallyvolt_analysis::describe::front_end_file;
use tallyvolt_harness::cases::{self, Case};
use tallyvolt_model::Model;
use tallyvolt_model::calibration::CalibrationModel;
use tallyvolt_model::front_end::FrontEnd;
use tallyvolt_model::integer_form::IntegerForm;
use tallyvolt_model::outcome::Outcome;

use float::{Folded, Formula};
use whole::Whole;

/// A count's voltage, or its fault.
pub type Answer = Result<Voltage, Fault>;

/// Counts that one run of a competitor converts.
pub const COUNTS: u32 = 4096;

/// One way to convert [`COUNTS`] counts; returns a fold of the answers, so that none can be left out.
pub struct Competitor {
    pub name: &'static str,
    pub run: Box<dyn Fn() -> u32>,
}

/// The ways to convert the counts of one front end. The crate's is the first, the formula in f64 the second.
pub struct Race {
    pub name: String,
    /// The topology's word.
    pub topology: &'static str,
    pub competitors: Vec<Competitor>,
}

/// Every race, verified: all shipped kinds of arithmetic, and each topology calibrated and with its constants compiled in.
pub fn races() -> Vec<Race> {
    // Gain 1.0039738, offset 1.25 counts.
    let stored = (16_843_886, 320);
    let (stored, drawn) = (Some(stored), None);
    vec![
        divided_compiled_in(),
        loaded("hut-divided-12bit", drawn),
        loaded("hut-divided-12bit", stored),
        loaded("hut-divided-12bit-x1024", stored),
        loaded("hut-divided-16bit", drawn),
        loaded("hut-divided-16bit-100uv", drawn),
        supply_compiled_in(),
        loaded("hut-supply-12bit", drawn),
        loaded("hut-supply-12bit", stored),
        loaded("hut-supply-12bit-x16", drawn),
        loaded("hut-supply-12bit-x16", stored),
    ]
}

fn shipped(name: &str) -> FrontEnd {
    let path = cases::shipped::folder().join(format!("{name}.toml"));
    front_end_file::read(&path).expect("shipped front ends are good")
}

/// A front end and the constants of a module, both known at run time only.
fn loaded(name: &str, curve: Option<(u32, i32)>) -> Race {
    let front_end = shipped(name);
    let case = Case {
        front_end: front_end.clone(),
        curve,
    };
    let conversion = case.conversion().expect("shipped front ends are good");
    let constants = conversion.constants();
    let model = case.model();
    let (gain, offset) = curve.unwrap_or((1 << 24, 0));
    let formula = Formula::new(&front_end, &CalibrationModel::from_words(gain, offset));
    let exact = match curve {
        None => IntegerForm::of(&model),
        Some(_) => form(&constants, model.largest_count()),
    };
    // A module's constants lie a little beside the curve that the floats compute.
    let off = if curve.is_some() { 2 } else { 1 };
    let mut race = Start::new(&model, &exact);
    match (Firmware::describe(&front_end).expect("good"), constants) {
        (Firmware::Divided(input), Constants::Line(line)) => {
            let folded = Folded::divided_from(&formula);
            let bits = input.summing().rail().0;
            at_width(bits, Enter(&mut race, input, line));
            race.enter("f64 formula", off, move |count| formula.divided(count));
            race.enter("f64 folded", off, move |count| folded.divided(count));
        }
        (Firmware::Supply(reference), Constants::Quotient(quotient)) => {
            let module = reference.module(quotient).expect("chosen for it");
            let folded = Folded::supply_from(&formula);
            race.enter("tallyvolt", 0, move |count| module.voltage(count));
            race.enter("f64 formula", off, move |count| formula.supply(count));
            race.enter("f64 folded", off, move |count| folded.supply(count));
        }
        _ => unreachable!("constants are those of the topology"),
    }
    if curve.is_none() {
        let whole = Whole::new(&front_end);
        race.enter("u64 division", 0, move |count| whole.voltage(count));
    }
    let calibration = if curve.is_some() { ", calibrated" } else { "" };
    race.ready(format!("{name}{calibration}"))
}

/// Lets the crate's own conversion start, at the width of its counts.
struct Enter<'a>(&'a mut Start, DividedInput, tallyvolt::LineConstants);

impl AtWidth for Enter<'_> {
    type Answer = ();

    fn at<const BITS: u32>(self) {
        let module = self.1.module::<BITS>(self.2).expect("chosen for it");
        self.0
            .enter("tallyvolt", 0, move |count| module.voltage(count));
    }
}

const LFP: CellRange = CellRange {
    min_uv: 2_000_000,
    max_uv: 3_650_000,
};
const DIVIDED: DividedInput = proven!(DividedInput::new(DividedDescription {
    acquisition: Acquisition::single(12),
    reference_uv: 1_225_000,
    top_ohms: 24_900,
    bottom_ohms: 10_000,
    cell: LFP,
    unit: OutputUnit::Millivolt,
}));
const DIVIDED_AS_DRAWN: DividedConversion<12> = proven!(DIVIDED.conversion());
const DIVIDED_FORMULA: Formula = Formula {
    largest: 4095,
    centre: 0.5,
    full_scale: 4096.0,
    reference: 1225.0,
    top: 24_900.0,
    bottom: 10_000.0,
    gain: 1.0,
};
const DIVIDED_FOLDED: Folded = Folded::divided_from(&DIVIDED_FORMULA);

/// `hut-divided-12bit` with nothing left to load.
fn divided_compiled_in() -> Race {
    let front_end = shipped("hut-divided-12bit");
    let model = Model::new(&front_end, CalibrationModel::identity());
    let mut race = Start::new(&model, &IntegerForm::of(&model));
    race.enter("tallyvolt", 0, |count| DIVIDED_AS_DRAWN.voltage(count));
    race.enter("f64 formula", 1, |count| DIVIDED_FORMULA.divided(count));
    race.enter("f64 folded", 1, |count| DIVIDED_FOLDED.divided(count));
    race.ready("hut-divided-12bit, compiled in".to_owned())
}

const SUPPLY: SupplyReference = proven!(SupplyReference::new(SupplyDescription {
    acquisition: Acquisition::single(12),
    reference_uv: 1_200_000,
    cell: LFP,
    unit: OutputUnit::Millivolt,
}));
const SUPPLY_AS_DRAWN: SupplyConversion = proven!(SUPPLY.conversion());
const SUPPLY_FORMULA: Formula = Formula {
    reference: 1200.0,
    ..DIVIDED_FORMULA
};
const SUPPLY_FOLDED: Folded = Folded::supply_from(&SUPPLY_FORMULA);

/// `hut-supply-12bit` with nothing left to load.
fn supply_compiled_in() -> Race {
    let front_end = shipped("hut-supply-12bit");
    let model = Model::new(&front_end, CalibrationModel::identity());
    let mut race = Start::new(&model, &IntegerForm::of(&model));
    race.enter("tallyvolt", 0, |count| SUPPLY_AS_DRAWN.voltage(count));
    race.enter("f64 formula", 1, |count| SUPPLY_FORMULA.supply(count));
    race.enter("f64 folded", 1, |count| SUPPLY_FOLDED.supply(count));
    race.ready("hut-supply-12bit, compiled in".to_owned())
}

/// A race that is being set up: nobody enters unverified.
struct Start {
    topology: &'static str,
    wanted: Vec<Outcome>,
    counts: Vec<u32>,
    competitors: Vec<Competitor>,
}

impl Start {
    fn new(model: &Model, form: &IntegerForm) -> Self {
        let wanted: Vec<_> = (0..=model.largest_count() + 1)
            .map(|count| form.outcome(count))
            .collect();
        let valid: Vec<_> = (0..)
            .zip(&wanted)
            .filter(|(_, outcome)| matches!(outcome, Outcome::Units(_)))
            .map(|(count, _)| count)
            .collect();
        // Voltages in no order: a module at work, where no branch can be foretold from the count before. The upper bits
        // of a full-period textbook generator do.
        let mut state = 1_u32;
        let counts = (0..COUNTS).map(|_| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            valid[((u64::from(state) * valid.len() as u64) >> 32) as usize]
        });
        Self {
            topology: model.front_end().topology.word(),
            counts: counts.collect(),
            wanted,
            competitors: Vec::new(),
        }
    }

    /// Verifies a competitor at every count, faults included, and lets it start. A float may be a unit off.
    fn enter(
        &mut self,
        name: &'static str,
        tolerance: u32,
        voltage: impl Fn(Count) -> Answer + Copy + 'static,
    ) {
        for (count, wanted) in (0..).zip(&self.wanted) {
            let right = match (answered(voltage(Count(count))), *wanted) {
                (Outcome::Units(units), Outcome::Units(wanted)) => {
                    units.abs_diff(wanted) <= tolerance
                }
                (answer, wanted) => answer == wanted,
            };
            assert!(right, "{name} is wrong at count {count}, exact is {wanted}");
        }
        let counts = self.counts.clone();
        let run = move || {
            counts.iter().fold(0_u32, |sum, count| {
                sum.wrapping_add(match voltage(Count(*count)) {
                    Ok(voltage) => u32::from(voltage.0),
                    Err(fault) => 0x10000 + fault as u32,
                })
            })
        };
        self.competitors.push(Competitor {
            name,
            run: Box::new(run),
        });
    }

    fn ready(self, name: String) -> Race {
        Race {
            name,
            topology: self.topology,
            competitors: self.competitors,
        }
    }
}
