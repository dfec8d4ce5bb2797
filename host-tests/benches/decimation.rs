//! Decimation, pushed a sample at a time as firmware does, against plain sums over a stream that is all there.

use std::hint::black_box;

use criterion::measurement::WallTime;
use criterion::{BenchmarkGroup, Criterion, Throughput, criterion_group, criterion_main};
use tallyvolt::{BlockSum, Count, Sample, SlidingSum, SumAndShift};
use tallyvolt_model::decimate;

fn decimation(criterion: &mut Criterion) {
    // 12-bit samples that wander.
    let stream: Vec<u16> = (0..1_u32 << 14)
        .map(|n| (2048 + n * 7919 % 1201) as u16)
        .collect();
    let mut group = criterion.benchmark_group("decimation");
    group.throughput(Throughput::Elements(stream.len() as u64));
    pair(
        &mut group,
        "block sum of 16",
        &stream,
        |stream| {
            let mut stage = BlockSum::new(16).expect("16 is a power of two");
            counts(stream, |sample| stage.push(sample))
        },
        |stream| decimate::block_sums(stream, 16),
    );
    pair(
        &mut group,
        "sum and shift for 2 bits",
        &stream,
        |stream| {
            let mut stage = SumAndShift::new(2).expect("2 extra bits are allowed");
            counts(stream, |sample| stage.push(sample))
        },
        |stream| decimate::sums_and_shifts(stream, 2),
    );
    pair(
        &mut group,
        "sliding sum of 64",
        &stream,
        |stream| {
            let mut stage = SlidingSum::<64>::new();
            counts(stream, |sample| stage.push(sample))
        },
        |stream| decimate::sliding_sums(stream, 64),
    );
}

fn counts(stream: &[u16], mut push: impl FnMut(Sample) -> Option<Count>) -> Vec<u64> {
    let counts = stream.iter().filter_map(|sample| push(Sample(*sample)));
    counts.map(|count| count.0.into()).collect()
}

/// Verifies a stage against the plain sums, then times both.
fn pair(
    group: &mut BenchmarkGroup<'_, WallTime>,
    name: &str,
    stream: &[u16],
    stage: impl Fn(&[u16]) -> Vec<u64>,
    plain: impl Fn(&[u16]) -> Vec<u64>,
) {
    assert_eq!(stage(stream), plain(stream), "{name}");
    group.bench_function(name, |bencher| bencher.iter(|| stage(black_box(stream))));
    group.bench_function(format!("{name}, plain"), |bencher| {
        bencher.iter(|| plain(black_box(stream)));
    });
}

criterion_group! {
    name = benches;
    config = Criterion::default().without_plots();
    targets = decimation
}
criterion_main!(benches);
