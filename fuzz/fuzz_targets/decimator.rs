//! Any stream through any decimator of the crate, against plain sums over the whole stream.

#![no_main]

use arbitrary::Arbitrary;
use libfuzzer_sys::fuzz_target;
use tallyvolt::{BlockSum, Count, Sample, SlidingSum, SumAndShift};
use tallyvolt_fuzz::wrong_on_purpose;
use tallyvolt_model::decimate;

#[derive(Debug, Arbitrary)]
enum Stage {
    Block { samples: u16 },
    BlockForBits { extra_bits: u8 },
    SumAndShift { extra_bits: u8 },
    Sliding1,
    Sliding4,
    Sliding64,
    Sliding1024,
}

#[derive(Debug, Arbitrary)]
struct Case {
    stage: Stage,
    stream: Vec<u16>,
}

fn counts(stream: &[u16], mut push: impl FnMut(Sample) -> Option<Count>) -> Vec<u64> {
    let off = u32::from(wrong_on_purpose());
    let counts = stream.iter().filter_map(|sample| push(Sample(*sample)));
    counts.map(|count| u64::from(count.0 + off)).collect()
}

fuzz_target!(|case: Case| {
    let stream = &case.stream[..];
    match case.stage {
        Stage::Block { samples } => {
            let legal = samples.is_power_of_two() && samples <= 1024;
            let block = BlockSum::new(samples);
            assert_eq!(block.is_ok(), legal, "{block:?}");
            if let Ok(mut block) = block {
                let wanted = decimate::block_sums(stream, samples.into());
                assert_eq!(counts(stream, |sample| block.push(sample)), wanted);
            }
        }
        Stage::BlockForBits { extra_bits } => {
            let block = BlockSum::for_extra_bits(extra_bits);
            assert_eq!(block.is_ok(), extra_bits <= 5, "{block:?}");
            if let Ok(mut block) = block {
                let wanted = decimate::block_sums(stream, 4_usize.pow(extra_bits.into()));
                assert_eq!(counts(stream, |sample| block.push(sample)), wanted);
            }
        }
        Stage::SumAndShift { extra_bits } => {
            let stage = SumAndShift::new(extra_bits);
            assert_eq!(stage.is_ok(), extra_bits <= 5, "{stage:?}");
            if let Ok(mut stage) = stage {
                let wanted = decimate::sums_and_shifts(stream, extra_bits.into());
                assert_eq!(counts(stream, |sample| stage.push(sample)), wanted);
            }
        }
        Stage::Sliding1 => sliding::<1>(stream),
        Stage::Sliding4 => sliding::<4>(stream),
        Stage::Sliding64 => sliding::<64>(stream),
        Stage::Sliding1024 => sliding::<1024>(stream),
    }
});

fn sliding<const N: usize>(stream: &[u16]) {
    let mut window = SlidingSum::<N>::new();
    let found = counts(stream, |sample| window.push(sample));
    let wanted = decimate::sliding_sums(stream, N);
    assert_eq!(found, wanted);

    // In slices whose lengths the stream gives, up to 255 samples.
    let mut window = SlidingSum::<N>::new();
    let (mut rest, mut taken) = (stream, 0);
    while let Some(first) = rest.first() {
        let (slice, behind) = rest.split_at(rest.len().min(usize::from(first % 255) + 1));
        (rest, taken) = (behind, taken + slice.len());
        let count = window.extend(slice).map(|count| u64::from(count.0));
        assert_eq!(count, taken.checked_sub(N).map(|place| wanted[place]));
    }
}
