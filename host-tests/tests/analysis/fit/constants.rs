//! The constants that are chosen for a curve, against every count of the cell's range and against what any others would give.

use num_bigint::BigInt;
use num_rational::BigRational;
use num_traits::Signed;
use tallyvolt::{LineConstants, QuotientConstants};
use tallyvolt_analysis::calibrate::fit::constants::{Chosen, DISTANCE_LIMIT, choose};
use tallyvolt_analysis::describe::firmware::{Constants, Firmware};
use tallyvolt_harness::simulated::front_end;
use tallyvolt_model::Model;
use tallyvolt_model::calibration::CalibrationModel;
use tallyvolt_model::front_end::{FrontEnd, Topology};
use tallyvolt_model::rational::{fraction, nearest_ties_up, whole};

use super::changed;

/// Gains in 2^-24 and offsets in 1/256 counts: as drawn, some thousandths off either way, and some per cent off.
const MODULES: [(u32, i32); 7] = [
    (16_777_216, 0),
    (16_844_325, 320),
    (16_710_107, -411),
    (16_799_999, 77),
    (16_300_007, 2_500),
    (17_250_001, -2_900),
    // Its D below 2^16 would lie more than a twentieth of a millivolt beside the curve.
    (16_761_465, -1_801),
];

fn two_to(power: u32) -> BigRational {
    BigRational::from_integer(BigInt::from(1) << power)
}

/// The constants' rational at a count, in output units.
fn value(constants: &Constants, count: u32) -> BigRational {
    match constants {
        Constants::Line(line) => {
            let sum = BigInt::from(line.factor) * (i64::from(count) - i64::from(line.first));
            BigRational::from_integer(sum + line.addend) / two_to(line.shift.into()) - half()
        }
        Constants::Quotient(quotient) => BigRational::new(
            quotient.numerator.into(),
            denominator(quotient, count).into(),
        ),
    }
}

fn denominator(quotient: &QuotientConstants, count: u32) -> i64 {
    let position = i64::from(count) - i64::from(quotient.first);
    i64::from(quotient.at_first) + (position << quotient.step_log2)
}

fn half() -> BigRational {
    fraction(1, 2)
}

/// A module with the constants that were chosen for it.
struct Case {
    model: Model,
    chosen: Chosen,
    /// From the first count on the cell's side of one end of its range to the first beyond the other.
    range: [u32; 2],
}

impl Case {
    fn of(front_end: &FrontEnd, (gain, offset): (u32, i32)) -> Self {
        let curve = CalibrationModel::from_words(gain, offset);
        let firmware = Firmware::describe(front_end).expect("legal");
        let chosen = choose(front_end, &firmware, &curve).expect("a form");
        let model = Model::new(front_end, curve);
        let counts: Vec<u32> = (1..model.largest_count()).collect();
        let rises = matches!(front_end.topology, Topology::DividedInput(_));
        let first_beyond = |uv| {
            let before = |count: &u32| match model.voltage_uv(*count) {
                Some(voltage) if rises => voltage < whole(uv),
                Some(voltage) => voltage >= whole(uv),
                // A quotient's counts below its pole.
                None => true,
            };
            counts[counts.partition_point(before).min(counts.len() - 1)]
        };
        let mut range = [front_end.cell.min_uv, front_end.cell.max_uv].map(first_beyond);
        range.sort_unstable();
        Self {
            model,
            chosen,
            range,
        }
    }

    fn exact(&self, count: u32) -> BigRational {
        self.model.units(count).expect("a voltage")
    }

    fn error(&self, constants: &Constants, count: u32) -> BigRational {
        value(constants, count) - self.exact(count)
    }

    /// Over every count of the range; of more than some thousands, over a part of them and both ends.
    fn largest_error(&self, constants: &Constants) -> BigRational {
        let [first, last] = self.range;
        let counts = (first..=last).step_by((last - first) as usize / 3_000 + 1);
        let errors = counts
            .chain([last])
            .map(|count| self.error(constants, count).abs());
        errors.max().expect("counts")
    }

    /// M is the nearest to the slope, no other B lies closer, and all counts that are voltages are in the window.
    fn judge_line(&self, line: &LineConstants) {
        let [first, last] = self.range;
        let slope = (self.exact(last) - self.exact(first)) / whole(last - first);
        let factor = nearest_ties_up(&(slope * two_to(line.shift.into())));
        assert_eq!(factor, BigInt::from(line.factor));
        for addend in [line.addend.checked_sub(1), line.addend.checked_add(1)] {
            let other = LineConstants {
                addend: addend.expect("far from both"),
                ..*line
            };
            let other = Constants::Line(other);
            let farther = |end: u32| self.error(&other, end).abs() >= self.chosen.distance;
            assert!(self.range.into_iter().any(farther));
        }
        // One count further down would be below 0, one further up above 65 535.
        assert!(line.first == 1 || line.addend < line.factor);
        self.judge_last(line.first + line.counts, |next| {
            value(&self.chosen.constants, next) + half() >= whole(1 << 16)
        });
    }

    /// D is the nearest even number, K makes the errors of both ends alike, and t is as large as D leaves room for.
    fn judge_quotient(&self, quotient: &QuotientConstants) {
        let [first, last] = self.range;
        let steepness = (self.exact(first + 1).recip() - self.exact(first).recip()).recip();
        let start = &steepness / self.exact(first) - whole(first);
        let step = u32::from(quotient.step_log2);
        let at_zero = denominator(quotient, 0);
        let exact_at_zero = start.clone() * two_to(step);
        assert!(at_zero % 2 == 0);
        assert!((BigRational::from_integer(at_zero.into()) - exact_at_zero).abs() <= whole(1));
        let ends = [first, last];
        let sum: BigRational = ends
            .map(|end| self.error(&self.chosen.constants, end))
            .into_iter()
            .sum();
        let a_step: BigRational = ends
            .map(|end| fraction(1, denominator(quotient, end)))
            .into_iter()
            .sum();
        assert!(sum.abs() <= a_step * half());
        // The crate's forms, by the D of the last count: the bits of D, and the largest t.
        let end = quotient.first + quotient.counts;
        let bits_needed = 64 - denominator(quotient, end - 1).leading_zeros();
        let (bits, largest_step) = [(16, 7), (17, 7), (28, 27)]
            .into_iter()
            .find(|(bits, _)| bits_needed <= *bits)
            .expect("a form");
        // One count in 256 may be left out at the rail.
        let rail = self.model.largest_count();
        let reach = start + whole(rail - rail / 256 + 2);
        assert!(reach.clone() * two_to(step) <= two_to(bits));
        assert!(step == largest_step || reach * two_to(step + 1) > two_to(bits));
        // V of the first count fits 16 bits, and that of the one before does not: (2 K + D) / 2 D below 2^16.
        let fits = |denominator: i64| {
            denominator > 0
                && 2 * i128::from(quotient.numerator) < 131_071 * i128::from(denominator)
        };
        let at_first = i64::from(quotient.at_first);
        assert!(fits(at_first));
        assert!(quotient.first == 1 || !fits(at_first - (1 << step)));
        assert!(end + rail / 256 >= rail);
        self.judge_last(end, |next| denominator(quotient, next) >= 1 << bits);
    }

    /// The window ends below the rail, or where the next count is none of the form's.
    fn judge_last(&self, end: u32, is_beyond: impl Fn(u32) -> bool) {
        assert!(end == self.model.largest_count() || is_beyond(end));
    }

    fn judge(&self) {
        let distance = &self.chosen.distance;
        let (numerator, denominator) = DISTANCE_LIMIT;
        assert_eq!(*distance, self.largest_error(&self.chosen.constants));
        assert!(*distance <= fraction(numerator.into(), denominator.into()));
        match &self.chosen.constants {
            Constants::Line(line) => self.judge_line(line),
            Constants::Quotient(quotient) => self.judge_quotient(quotient),
        }
    }

    /// S of a line. Of a quotient, t and the largest D.
    fn form(&self) -> (u8, i64) {
        match &self.chosen.constants {
            Constants::Line(line) => (line.shift, 0),
            Constants::Quotient(quotient) => (
                quotient.step_log2,
                denominator(quotient, quotient.first + quotient.counts - 1),
            ),
        }
    }
}

#[test]
fn no_other_constants_lie_closer() {
    let mut judged = 0;
    for name in [
        "hut-divided-10bit",
        "hut-divided-12bit",
        "hut-divided-16bit",
        "hut-divided-16bit-100uv",
        "hut-divided-12bit-x1024",
        "hut-supply-10bit-thermistor",
        "hut-supply-12bit",
        "hut-supply-12bit-x16",
        "hut-lto-supply-12bit",
    ] {
        let front_end = front_end(name);
        for module in MODULES {
            Case::of(&front_end, module).judge();
            judged += 1;
        }
    }
    assert_eq!(judged, 63);
    // Over a range of four to one and more the constants of a quotient lie farthest from the curve between the ends.
    let wide = changed(
        "hut-supply-12bit",
        &[
            ("microvolts = 1_200_000", "microvolts = 600_000"),
            ("min_mv = 2000", "min_mv = 800"),
        ],
    );
    let between = MODULES.map(|module| {
        let case = Case::of(&wide, module);
        case.judge();
        let ends = case
            .range
            .map(|end| case.error(&case.chosen.constants, end).abs());
        ends.iter().all(|end| *end < case.chosen.distance)
    });
    assert!(
        between.iter().filter(|between| **between).count() >= 4,
        "{between:?}"
    );
    // 7.1 V at full scale: the window ends where 0.1 mV steps pass 16 bits.
    let taller = changed(
        "hut-divided-16bit-100uv",
        &[("top_ohms = 24900", "top_ohms = 48000")],
    );
    for module in MODULES {
        let case = Case::of(&taller, module);
        case.judge();
        let (first, counts) = case.chosen.constants.window();
        assert!(first + counts < case.model.largest_count());
    }
}

/// The cheapest form that serves: lines of 16 bits but where M is longer, quotients by the bits of D.
#[test]
fn the_form_is_the_cheapest_that_serves() {
    let shipped = |name: &str| MODULES.map(|module| Case::of(&front_end(name), module).form());
    assert_eq!(shipped("hut-divided-10bit"), [(13, 0); 7]);
    assert_eq!(shipped("hut-divided-16bit"), [(19, 0); 7]);
    assert_eq!(shipped("hut-divided-16bit-100uv"), [(32, 0); 7]);
    let [.., nearer, farther] = shipped("hut-supply-10bit-thermistor");
    assert_eq!((nearer.0, nearer.1 < 1 << 16), (5, true));
    assert_eq!((farther.0, farther.1 < 1 << 16), (6, false));
    assert!(
        shipped("hut-supply-12bit")
            .iter()
            .all(|form| form.1 < 1 << 16)
    );
    let long = shipped("hut-supply-12bit-x16");
    assert!(long.iter().all(|form| (1 << 16..1 << 17).contains(&form.1)));
    let wider = changed(
        "hut-supply-12bit-x16",
        &[("samples = 16", "samples = 1024")],
    );
    let case = Case::of(&wider, MODULES[1]);
    case.judge();
    assert!((1 << 17..1 << 28).contains(&case.form().1));
}
