//! The window of counts that are voltages, and the fault of every other count.

use tallyvolt_analysis::describe::firmware::{Constants, Firmware};
use tallyvolt_harness::cases::{Case, front_ends, shipped};
use tallyvolt_model::outcome::{FaultName, Outcome};

/// The first and last count of the stored window.
fn ends(constants: &Constants) -> (u32, u32) {
    let (first, counts) = match constants {
        Constants::Line(line) => (line.first, line.counts),
        Constants::Quotient(quotient) => (quotient.first, quotient.counts),
    };
    (first, first + (counts - 1))
}

#[test]
fn every_count_outside_the_window_has_the_fault_of_its_side() {
    let mut outside = 0_u64;
    let all = shipped::front_ends()
        .into_iter()
        .chain(front_ends::generated(77, 60, 14));
    for front_end in all {
        let firmware = Firmware::describe(&front_end).expect("described");
        let conversion = firmware.conversion().expect("proven");
        let case = Case::uncalibrated(front_end);
        let model = case.model();
        let largest = model.largest_count();
        let (first, last) = ends(&conversion.constants());
        let counts = (0..first).chain(last + 1..=largest);
        for count in counts.chain([largest + 1, u32::MAX]) {
            let answer = conversion.outcome(count);
            let fault = match answer {
                Outcome::Fault(fault) => fault,
                Outcome::Units(_) => panic!("{count} of {:?}", case.front_end),
            };
            match count {
                0 => assert_eq!(fault, FaultName::ZeroCount),
                _ if count >= largest => assert_eq!(fault, FaultName::Rail),
                _ => assert_eq!(answer, model.outcome(count), "{count}"),
            }
            outside += 1;
        }
        for count in [first, last] {
            assert!(
                matches!(conversion.outcome(count), Outcome::Units(_)),
                "{count}"
            );
        }
    }
    assert!(outside > 300, "{outside}");
}
