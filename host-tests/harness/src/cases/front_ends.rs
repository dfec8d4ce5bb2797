//! Valid front ends from a seed. Settings that are few are walked through, values that are many are drawn.

use tallyvolt_model::front_end::{
    Cell, CodeCentre, Converter, Divider, FrontEnd, FullScale, Reference, ShiftRounding, Topology,
};
use tallyvolt_model::rational::{fraction, whole};

use super::random::Random;

/// Cells in millivolts, emptiest, nominal and fullest: LTO, LFP, NMC. Common practice, no source.
const CELLS: [(&str, u32, u32, u32); 3] = [
    ("LTO", 1500, 2400, 2850),
    ("LFP", 2000, 3200, 3650),
    ("NMC", 2500, 3600, 4200),
];

/// `number` front ends whose largest count is at most 2^`count_bits` (10 to 26).
#[must_use]
pub fn generated(seed: u64, number: u32, count_bits: u32) -> Vec<FrontEnd> {
    let mut random = Random::new(seed);
    (0..number)
        .map(|index| one(index, &mut random, count_bits))
        .collect()
}

/// Eight front ends of `bits` with every bit of 1024 samples kept: both topologies, full scales and code centres.
#[must_use]
pub fn summed_1024(seed: u64, bits: u32) -> Vec<FrontEnd> {
    let mut random = Random::new(seed);
    (0..8)
        .map(|index| {
            // Full scale turns every 18, code centre every 36, topology with the lowest bit.
            let mut front_end = one(18 * index + index / 4, &mut random, bits + 10);
            front_end.converter.bits = bits;
            front_end.converter.samples = 1024;
            front_end.converter.right_shift = 0;
            front_end
        })
        .collect()
}

fn one(index: u32, random: &mut Random, count_bits: u32) -> FrontEnd {
    let (chemistry, min, nominal, max) = random.one_of(&CELLS);
    let cell = Cell {
        chemistry: chemistry.to_owned(),
        min_uv: min * 1000,
        nominal_uv: nominal * 1000,
        max_uv: max * 1000,
    };
    let (topology, reference_uv) = if index.is_multiple_of(2) {
        let reference_uv = reference(random, 8_000_000);
        let divider = divider(random, cell.max_uv, reference_uv);
        (Topology::DividedInput(divider), reference_uv)
    } else {
        (
            Topology::SupplyReference,
            reference(random, cell.min_uv - 1),
        )
    };
    // The lowest bit of the index chose the topology.
    let converter = converter(index / 2, random, count_bits);
    FrontEnd::bare(
        format!("generated-{index}"),
        topology,
        cell,
        converter,
        Reference::nominal(reference_uv),
        random.one_of(&[1000, 100]),
    )
}

/// Every width, full scale and code centre in turn; samples and shift drawn, so that at least three counts are left and
/// the sum has at most `count_bits` bits after the shift.
fn converter(index: u32, random: &mut Random, count_bits: u32) -> Converter {
    let bits = 8 + index % 9;
    // A shift takes off 8 bits at most.
    let samples_log2 = random.within(0..=10.min(count_bits + 8 - bits));
    let least = (bits + samples_log2).saturating_sub(count_bits);
    let most = 8.min(bits + samples_log2 - 2);
    Converter {
        full_scale: [FullScale::PowerOfTwo, FullScale::TopCode][(index / 9 % 2) as usize],
        code_centre: [CodeCentre::Half, CodeCentre::Edge][(index / 18 % 2) as usize],
        samples: 1 << samples_log2,
        right_shift: random.within(least..=most),
        shift_rounding: random.one_of(&[ShiftRounding::Truncate, ShiftRounding::Nearest]),
        ..Converter::single(bits)
    }
}

/// One of the voltages that references are sold with, or any other.
fn reference(random: &mut Random, most: u32) -> u32 {
    let sold = random.one_of(&[
        1_024_000, 1_100_000, 1_200_000, 1_225_000, 2_048_000, 2_500_000,
    ]);
    if sold <= most && random.within(0..=1) == 0 {
        sold
    } else {
        random.within(100_000..=most)
    }
}

/// A divider that keeps the fullest cell at or below the reference: at its limit, or up to three times as coarse.
fn divider(random: &mut Random, cell_max_uv: u32, reference_uv: u32) -> Divider {
    // Hundredths of an ohm on the top resistance make both a hundred times larger as whole numbers. At 4.2 V over 0.1 V
    // the top is at most 3 * 41 times the bottom: 9 225 000 in either case, within the limit.
    let hundredths = random.one_of(&[0, 0, 10, 1, 33]);
    let bottom = random.within(1..=if hundredths == 0 { 75_000 } else { 750 });
    let needed = whole(bottom) * (whole(cell_max_uv) / whole(reference_uv) - whole(1));
    let least = needed.ceil().max(whole(1));
    let slack = random.one_of(&[0, 1, 2, 13, 97, 100]);
    let top = (&least + &least * fraction(slack, 50)).floor();
    let top_ohms = top + fraction(hundredths, 100);
    Divider::nominal(top_ohms, whole(bottom))
}

#[cfg(test)]
mod tests {
    use super::{generated, summed_1024};
    use tallyvolt_analysis::describe::firmware::Firmware;
    use tallyvolt_model::acquisition::AcquisitionModel;

    #[test]
    fn every_front_end_is_one_the_crate_takes() {
        for front_end in generated(1, 500, 18).iter().chain(&summed_1024(1, 16)) {
            let described = Firmware::describe(front_end);
            assert!(described.is_ok(), "{described:?} {front_end:?}");
        }
    }

    #[test]
    fn counts_stay_within_the_bits_asked_for() {
        for count_bits in [10, 14, 20] {
            for front_end in generated(2, 200, count_bits) {
                let largest = AcquisitionModel::new(&front_end.converter).largest_count();
                assert!(largest <= 1 << count_bits, "{largest} {front_end:?}");
            }
        }
    }

    #[test]
    fn the_same_seed_makes_the_same_front_ends() {
        assert_eq!(generated(7, 20, 18), generated(7, 20, 18));
        assert_ne!(generated(7, 20, 18), generated(8, 20, 18));
    }
}
