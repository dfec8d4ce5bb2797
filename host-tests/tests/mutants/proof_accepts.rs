//! Mutant: constants are taken without a proof, rounded up at a shift of 16. The sweep must not believe them.

use num_bigint::BigInt;
use num_rational::BigRational;
use num_traits::ToPrimitive;
use tallyvolt::LineConstants;
use tallyvolt_analysis::describe::firmware::{Constants, Firmware};
use tallyvolt_analysis::prove::sweep::Sweep;
use tallyvolt_harness::cases::{front_ends, shipped};
use tallyvolt_model::Model;
use tallyvolt_model::calibration::CalibrationModel;
use tallyvolt_model::front_end::Topology;
use tallyvolt_model::integer_form::IntegerForm;

const SHIFT: u8 = 16;

fn scaled_up(units: &BigRational) -> Option<u128> {
    (units * BigRational::from_integer(BigInt::from(1_u32 << SHIFT)))
        .ceil()
        .to_integer()
        .to_u128()
}

#[test]
fn every_divided_input_is_caught() {
    let (mut swept, mut caught) = (0, 0);
    let divided = shipped::front_ends()
        .into_iter()
        .chain(front_ends::generated(5, 60, 14))
        .filter(|front_end| matches!(front_end.topology, Topology::DividedInput(_)));
    for front_end in divided {
        let firmware = Firmware::describe(&front_end).expect("a valid front end");
        let proven = firmware.conversion().expect("proven").window();
        let model = Model::new(&front_end, CalibrationModel::identity());
        let at = |count: u32| model.units(count).expect("a line");
        let half = BigRational::new(1.into(), 2.into());
        let constants = LineConstants {
            first: proven.first().0,
            counts: proven.counts(),
            factor: scaled_up(&(at(2) - at(1))).expect("rises"),
            addend: scaled_up(&(at(proven.first().0) + half)).expect("a voltage"),
            shift: SHIFT,
        };
        // The crate refuses those that would wrap; the others convert, and only the sweep can tell.
        let Ok(conversion) = firmware.module(Constants::Line(constants)) else {
            continue;
        };
        let form = IntegerForm::of(&model);
        let sweep = Sweep::run(
            &form,
            model.largest_count(),
            &|count| conversion.outcome(count),
            &|_| {},
        );
        swept += 1;
        caught += u32::from(sweep.wrong > 0);
    }
    println!("{caught} of {swept} caught");
    assert!(swept >= 30 && caught >= 25, "{caught} of {swept}");
}
