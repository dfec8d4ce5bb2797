//! How long a budget takes. Each bench first checks what it times.

use std::hint::black_box;
use std::path::Path;

use criterion::{Criterion, criterion_group, criterion_main};
use tallyvolt_analysis::choose::budget::found::Budget;
use tallyvolt_analysis::choose::budget::monte_carlo::Run;
use tallyvolt_analysis::choose::budget::reading::{State, Temperature};
use tallyvolt_analysis::choose::budget::{TRIALS, budget};
use tallyvolt_analysis::choose::divider::found::Objective;
use tallyvolt_analysis::choose::divider::search;
use tallyvolt_analysis::describe::eseries::Series;
use tallyvolt_analysis::describe::front_end_file;
use tallyvolt_model::front_end::FrontEnd;

fn front_end(name: &str) -> FrontEnd {
    let path =
        Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("../front-ends/candidates/{name}.toml"));
    front_end_file::read(&path).unwrap_or_else(|error| panic!("{error}"))
}

/// Trials and first order must tell the same standard uncertainty before either is timed.
fn verified(made: &Budget) {
    for state in State::ALL {
        for temperature in Temperature::ALL {
            let row = made
                .state(state, temperature)
                .unwrap_or_else(|| panic!("a state is missing"));
            for total in &row.totals {
                assert!(
                    (total.sd_mv / total.combined_mv - 1.0).abs() < 0.02,
                    "{state:?} {temperature:?}"
                );
            }
        }
    }
}

fn budgets(criterion: &mut Criterion) {
    for name in ["hut-a-divided-10bit", "hut-d-supply-12bit-x256"] {
        let front_end = front_end(name);
        for (label, trials) in [("default", TRIALS), ("1e6", 1_000_000)] {
            let run = Run { trials, seed: 1 };
            verified(&budget(&front_end, run, &|_| ()));
            criterion.bench_function(&format!("budget/{name}/{label} trials"), |bencher| {
                bencher.iter(|| budget(black_box(&front_end), run, &|_| ()));
            });
        }
    }
}

fn dividers(criterion: &mut Criterion) {
    let front_end = front_end("hut-a-divided-10bit");
    let found = search(&front_end, Series::E192, Objective::Step);
    assert!(found.is_ok_and(|found| found.best.len() == 10));
    criterion.bench_function("divider/E192", |bencher| {
        bencher.iter(|| search(black_box(&front_end), Series::E192, Objective::Step));
    });
}

criterion_group! {
    name = benches;
    config = Criterion::default().sample_size(10);
    targets = budgets, dividers
}
criterion_main!(benches);
