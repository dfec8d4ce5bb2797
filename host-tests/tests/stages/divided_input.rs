//! Descriptions of divided inputs: every one is taken or refused, and what is taken converts.

use proptest::prelude::*;
use tallyvolt::{CellRange, Count, DividedDescription, DividedInput};
use tallyvolt_host::describe::firmware::width::{AtWidth, at_width};

use super::strategies::{acquisition, config, number, unit};

proptest! {
    #![proptest_config(config(256))]

    /// Any numbers in a description are taken or refused, and what is taken converts every count without a panic.
    #[test]
    fn any_divided_description_is_total(
        acquisition in acquisition(),
        reference_uv in number(100_000..=8_000_000),
        top_ohms in number(1..=10_000_000),
        bottom_ohms in number(1..=10_000_000),
        min_uv in number(100_000..=4_000_000),
        max_uv in number(100_000..=6_000_000),
        unit in unit(),
        counts in prop::collection::vec(any::<u32>(), 16),
    ) {
        let described = DividedInput::new(DividedDescription {
            acquisition, reference_uv, top_ohms, bottom_ohms, cell: CellRange { min_uv, max_uv }, unit,
        });
        match described {
            Ok(input) => {
                at_width(input.summing().rail().0, Total(&input, &counts));
            }
            Err(error) => prop_assert!(!error.fix().is_empty() && !error.to_string().is_empty()),
        }
    }
}

/// Every count of a divided input converts without a panic.
struct Total<'a>(&'a DividedInput, &'a [u32]);

impl AtWidth for Total<'_> {
    type Answer = ();

    fn at<const BITS: u32>(self) {
        let conversion = self.0.conversion::<BITS>().expect("none is unproven");
        for count in self.1.iter().copied().chain([0, 1, u32::MAX]) {
            let _ = conversion.voltage(Count(count));
        }
    }
}
