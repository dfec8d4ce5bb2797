//! What firmware computes, as formulas.

use tallyvolt_analysis::describe::firmware::Constants;
use tallyvolt_analysis::prove::check::found::Arithmetic;

pub(crate) fn formula(arithmetic: &Arithmetic) -> String {
    match arithmetic {
        Arithmetic::Multiplier {
            multiplier,
            addend,
            shift,
            first_count,
            products,
        } => format!(
            "({multiplier} * (count - {first_count}) + {addend}) >> {shift}, products: {products}"
        ),
        Arithmetic::Numerator {
            numerator,
            step_log2,
            at_first,
            first_count,
            division,
        } => {
            let steps = steps(*first_count, *step_log2);
            format!("{numerator} / ({steps} + {at_first}) to nearest, division of {division}")
        }
    }
}

/// A module's constants as a formula.
pub(crate) fn constants_formula(constants: &Constants) -> String {
    match constants {
        Constants::Line(line) => format!(
            "({} * (count - {}) + {}) >> {}",
            line.factor, line.first, line.addend, line.shift
        ),
        Constants::Quotient(quotient) => format!(
            "{} / ({} + {}) to nearest",
            quotient.numerator,
            steps(quotient.first, quotient.step_log2),
            quotient.at_first
        ),
    }
}

/// What a denominator grows with; a shift by 0 is left out.
fn steps(first: u32, step_log2: u8) -> String {
    match step_log2 {
        0 => format!("(count - {first})"),
        by => format!("((count - {first}) << {by})"),
    }
}
