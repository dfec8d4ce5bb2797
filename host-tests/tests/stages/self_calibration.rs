//! Self-calibration: gain and offset within their limits only, and none at all for gain 1 and offset 0.

use num_rational::BigRational;
use num_traits::{One, Zero};
use proptest::prelude::*;
use tallyvolt::fixed::types::{I24F8, U8F24};
use tallyvolt::{Count, DividedInput};
use tallyvolt_analysis::describe::firmware::Firmware;
use tallyvolt_analysis::describe::firmware::width::{AtWidth, at_width};
use tallyvolt_harness::cases::Case;

use super::properties::case;
use super::strategies::config;

proptest! {
    #![proptest_config(config(256))]

    /// Gain and offset of a self-calibration are taken within their limits only, and never lead to a panic.
    #[test]
    fn self_calibrations_are_taken_within_their_limits_only(
        case in case(), gain in any::<u32>(), offset in any::<i32>(), likely in any::<bool>(), count in any::<u32>(),
    ) {
        let (gain, offset) = if likely { (gain >> 7, offset >> 11) } else { (gain, offset) };
        let within = (1 << 23..=1 << 25).contains(&gain) && (-(1 << 20)..=1 << 20).contains(&offset);
        let (gain, offset) = (U8F24::from_bits(gain), I24F8::from_bits(offset));
        let taken = match Firmware::describe(&case.front_end).expect("described") {
            Firmware::Divided(input) => at_width(input.summing().rail().0, Scaled(&input, gain, offset, count)),
            Firmware::Supply(reference) => reference
                .conversion()
                .and_then(|drawn| drawn.scaled(gain, offset))
                .map(|module| { let _ = module.voltage(Count(count)); }),
        };
        match taken {
            Ok(()) => prop_assert!(within),
            Err(tallyvolt::ConfigError::Constants) => prop_assert!(within),
            Err(_) => prop_assert!(!within),
        }
    }

    /// Gain 1 and offset 0 are no calibration at all, in the model too.
    #[test]
    fn identity_changes_nothing(case in case()) {
        let case = Case::uncalibrated(case.front_end);
        let model = tallyvolt_model::Model::new(
            &case.front_end,
            tallyvolt_model::calibration::CalibrationModel { gain: BigRational::one(), offset: BigRational::zero() },
        );
        let half = model.largest_count() / 2;
        prop_assert_eq!(model.voltage_uv(half), case.model().voltage_uv(half));
        prop_assert_eq!(case.conversion().expect("a valid case").outcome(half), model.outcome(half));
    }
}

/// A divided input scaled, and one count of it.
struct Scaled<'a>(&'a DividedInput, U8F24, I24F8, u32);

impl AtWidth for Scaled<'_> {
    type Answer = Result<(), tallyvolt::ConfigError>;

    fn at<const BITS: u32>(self) -> Self::Answer {
        let module = self.0.conversion::<BITS>()?.scaled(self.1, self.2)?;
        let _ = module.voltage(Count(self.3));
        Ok(())
    }
}
