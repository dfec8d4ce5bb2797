//! Controls of the sweep and the check: a subject that is wrong in one way must be found out in that way.

use tallyvolt_analysis::prove::check::{self, check_subject};
use tallyvolt_analysis::prove::sweep::Sweep;
use tallyvolt_harness::cases::{Case, shipped};
use tallyvolt_model::front_end::{FrontEnd, Topology};
use tallyvolt_model::integer_form::IntegerForm;
use tallyvolt_model::outcome::{FaultName, Outcome};

/// Sweeps a shipped front end with a subject made from the right answers by `spoil`.
fn sweep(front_end: &FrontEnd, spoil: impl Fn(u32, Outcome) -> Outcome + Sync) -> Sweep {
    let case = Case::uncalibrated(front_end.clone());
    let conversion = case.conversion().expect("shipped");
    let form = IntegerForm::of(&case.model());
    let subject = |count| spoil(count, conversion.outcome(count));
    Sweep::run(&form, case.model().largest_count(), &subject, &|_| {})
}

#[test]
fn one_unit_too_many_or_too_few_at_one_count_is_one_wrong_count() {
    let one_more: fn(u32) -> u32 = |units| units + 1;
    // There is nothing below 0.
    let one_less: fn(u32) -> u32 = |units| units.checked_sub(1).unwrap_or(1);
    for front_end in shipped::front_ends() {
        let right = sweep(&front_end, |_, outcome| outcome);
        assert_eq!(right.wrong, 0);
        let (first, last) = right.valid.expect("shipped front ends read");
        for count in [first, first + (last - first) / 3, last] {
            for wrong in [one_more, one_less] {
                let found = sweep(&front_end, |at, outcome| match outcome {
                    Outcome::Units(units) if at == count => Outcome::Units(wrong(units)),
                    other => other,
                });
                assert_eq!(found.wrong, 1, "{} count {count}", front_end.name);
                assert_eq!(found.examples.len(), 1);
                assert_eq!(found.examples[0].0, count);
                assert!(found.largest_error >= 0.5, "{}", found.largest_error);
            }
        }
    }
}

#[test]
fn a_fault_exchanged_for_another_or_for_a_voltage_is_wrong() {
    for front_end in shipped::front_ends() {
        let exchanged = sweep(&front_end, |count, outcome| match (count, outcome) {
            (0, Outcome::Fault(_)) => Outcome::Fault(FaultName::Rail),
            (_, other) => other,
        });
        assert_eq!(exchanged.wrong, 1, "{}", front_end.name);
        let zero = sweep(&front_end, |count, outcome| match count {
            0 => Outcome::Units(0),
            _ => outcome,
        });
        assert_eq!(zero.wrong, 1, "{}", front_end.name);
        let no_rail = sweep(&front_end, |_, outcome| match outcome {
            Outcome::Fault(FaultName::Rail) => Outcome::Fault(FaultName::AboveRange),
            other => other,
        });
        assert_eq!(no_rail.wrong, 1, "{}", front_end.name);
    }
}

#[test]
fn a_voltage_exchanged_for_a_fault_is_wrong_and_leaves_the_valid_range_shorter() {
    for front_end in shipped::front_ends() {
        let right = sweep(&front_end, |_, outcome| outcome)
            .valid
            .expect("shipped");
        let found = sweep(&front_end, |count, outcome| {
            if count == right.0 {
                Outcome::Fault(FaultName::BelowRange)
            } else {
                outcome
            }
        });
        assert_eq!(found.wrong, 1, "{}", front_end.name);
        assert_eq!(found.valid, Some((right.0 + 1, right.1)));
    }
}

/// Also when both sides of the turn lie in different chunks of the sweep: the 16-bit range is walked in one chunk, 2^18
/// counts in four.
#[test]
fn a_reading_that_turns_back_is_not_monotonic() {
    let mut long = shipped::front_ends()
        .into_iter()
        .find(|front_end| matches!(front_end.topology, Topology::DividedInput(_)))
        .expect("a divided input is shipped");
    long.converter.bits = 8;
    long.converter.samples = 1024;
    let last = Case::uncalibrated(long.clone()).model().largest_count();
    for turn in [last / 2, 1 << 16, (1 << 16) - 1, 3 << 16, last - 1] {
        let found = sweep(&long, |count, outcome| match outcome {
            Outcome::Units(_) if count >= turn => Outcome::Units(0),
            other => other,
        });
        assert!(!found.monotonic, "turn at {turn}");
        assert!(found.wrong > 0);
    }
    assert!(sweep(&long, |_, outcome| outcome).monotonic);
}

#[test]
fn gaps_and_doubles_are_counted_on_what_was_answered() {
    let front_end = &shipped::front_ends()[0];
    let all_the_same = sweep(front_end, |_, outcome| match outcome {
        Outcome::Units(_) => Outcome::Units(7),
        other => other,
    });
    assert_eq!(all_the_same.gaps_and_doubles(5, 9), (4, 1));
    assert!(all_the_same.wrong > 0);
}

/// `check` calls a front end good only if every count is right, those beyond the largest included.
#[test]
fn a_check_fails_with_one_wrong_count_anywhere() {
    for front_end in shipped::front_ends() {
        let conversion = check::conversion(&front_end).expect("shipped");
        let right = check_subject(
            &front_end,
            &conversion,
            &|count| conversion.outcome(count),
            &|_| {},
        );
        assert!(right.holds, "{}", front_end.name);
        assert_eq!(right.wrong_counts, 0);
        for wrong_at in [0, middle(&right), u32::MAX] {
            let subject = |count| {
                if count == wrong_at {
                    Outcome::Fault(FaultName::BelowRange)
                } else {
                    conversion.outcome(count)
                }
            };
            let found = check_subject(&front_end, &conversion, &subject, &|_| {});
            assert_eq!(found.wrong_counts, 1, "{} at {wrong_at}", front_end.name);
            assert!(!found.holds);
            assert!(found.proof.contains("CONTRADICTED"));
            assert_eq!(found.wrong_examples[0].count, wrong_at);
        }
    }
}

fn middle(check: &check::found::Check) -> u32 {
    let (first, last) = check.valid_counts.expect("shipped front ends read");
    first + (last - first) / 2
}
