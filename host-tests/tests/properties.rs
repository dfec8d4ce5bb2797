//! Properties over descriptions, calibrations, samples and counts that nobody listed.
//!
//! What once failed is kept beside this file, in `properties.regressions`, and tried first.

use num_rational::BigRational;
use num_traits::{One, Zero};
use proptest::prelude::*;
use proptest::test_runner::FileFailurePersistence;
use tallyvolt::fixed::types::{I24F8, U8F24};
use tallyvolt::{
    Acquisition, BlockSum, CellRange, CodeCentre, Count, DividedDescription, DividedInput,
    FullScale, OutputUnit, Sample, ShiftRounding, SlidingSum, SumAndShift, SupplyDescription,
    SupplyReference,
};
use tallyvolt_harness::cases::{Case, front_ends};
use tallyvolt_host::calibrate::fit::stored::form;
use tallyvolt_host::describe::firmware::Firmware;
use tallyvolt_host::describe::firmware::width::{AtWidth, at_width};
use tallyvolt_model::decimate::{block_sums, sliding_sums, sums_and_shifts};
use tallyvolt_model::integer_form::IntegerForm;

fn config(cases: u32) -> ProptestConfig {
    ProptestConfig {
        cases,
        failure_persistence: Some(Box::new(FileFailurePersistence::WithSource("regressions"))),
        ..ProptestConfig::default()
    }
}

/// A valid module: any front end, with as many counts as there can be, and any calibration.
fn case() -> impl Strategy<Value = Case> {
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

/// Any description at all, most of them refused.
fn acquisition() -> impl Strategy<Value = Acquisition> {
    (
        any::<u8>(),
        any::<[bool; 3]>(),
        any::<u16>(),
        any::<u8>(),
        any::<bool>(),
    )
        .prop_map(
            |(bits, [top_code, edge, nearest], samples, right_shift, likely)| Acquisition {
                bits: if likely { 8 + bits % 9 } else { bits },
                full_scale: if top_code {
                    FullScale::TopCode
                } else {
                    FullScale::PowerOfTwo
                },
                code_centre: if edge {
                    CodeCentre::Edge
                } else {
                    CodeCentre::Half
                },
                samples: if likely { 1 << (samples % 11) } else { samples },
                right_shift: if likely { right_shift % 9 } else { right_shift },
                shift_rounding: if nearest {
                    ShiftRounding::Nearest
                } else {
                    ShiftRounding::Truncate
                },
            },
        )
}

fn unit() -> impl Strategy<Value = OutputUnit> {
    prop_oneof![
        Just(OutputUnit::Millivolt),
        Just(OutputUnit::TenthMillivolt)
    ]
}

/// Any `u32`, and as often one within the limits of the library.
fn number(likely: std::ops::RangeInclusive<u32>) -> impl Strategy<Value = u32> {
    prop_oneof![3 => likely, 1 => any::<u32>()]
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

    /// Any numbers in a description are taken or refused, and what is taken converts every count without a panic.
    #[test]
    fn any_divided_description_is_total(
        acquisition in acquisition(),
        reference_uv in number(100_000..=8_000_000),
        top_ohms in number(1..=10_000_000),
        bottom_ohms in number(1..=10_000_000),
        min_uv in number(100_000..=4_000_000),
        max_uv in number(100_000..=6_000_000),
        unit in unit(),
        counts in prop::collection::vec(any::<u32>(), 16),
    ) {
        let described = DividedInput::new(DividedDescription {
            acquisition, reference_uv, top_ohms, bottom_ohms, cell: CellRange { min_uv, max_uv }, unit,
        });
        match described {
            Ok(input) => {
                at_width(input.summing().rail().0, Total(&input, &counts));
            }
            Err(error) => prop_assert!(!error.fix().is_empty() && !error.to_string().is_empty()),
        }
    }

    /// The same for the other topology.
    #[test]
    fn any_supply_description_is_total(
        acquisition in acquisition(),
        reference_uv in number(100_000..=8_000_000),
        min_uv in number(100_000..=4_000_000),
        max_uv in number(100_000..=6_000_000),
        unit in unit(),
        counts in prop::collection::vec(any::<u32>(), 16),
    ) {
        let described = SupplyReference::new(SupplyDescription {
            acquisition, reference_uv, cell: CellRange { min_uv, max_uv }, unit,
        });
        match described {
            Ok(supply) => {
                let conversion = supply.conversion().expect("never refuses");
                for count in counts.into_iter().chain([0, 1, u32::MAX]) {
                    let _ = conversion.voltage(Count(count));
                }
            }
            Err(error) => prop_assert!(!error.fix().is_empty() && !error.to_string().is_empty()),
        }
    }

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

    #[test]
    fn block_sums_are_the_models(stream in prop::collection::vec(any::<u16>(), 0..3000), power in 0..=10_u32) {
        let samples = 1_u16 << power;
        let mut block = BlockSum::new(samples).expect("a power of two to 1024");
        let counts = stream.iter().filter_map(|sample| block.push(Sample(*sample)));
        let counts: Vec<u64> = counts.map(|count| u64::from(count.0)).collect();
        prop_assert_eq!(counts, block_sums(&stream, usize::from(samples)));
    }

    #[test]
    fn sums_and_shifts_are_the_models(stream in prop::collection::vec(any::<u16>(), 0..3000), extra_bits in 0..=5_u8) {
        let mut decimator = SumAndShift::new(extra_bits).expect("at most 5");
        let counts = stream.iter().filter_map(|sample| decimator.push(Sample(*sample)));
        let counts: Vec<u64> = counts.map(|count| u64::from(count.0)).collect();
        prop_assert_eq!(counts, sums_and_shifts(&stream, u32::from(extra_bits)));
    }

    #[test]
    fn sliding_sums_are_the_models(stream in prop::collection::vec(any::<u16>(), 0..3000)) {
        prop_assert_eq!(slid::<1>(&stream), sliding_sums(&stream, 1));
        prop_assert_eq!(slid::<2>(&stream), sliding_sums(&stream, 2));
        prop_assert_eq!(slid::<16>(&stream), sliding_sums(&stream, 16));
        prop_assert_eq!(slid::<256>(&stream), sliding_sums(&stream, 256));
        prop_assert_eq!(slid::<1024>(&stream), sliding_sums(&stream, 1024));
    }

    /// Samples in slices, short and long, are the samples one by one.
    #[test]
    fn slices_of_samples_are_the_samples(
        slices in prop::collection::vec(prop::collection::vec(any::<u16>(), 0..40), 0..60),
        long in prop::collection::vec(any::<u16>(), 0..2100),
    ) {
        let mut slices = slices;
        slices.insert(slices.len() / 2, long);
        prop_assert_eq!(in_slices::<1>(&slices), after_each(&slices, 1));
        prop_assert_eq!(in_slices::<2>(&slices), after_each(&slices, 2));
        prop_assert_eq!(in_slices::<16>(&slices), after_each(&slices, 16));
        prop_assert_eq!(in_slices::<256>(&slices), after_each(&slices, 256));
        prop_assert_eq!(in_slices::<1024>(&slices), after_each(&slices, 1024));
    }

    /// Decimators take or refuse any number of samples.
    #[test]
    fn decimators_refuse_what_they_cannot_sum(samples in any::<u16>(), extra_bits in any::<u8>()) {
        let legal = samples.is_power_of_two() && samples <= 1024;
        prop_assert_eq!(BlockSum::new(samples).is_ok(), legal);
        prop_assert_eq!(SumAndShift::new(extra_bits).is_ok(), extra_bits <= 5);
        prop_assert_eq!(BlockSum::for_extra_bits(extra_bits).is_ok(), extra_bits <= 5);
    }
}

/// Every count of a divided input converts without a panic.
struct Total<'a>(&'a DividedInput, &'a [u32]);

impl AtWidth for Total<'_> {
    type Answer = ();

    fn at<const BITS: u32>(self) {
        let conversion = self.0.conversion::<BITS>().expect("none is unproven");
        for count in self.1.iter().copied().chain([0, 1, u32::MAX]) {
            let _ = conversion.voltage(Count(count));
        }
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

fn slid<const N: usize>(stream: &[u16]) -> Vec<u64> {
    let mut sum = SlidingSum::<N>::new();
    stream
        .iter()
        .filter_map(|sample| sum.push(Sample(*sample)))
        .map(|count| u64::from(count.0))
        .collect()
}

/// The count after each slice; slices of one sample are pushed.
fn in_slices<const N: usize>(slices: &[Vec<u16>]) -> Vec<Option<u64>> {
    let mut sum = SlidingSum::<N>::new();
    let count = slices.iter().map(|slice| {
        let samples: Vec<Sample> = slice.iter().copied().map(Sample).collect();
        let count = match samples[..] {
            [sample] => sum.push(sample),
            _ => sum.extend(&samples),
        };
        assert_eq!(count, sum.count());
        count.map(|count| u64::from(count.0))
    });
    count.collect()
}

/// The sum of the last `samples` after each slice, from the whole stream anew.
fn after_each(slices: &[Vec<u16>], samples: usize) -> Vec<Option<u64>> {
    let mut stream = Vec::new();
    let sum = slices.iter().map(|slice| {
        stream.extend_from_slice(slice);
        let first = stream.len().checked_sub(samples)?;
        sliding_sums(&stream[first..], samples).pop()
    });
    sum.collect()
}

/// Negative control: a slice that comes in another order, or without its last sample, gives other counts later or at once.
#[test]
fn other_slices_give_other_counts() {
    let slices = [vec![1, 2, 3, 4, 5], vec![60, 7, 8], vec![9, 100, 11]];
    let found = in_slices::<4>(&slices);
    assert_eq!(found, [Some(14), Some(80), Some(128)]);
    for (changed, slice) in [(1, vec![8, 7, 60]), (1, vec![60, 7])] {
        let mut others = slices.clone();
        others[changed] = slice;
        assert_ne!(after_each(&others, 4), found);
        assert_eq!(after_each(&others, 4), in_slices::<4>(&others));
    }
}
