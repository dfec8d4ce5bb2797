//! What a sweep counts over several chunks, what it keeps, and what is told of its progress.

use std::cell::RefCell;
use std::io;
use std::sync::atomic::{AtomicU64, Ordering};

use tallyvolt_analysis::prove::sweep::Sweep;
use tallyvolt_analysis::prove::table::{Format, write};
use tallyvolt_harness::cases::Case;
use tallyvolt_model::integer_form::IntegerForm;
use tallyvolt_model::outcome::{FaultName, Outcome};

use super::shipped_front_end;

fn form(name: &str) -> IntegerForm {
    IntegerForm::of(&Case::uncalibrated(shipped_front_end(name)).model())
}

/// 2^17 + 1 counts are two chunks of 2^16 and one count more.
#[test]
fn every_count_of_every_chunk_is_compared_once() {
    let form = form("hut-divided-12bit");
    let told = AtomicU64::new(0);
    let done = |counts| {
        told.fetch_add(counts, Ordering::Relaxed);
    };
    let found = Sweep::run(&form, 1 << 17, &|count| form.outcome(count), &done);
    assert_eq!((found.counts, found.wrong), ((1 << 17) + 1, 0));
    assert_eq!(told.into_inner(), (1 << 17) + 1);
}

#[test]
fn five_wrong_counts_are_kept_and_all_are_counted() {
    let form = form("hut-divided-12bit");
    let wrong = Outcome::Fault(FaultName::BelowRange);
    let found = Sweep::run(&form, 9, &|_| wrong, &|_| {});
    assert_eq!(found.wrong, 10);
    let kept: Vec<_> = (0..5).map(|count| (count, wrong)).collect();
    assert_eq!(found.examples, kept);
}

/// The output type ends at 65 535: of 65 530 and above there are six values.
#[test]
fn gaps_are_looked_for_up_to_the_largest_output_value() {
    let form = form("hut-divided-12bit");
    let found = Sweep::run(&form, 4095, &|count| form.outcome(count), &|_| {});
    assert_eq!(found.gaps_and_doubles(65_530, 65_535), (6, 0));
    assert_eq!(found.gaps_and_doubles(65_530, 70_000), (6, 0));
}

#[test]
fn a_table_tells_of_65_536_rows_at_once() {
    let told = |name| {
        let told = RefCell::new(Vec::new());
        let done = |rows| told.borrow_mut().push(rows);
        write(&shipped_front_end(name), Format::Csv, io::sink(), &done).expect("a sink is open");
        told.into_inner()
    };
    assert_eq!(told("hut-divided-16bit"), [65_536]);
    assert!(told("hut-divided-12bit").is_empty());
}
