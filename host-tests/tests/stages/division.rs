//! Exact division by multiplication: published constants, their theorem, and constants that look right and are wrong.
//!
//! Theorem (Granlund and Montgomery, "Division by invariant integers using multiplication", PLDI 1994, theorem 4.2; from
//! memory): if `2^(N+l) <= m * d <= 2^(N+l) + 2^l` then `floor(n / d) = floor(m * n / 2^(N+l))` for all n below 2^N.
//! Constants: `data/division_constants.csv`, those that rustc 1.95 (LLVM) emits for `u32`, and shorter ones found by
//! exhaustion.

use tallyvolt::{
    Acquisition, CellRange, CodeCentre, Count, DividedDescription, DividedInput, FullScale,
    OutputUnit, Voltage,
};

struct Constant {
    divisor: u64,
    multiplier: u64,
    shift: u32,
    range: String,
}

fn constants() -> Vec<Constant> {
    let text = include_str!("../published/division_constants.csv");
    let rows = text.lines().filter(|line| !line.starts_with('#')).skip(1);
    let constants: Vec<Constant> = rows
        .map(|row| {
            let fields: Vec<&str> = row.split(',').collect();
            let [divisor, multiplier, shift, range, ..] = fields[..] else {
                panic!("{row}");
            };
            // A 33-bit constant is followed by how LLVM writes it in 32 bits.
            let hex = multiplier
                .split(' ')
                .next()
                .expect(row)
                .trim_start_matches("0x");
            Constant {
                divisor: divisor.parse().expect(row),
                multiplier: u64::from_str_radix(hex, 16).expect(row),
                shift: shift.parse().expect(row),
                range: range.to_owned(),
            }
        })
        .collect();
    assert_eq!(constants.len(), 13, "every row is read");
    constants
}

impl Constant {
    fn divide(&self, n: u64) -> u64 {
        u64::try_from((u128::from(self.multiplier) * u128::from(n)) >> self.shift)
            .expect("a quotient")
    }

    fn first_failure(&self, below: u64) -> Option<u64> {
        (0..below).find(|n| self.divide(*n) != n / self.divisor)
    }
}

#[test]
fn constants_for_u32_meet_the_theorem_and_divide() {
    let mut checked = 0;
    for constant in constants()
        .iter()
        .filter(|constant| constant.range == "u32")
    {
        let product = u128::from(constant.multiplier) * u128::from(constant.divisor);
        let power = 1_u128 << constant.shift;
        assert!(
            power <= product && product <= power + (power >> 32),
            "/{}",
            constant.divisor
        );
        for near in 1..=1000_u64 {
            // Quotients change at multiples of the divisor; the largest of them are the hardest.
            let multiple =
                u64::from(u32::MAX) / constant.divisor * constant.divisor - constant.divisor * near;
            for n in [multiple - 1, multiple, u64::from(u32::MAX) + 1 - near] {
                assert_eq!(
                    constant.divide(n),
                    n / constant.divisor,
                    "{n} / {}",
                    constant.divisor
                );
            }
        }
        checked += 1;
    }
    assert_eq!(checked, 9);
}

/// 0xCCCD >> 19 for every `u16`, 0x147B >> 19 to 10 000; and the negative controls: 0x199A >> 16 fails first at 16 389, and
/// 0xA3D7 >> 22 at 100, because it was rounded down (0xA3D8 is right there).
#[test]
fn short_constants_hold_to_their_ends_and_the_wrong_ones_fail_where_printed() {
    let constants = constants();
    let of = |multiplier| {
        constants
            .iter()
            .find(|constant| constant.multiplier == multiplier)
            .expect("in the list")
    };
    assert_eq!(of(0xCCCD).first_failure(1 << 16), None);
    assert_eq!(of(0x147B).first_failure(10_001), None);
    assert_eq!(of(0x199A).first_failure(1 << 16), Some(16_389));
    assert_eq!(of(0xA3D7).first_failure(1 << 16), Some(100));
    let wrong = of(0xA3D7);
    let corrected = Constant {
        multiplier: wrong.multiplier + 1,
        range: String::new(),
        ..*wrong
    };
    assert!(corrected.first_failure(1 << 16) > Some(100));
}

/// The library meets the same traps: a front end whose full scale makes a count a `1 / divisor` of a millivolt.
#[test]
fn the_library_divides_by_ten_and_by_a_hundred_exactly() {
    // Full scale in millivolts is the top code over the divisor: 6553.5 and 655.35.
    for (divisor, reference_uv, top, bottom) in [
        (10, 2_000_000, 45_535, 20_000),
        (100, 200_000, 45_535, 20_000),
    ] {
        let conversion = DividedInput::new(DividedDescription {
            acquisition: Acquisition {
                full_scale: FullScale::TopCode,
                code_centre: CodeCentre::Edge,
                ..Acquisition::single(16)
            },
            reference_uv,
            top_ohms: top,
            bottom_ohms: bottom,
            cell: CellRange {
                min_uv: 100_000,
                max_uv: 600_000,
            },
            unit: OutputUnit::Millivolt,
        })
        .and_then(|input| input.conversion::<16>())
        .expect("a proven line");
        for count in 1..65_535_u32 {
            let nearest = u16::try_from((count + divisor / 2) / divisor).expect("below 2^16");
            assert_eq!(
                conversion.voltage(Count(count)),
                Ok(Voltage(nearest)),
                "{count} / {divisor}"
            );
        }
        // M is a 2^S / divisor, rounded up or down: with the addend searched, either can be exact.
        let constants = conversion.constants();
        let exact = (1_u128 << constants.shift) / u128::from(divisor);
        assert!(
            [exact, exact + 1].contains(&constants.factor),
            "{constants:?}"
        );
    }
}
