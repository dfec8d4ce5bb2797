//! Count to voltage: the crate against the formula in f64 and against a plain 64-bit division.
//!
//! `cargo bench --bench conversion`; the ratios that are promised are asserted by `goals.rs`.

mod rivals;

use std::hint::black_box;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};

fn conversion(criterion: &mut Criterion) {
    for race in rivals::races() {
        let mut group = criterion.benchmark_group(format!("{}, {}", race.topology, race.name));
        group.throughput(Throughput::Elements(rivals::COUNTS.into()));
        for competitor in race.competitors {
            group.bench_function(competitor.name, |bencher| {
                bencher.iter(|| black_box((competitor.run)()));
            });
        }
    }
}

criterion_group! {
    name = benches;
    config = Criterion::default().without_plots();
    targets = conversion
}
criterion_main!(benches);
