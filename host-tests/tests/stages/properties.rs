//! Any front end, any calibration, any count: what firmware converts with is the model.

use proptest::prelude::*;
use tallyvolt_analysis::calibrate::fit::stored::form;
use tallyvolt_analysis::describe::firmware::Firmware;
use tallyvolt_harness::cases::{Case, front_ends};
use tallyvolt_model::integer_form::IntegerForm;

use super::strategies::config;

/// A valid module: any front end, with as many counts as there can be, and any calibration.
pub fn case() -> impl Strategy<Value = Case> {
    (
        any::<u64>(),
        0..36_u32,
        10..=26_u32,
        1_u32 << 23..=1 << 25,
        -(1_i32 << 20)..=1 << 20,
    )
        .prop_map(|(seed, index, count_bits, gain, offset)| Case {
            front_end: front_ends::generated(seed, index + 1, count_bits)
                .pop()
                .expect("at least one"),
            curve: Some((gain, offset)),
        })
}

proptest! {
    #![proptest_config(config(256))]

    /// Any front end, any count: firmware, rational model and integer form say the same.
    #[test]
    fn a_count_as_drawn_is_the_models(case in case(), counts in prop::collection::vec(any::<u32>(), 64)) {
        let case = Case::uncalibrated(case.front_end);
        let conversion = case.conversion();
        prop_assert!(conversion.is_ok(), "{conversion:?}");
        let (conversion, model) = (conversion.expect("just looked at"), case.model());
        let form = IntegerForm::of(&model);
        let range = model.largest_count() + 2;
        for count in counts.iter().map(|count| count % range).chain(counts.iter().copied()) {
            let exact = model.outcome(count);
            prop_assert_eq!(conversion.outcome(count), exact, "count {}", count);
            prop_assert_eq!(form.outcome(count), exact, "count {}", count);
        }
    }

    /// Any front end, any gain and offset, any count: firmware is the exact rational of the constants chosen, and a record of them
    /// loads as the same conversion.
    #[test]
    fn a_calibrated_count_is_the_constants(case in case(), counts in prop::collection::vec(any::<u32>(), 64)) {
        // Wild offsets leave some cells without a count; then there is nothing to choose.
        if let Ok(conversion) = case.conversion() {
            let largest = case.model().largest_count();
            let form = form(&conversion.constants(), largest);
            let firmware = Firmware::describe(&case.front_end).expect("described");
            let record = firmware.record(conversion.constants(), 7).expect("taken");
            let loaded = firmware.recorded(&record).expect("sound");
            let range = largest + 2;
            for count in counts.iter().map(|count| count % range).chain(counts.iter().copied()) {
                let exact = form.outcome(count);
                prop_assert_eq!(conversion.outcome(count), exact, "count {}", count);
                prop_assert_eq!(loaded.outcome(count), exact, "count {}", count);
            }
        }
    }

}
