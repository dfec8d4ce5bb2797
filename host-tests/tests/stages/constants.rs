//! Constants: those that a conversion tells make it again, and one line is told in one way however it was written.

use tallyvolt::{DividedConversion, LineConstants};

use super::{line, quotient};

fn drawn_again<const BITS: u32>() {
    let input = line::input(u8::try_from(BITS).expect("at most 16"));
    let drawn: DividedConversion<BITS> = input.conversion().expect("proven");
    assert_eq!(input.module(drawn.constants()), Ok(drawn));
}

#[test]
fn what_is_told_of_a_drawing_makes_it_again() {
    drawn_again::<8>();
    drawn_again::<10>();
    drawn_again::<12>();
    drawn_again::<16>();
    for bits in [8, 10, 12, 16] {
        let reference = quotient::reference(bits);
        let drawn = reference.conversion().expect("exact");
        assert_eq!(reference.module(drawn.constants()), Ok(drawn));
    }
}

/// S is told in whole bytes, and never more of them than the line needs.
#[test]
fn a_line_is_told_with_the_least_shift() {
    let input = line::input(12);
    for (least, written) in [(16, &[16, 24, 32][..]), (24, &[24, 32]), (32, &[32])] {
        let wanted = LineConstants {
            first: 1,
            counts: 4000,
            // Odd, so that no smaller S has them.
            factor: (59_999 << (least - 16)) + 2 * u128::from(least > 16),
            addend: (32_769 << (least - 16)) | 1,
            shift: least,
        };
        for shift in written {
            let places = shift - least;
            let constants = LineConstants {
                factor: wanted.factor << places,
                addend: wanted.addend << places,
                shift: *shift,
                ..wanted
            };
            let module: DividedConversion<12> = input.module(constants).expect("16 bits");
            assert_eq!(module.constants(), wanted, "written at {shift}");
        }
    }
}
