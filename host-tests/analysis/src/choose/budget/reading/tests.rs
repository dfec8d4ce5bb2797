//! The way back, from steps to the true voltage.

use super::*;

fn circuit(divider_ohms: Option<(f64, f64)>) -> Circuit {
    Circuit {
        reference_mv: 1200.0,
        divider_ohms,
        full_scale: 4096.0,
        meter: (0.0, 0.0),
        calibration_mv: (3000.0, 2600.0, 3500.0),
        climates: Climates::default(),
        sites_mv: vec![3000.0],
    }
}

/// A board reads so many steps at the ends of its reach, with every part off and whatever differs from reading to reading.
#[test]
fn at_the_ends_of_its_reach_a_board_reads_the_rails() {
    let mut values = [0.0; SLOTS];
    for (quantity, value) in [
        (Quantity::ReferenceTolerance, 5000.0),
        (Quantity::ReferenceAgeing, -900.0),
        (Quantity::TopTolerance, -4000.0),
        (Quantity::BottomTolerance, 3000.0),
        (Quantity::ConverterOffset, 7.0),
        (Quantity::ConverterGain, 11.0),
        (Quantity::Leakage, 40.0),
        (Quantity::Nonlinearity(Place::Reading), 1.5),
        (Quantity::Noise(Place::Reading), -0.75),
    ] {
        values[quantity.slot()] = value;
    }
    let rails = Rails {
        low: 600.0,
        high: 3900.0,
    };
    for divider in [None, Some((24_900.0, 10_000.0))] {
        let circuit = circuit(divider);
        let (low, high) = circuit.reach_mv(&values, rails);
        let values = Values(&values);
        let aged = values.of(Quantity::ReferenceAgeing);
        let board = circuit.board(&values, Climate::default(), aged);
        let leakage_mv = 40.0 * board.leakage_mv_per_na;
        let read = |true_mv| board.steps(true_mv, leakage_mv, &values) + 0.75;
        let ends = match divider {
            Some(_) => (read(low), read(high)),
            None => (read(high), read(low)),
        };
        assert!(
            (ends.0 - 600.0).abs() < 1e-6 && (ends.1 - 3900.0).abs() < 1e-6,
            "{divider:?} {ends:?}"
        );
        assert!(low < high);
    }
}
