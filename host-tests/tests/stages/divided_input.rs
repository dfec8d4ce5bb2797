//! Descriptions of divided inputs: every one is taken or refused, and what is taken converts.

use proptest::prelude::*;
use tallyvolt::{CellRange, ConfigError, Count, DividedDescription, DividedInput};
use tallyvolt_analysis::describe::firmware::width::{AtWidth, at_width};
use tallyvolt_model::front_end::{Divider, Topology};
use tallyvolt_model::rational::whole;

use super::strategies::{acquisition, config, number, reads, unit};

proptest! {
    #![proptest_config(config(256))]

    /// Any numbers in a description are taken or refused. What is taken converts every count without a panic, or no count is a voltage.
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
                let divider = Divider::nominal(whole(top_ohms), whole(bottom_ohms));
                let reads = reads(Topology::DividedInput(divider), acquisition, reference_uv, unit);
                let converts = at_width(input.summing().rail().0, Total(&input, &counts));
                prop_assert_eq!(converts, if reads { Ok(()) } else { Err(ConfigError::Constants) });
            }
            Err(error) => prop_assert!(!error.fix().is_empty() && !error.to_string().is_empty()),
        }
    }
}

/// Every count of a divided input converts without a panic, or there is no conversion.
struct Total<'a>(&'a DividedInput, &'a [u32]);

impl AtWidth for Total<'_> {
    type Answer = Result<(), ConfigError>;

    fn at<const BITS: u32>(self) -> Self::Answer {
        let conversion = self.0.conversion::<BITS>()?;
        for count in self.1.iter().copied().chain([0, 1, u32::MAX]) {
            let _ = conversion.voltage(Count(count));
        }
        Ok(())
    }
}
