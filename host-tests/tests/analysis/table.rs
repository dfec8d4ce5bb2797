//! The table of every shipped file against an independent recomputation: the file read by the `toml` crate alone,
//! the formulas of the trade written out here, nothing of the harness used.

use std::path::Path;

use num_rational::Ratio;
use num_traits::Zero;
use tallyvolt_analysis::describe::front_end_file;
use tallyvolt_analysis::prove::table::{Format, write};
use tallyvolt_harness::cases::shipped;

/// Overflow is a panic, not a wrong number.
type Exact = Ratio<i128>;

fn whole(value: i64) -> Exact {
    Exact::from_integer(value.into())
}

/// What this test takes from a file.
struct Drawing {
    top_code: i64,
    samples: i64,
    divisor: i64,
    full_scale: Exact,
    centre: Exact,
    /// Reference in millivolts, divider's ratio included.
    reference_mv: Exact,
    divided: bool,
    unit_uv: i64,
}

impl Drawing {
    fn read(path: &Path) -> Self {
        let text = std::fs::read_to_string(path).expect("a shipped file");
        let file: toml::Table = text.parse().expect("valid TOML");
        let number = |table: &str, key: &str| file.get(table)?.get(key)?.as_integer();
        let word = |table: &str, key: &str| file.get(table)?.get(key)?.as_str();
        let samples = number("converter", "samples").unwrap_or(1);
        let divisor = 1 << number("converter", "right_shift").unwrap_or(0);
        let bits = number("converter", "bits").expect("bits");
        let top_code = (1 << bits) - 1;
        let one = match word("converter", "full_scale") {
            Some("2^n-1") => top_code,
            _ => top_code + 1,
        };
        assert_eq!(word("converter", "shift_rounding"), None, "not known here");
        // A truncated sum of `samples` codes, each half a step low, is (divisor - 1)/2 steps low as well.
        let centre = match word("converter", "code_centre") {
            Some("edge") => Exact::zero(),
            _ => whole(samples + divisor - 1) / whole(2 * divisor),
        };
        let divided = file["topology"].as_str() == Some("divided-input");
        let mut reference_mv =
            whole(number("reference", "microvolts").expect("reference")) / whole(1000);
        if divided {
            let top = number("divider", "top_ohms").expect("top");
            let bottom = number("divider", "bottom_ohms").expect("bottom");
            reference_mv = reference_mv * whole(top + bottom) / whole(bottom);
        }
        Self {
            top_code,
            samples,
            divisor,
            full_scale: whole(one * samples) / whole(divisor),
            centre,
            reference_mv,
            divided,
            unit_uv: number("output", "unit_uv").unwrap_or(1000),
        }
    }

    fn largest(&self) -> i64 {
        self.top_code * self.samples / self.divisor
    }

    fn millivolts(&self, count: i64) -> Option<Exact> {
        let x = whole(count) + self.centre;
        if self.divided {
            Some(self.reference_mv * x / self.full_scale)
        } else {
            (!x.is_zero()).then(|| self.reference_mv * self.full_scale / x)
        }
    }

    fn row(&self, count: i64) -> String {
        let exact = self.millivolts(count);
        let places = if self.unit_uv == 1000 { 0 } else { 1 };
        let units = exact.map(|mv| nearest(mv * whole(1000) / whole(self.unit_uv)));
        let (mv, fault) = match units {
            _ if count == 0 => (String::new(), "zero_count"),
            _ if count == self.largest() => (String::new(), "rail"),
            Some(units) if units <= 65_535 => (decimal(units, places), ""),
            _ => (String::new(), "above_range"),
        };
        let exact = exact.map_or_else(String::new, |mv| decimal(nearest(mv * whole(1_000_000)), 6));
        format!("{count},{mv},{fault},{exact}")
    }
}

fn nearest(value: Exact) -> i128 {
    (value + whole(1) / whole(2)).floor().to_integer()
}

/// A number of the `places`-th decimal as text.
fn decimal(value: i128, places: usize) -> String {
    assert!(!value.is_negative());
    let digits = format!("{value:0>width$}", width = places + 1);
    let (front, behind) = digits.split_at(digits.len() - places);
    if places == 0 {
        front.to_owned()
    } else {
        format!("{front}.{behind}")
    }
}

#[test]
fn every_row_of_every_shipped_table_is_the_recomputed_one() {
    let mut rows = 0;
    for path in shipped::files() {
        let front_end = front_end_file::read(&path).unwrap_or_else(|error| panic!("{error}"));
        let mut table = Vec::new();
        write(&front_end, Format::Csv, &mut table, &|_| ()).expect("every count is converted");
        let table = String::from_utf8(table).expect("text");
        let drawing = Drawing::read(&path);
        let mut lines = table.lines();
        assert_eq!(lines.next(), Some("count,mv,fault,exact_mv"));
        for count in 0..=drawing.largest() {
            assert_eq!(
                lines.next(),
                Some(&*drawing.row(count)),
                "{}",
                path.display()
            );
            rows += 1;
        }
        assert_eq!(lines.next(), None, "{}", path.display());
    }
    println!("{rows} rows");
    assert!(rows > 100_000);
}

/// The decimals of a 100 uV table and of the exact column, by hand: 16 bits, full scale 4275.25 mV, code 1 at 1.5 steps.
#[test]
fn one_row_by_hand() {
    let path = shipped::files()
        .into_iter()
        .find(|path| path.ends_with("hut-divided-16bit-100uv.toml"));
    let drawing = Drawing::read(&path.expect("shipped"));
    assert_eq!(drawing.row(1), "1,0.1,,0.097853");
}
