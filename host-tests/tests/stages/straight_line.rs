//! The search for a straight line's constants: it finds exact ones for every description.

use tallyvolt_analysis::describe::firmware::{Constants, Firmware};
use tallyvolt_harness::cases::front_ends;
use tallyvolt_model::front_end::Topology;

/// Every divided input of up to 16 bits of counts has constants that are exact at S = 32 or less, and every wider one at S = 64.
#[test]
fn every_described_divider_is_proven() {
    let (mut narrow, mut wide) = (0, 0);
    for seed in 0..40 {
        for front_end in front_ends::generated(seed, 260, 26) {
            if !matches!(front_end.topology, Topology::DividedInput(_)) {
                continue;
            }
            let firmware = Firmware::describe(&front_end).expect("described");
            let conversion = firmware
                .conversion()
                .unwrap_or_else(|error| panic!("{error}: {front_end:?}"));
            let Constants::Line(line) = conversion.constants() else {
                panic!("a divided input converts by a line");
            };
            if firmware.count_bits() <= 16 {
                assert!(line.shift <= 32, "{front_end:?}");
                narrow += 1;
            } else {
                assert_eq!(line.shift, 64, "{front_end:?}");
                wide += 1;
            }
        }
    }
    println!("{narrow} of up to 16 bits, {wide} wider");
    assert_eq!((narrow, wide), (3956, 1244));
}
