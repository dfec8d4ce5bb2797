//! The whole-range check: a 12-bit front end and 2^24 counts, in both topologies.

mod wide;

use std::path::Path;

use criterion::{Criterion, SamplingMode, Throughput, criterion_group, criterion_main};
use tallyvolt_analysis::describe::front_end_file;
use tallyvolt_analysis::prove::check::check;
use tallyvolt_model::front_end::FrontEnd;

fn whole_range(criterion: &mut Criterion) {
    let shipped = |name: &str| {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("../front-ends/{name}.toml"));
        front_end_file::read(&path).expect("shipped front ends are good")
    };
    let wide = |topology: &str| {
        let text = wide::front_end_text(topology);
        front_end_file::parse(Path::new("wide.toml"), &text).expect("the wide front end is good")
    };
    let mut group = criterion.benchmark_group("whole-range check");
    group.sampling_mode(SamplingMode::Flat).sample_size(10);
    for front_end in [
        shipped("hut-divided-12bit"),
        shipped("hut-supply-12bit"),
        wide("divided-input"),
        wide("supply-reference"),
    ] {
        let swept = verified(&front_end);
        group.throughput(Throughput::Elements(swept));
        let name = format!("{}, {swept} counts", front_end.name);
        group.bench_function(name, |bencher| bencher.iter(|| check(&front_end, &|_| ())));
    }
}

/// The counts of a front end whose check holds.
fn verified(front_end: &FrontEnd) -> u64 {
    let check = check(front_end, &|_| ()).expect("the front end is good");
    assert!(check.holds && check.wrong_counts == 0, "{check:?}");
    check.counts_swept
}

criterion_group! {
    name = benches;
    config = Criterion::default().without_plots();
    targets = whole_range
}
criterion_main!(benches);
