//! A quotient by a table of reciprocals, against the plain one.
#![expect(
    clippy::arithmetic_side_effects,
    clippy::cast_possible_truncation,
    clippy::indexing_slicing,
    reason = "numbers of tests"
)]

use crate::arch::reciprocal::{
    DOUBLED, END, ENTRIES, ENTRY, FIRST, LAST_HALF, LEAST_HALF, Reciprocal, TABLE,
};
use crate::arch::{HalfStep, Quotient, narrow, portable};

/// T at a D, as the kernel forms it of an entry.
fn reciprocal(table: &[u8], divisor: u16) -> u16 {
    let entry = ENTRY * usize::from((divisor >> 8) - FIRST);
    let slope = u16::from(table[entry]);
    u16::from_be_bytes([table[entry + 1], table[entry + 2]])
        - ((u32::from(slope) * u32::from(divisor & 0xFF)) >> 7) as u16
}

/// The value as the kernel finds it, in 16 bits.
fn by_table(of: &Reciprocal, table: &[u8], count: u16) -> Option<u16> {
    let position = count.wrapping_sub(of.first);
    if position >= of.counts {
        return None;
    }
    let divisor = of.at_first + 2 * u16::from(of.half_step) * position;
    let reciprocal = reciprocal(table, divisor);
    let estimate = ((u32::from(of.seed) * u32::from(reciprocal)) >> 16) as u16;
    let half = divisor >> 1;
    let rest = of
        .half_numerator
        .wrapping_sub(half.wrapping_mul(estimate))
        .wrapping_sub(half >> 1);
    Some(estimate + 1 - (rest >> 15))
}

/// Whether e lies within -1/2 and 1/2 at a D for every seed that meets it; e times 2^17 D, at the ends.
fn holds(table: &[u8], half: u16) -> bool {
    let divisor = i64::from(half) * 2;
    let off_by = i64::from(reciprocal(table, half << 1)) * divisor - (1 << 29);
    let meets = |seed: u32| seed - (seed >> 4) < u32::from(half);
    let largest = (0..=u32::from(END) << 3).rev().find(|seed| meets(*seed));
    let ends = [0, i64::from(largest.unwrap_or(0))];
    ends.into_iter().all(|seed| {
        [-(1 << 12), (1 << 12) - 1].into_iter().all(|rest: i64| {
            let twice = 2 * (seed * off_by - (rest << 16));
            twice.abs() <= divisor << 16
        })
    })
}

/// The whole proof: every D of the table.
#[test]
fn an_estimate_is_the_value_or_one_less() {
    let halves = LEAST_HALF..=LAST_HALF;
    assert_eq!(halves.len(), ENTRIES * 128);
    for half in halves {
        assert!(holds(&TABLE, half), "h {half}");
    }
}

/// The control: no entry may be another.
#[test]
fn a_wrong_entry_is_noticed() {
    for (entry, place) in (0..ENTRIES).flat_map(|entry| (0..ENTRY).map(move |place| (entry, place)))
    {
        let mut wrong = TABLE;
        // Five in T, a quarter or more in what a slope takes off; the upper byte by one.
        wrong[ENTRY * entry + place] ^= [0x10, 1, 8][place];
        let first = LEAST_HALF + 128 * entry as u16;
        let found = (first..first + 128).any(|half| !holds(&wrong, half));
        assert!(found, "entry {entry}, byte {place}");
    }
}

/// The largest K.
const LARGEST: u32 = ((END as u32) << 16) - 1;
/// The least K that is not doubled.
const WHOLE: u32 = (DOUBLED as u32) << 16;

fn quotient(first: u16, counts: u16, log2: u8, half: u16, numerator: u32) -> Quotient {
    Quotient {
        first: narrow(first.into()),
        counts: narrow(counts.into()),
        half_step: HalfStep::of(log2),
        half_at_first: narrow(half.into()),
        numerator,
    }
}

/// The values of a quotient at every count of 16 bits, by the table where it serves; how many counts it does, and the least and the largest value
/// among them.
fn compared(quotient: &Quotient) -> (u16, u16, u16) {
    let of = Reciprocal::of(quotient);
    let (mut served, mut least, mut largest) = (0, u16::MAX, 0);
    for count in 0..=u16::MAX {
        let Some(value) = by_table(&of, &TABLE, count) else {
            continue;
        };
        let position = count.wrapping_sub(quotient.first as u16);
        assert!(position < quotient.counts as u16, "{quotient:?} {count}");
        let plain = portable::quotient_at(quotient, narrow(position.into()));
        assert_eq!(value, plain, "{quotient:?} {count}");
        served += 1;
        least = least.min(value);
        largest = largest.max(value);
    }
    assert_eq!(served, of.counts);
    if served > 0 {
        let doubled = u32::from(of.half_step) > quotient.half_step.times(1);
        let numerator = quotient.numerator << u32::from(doubled);
        assert_eq!(u32::from(of.seed), (numerator + (1 << 12)) >> 13);
    }
    (served, least, largest)
}

/// K, first count and steps of a reference whose D nearly fills 16 bits at the last count of so many bits.
fn of_reference(microvolts: u32, bits: u8, gain: (u32, u32)) -> Quotient {
    let log2 = 16 - bits;
    let numerator = (u64::from(microvolts) << 16) / 1000 * u64::from(gain.0) / u64::from(gain.1);
    // The first count whose value has 16 bits, and D half a count above it.
    let first = (numerator >> 16 >> log2) as u16 + 1;
    let half = (first << (log2 - 1)) + (1 << log2 >> 2);
    let last = (1_u32 << bits) - 2;
    quotient(
        first,
        (last + 1 - u32::from(first)) as u16,
        log2 - 1,
        half,
        numerator as u32,
    )
}

#[test]
fn every_count_that_the_table_serves_is_the_quotient() {
    let mut compared_in_all = 0;
    for (microvolts, least, largest) in [
        (550_000, 1120, 4250),
        (600_000, 1230, 4369),
        (1_000_000, 2040, 4369),
        (1_024_000, 2090, 4369),
        (1_070_000, 2158, 4369),
        (1_100_000, 1110, 4290),
        (1_200_000, 1210, 4369),
        (1_500_000, 1510, 4369),
        (2_048_000, 2060, 4369),
        (2_500_000, 2510, 4369),
    ] {
        for bits in 9..=14 {
            for gain in [(1, 1), (997, 1000), (16_843_213, 1 << 24)] {
                let (served, low, high) = compared(&of_reference(microvolts, bits, gain));
                let what = (microvolts, bits, low, high);
                assert!(low <= least + 10 && high + 60 >= largest, "{what:?}");
                // What the type promises; V falls to the reference's own voltage at the rail.
                let promised = 2200.max((microvolts / 1000) as u16 + 20);
                if microvolts >= 600_000 {
                    assert!(low <= promised && high >= 4200, "{what:?}");
                }
                compared_in_all += u32::from(served);
            }
        }
    }
    assert!(compared_in_all > 400_000, "{compared_in_all}");
}

/// Any K, step and h at the first count.
#[test]
fn any_quotient_is_the_tables_where_it_serves() {
    let (mut state, mut served, mut none) = (1_u64, 0, 0);
    for _ in 0..600 {
        // A full-period generator modulo 2^64; the constants are from memory.
        let mut random = |below: u32| {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (((state >> 32) * u64::from(below)) >> 32) as u32
        };
        let log2 = random(7) as u8;
        let half = 1 + random(LAST_HALF.into()) as u16;
        let numerator = random((half as u32) << 17).min(random(1 << 29));
        let counts = 1 + random(((LAST_HALF - half) >> log2).into()) as u16;
        let first = 1 + random(u32::from(u16::MAX - counts)) as u16;
        match compared(&quotient(first, counts, log2, half, numerator)).0 {
            0 => none += 1,
            counts => served += u32::from(counts),
        }
    }
    assert!(served > 100_000 && none > 50, "{served}, {none}");
}

/// What the table does not serve is left to the plain module.
#[test]
fn other_counts_are_left() {
    // Steps of 1 in h, K too large, and a D that never fits.
    for none in [
        quotient(2000, 30_000, 0, 2001, 80_281_600),
        quotient(100, 3995, 3, 804, LARGEST + 1),
        quotient(1, 10, 3, 100, 80_281_600),
        quotient(1, 10, 3, 32_000, 20_000_000),
        quotient(1, 1, 0, 1, 0),
    ] {
        assert_eq!(Reciprocal::of(&none).counts, 0, "{none:?}");
        assert_eq!(compared(&none), (0, u16::MAX, 0));
    }
    // The largest K, the smallest that is not doubled and the largest that is, one count alone, and all steps.
    for (numerator, log2) in [(LARGEST, 3), (WHOLE, 3), (WHOLE - 1, 3)] {
        assert!(compared(&quotient(100, 3900, log2, 1300, numerator)).0 > 1000);
    }
    for log2 in 1..=6 {
        let counts = (LAST_HALF - 9001) >> log2;
        assert!(compared(&quotient(7, counts, log2, 9001, 78_643_200)).0 >= counts - 1);
    }
    assert_eq!(compared(&quotient(900, 1, 3, 9001, 78_643_200)).0, 1);
    // 0 is a value of the table as well.
    assert_eq!(compared(&quotient(1, 2000, 3, 5000, 0)), (1423, 0, 0));
}
