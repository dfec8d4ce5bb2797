//! What a meter's data sheet says of a reading, and what the voltages on its display are enough for.

use tallyvolt_analysis::calibrate::fit::Settings;
use tallyvolt_analysis::calibrate::fit::meter::Meter;
use tallyvolt_analysis::calibrate::fit::mode::Mode;
use tallyvolt_harness::simulated::front_end;
use tallyvolt_model::front_end;
use tallyvolt_model::rational::{fraction, whole};

use super::{DIVIDED, fit_of, fitted_with};

/// 500 ppm of 3200 mV, 10 ppm of 10 V and three digits of 0.1 mV: 1.6 + 0.1 + 0.3 mV.
#[test]
fn a_data_sheet_gives_a_limit() {
    let stated = front_end::Meter {
        reading_ppm: whole(500),
        range_ppm: whole(10),
        range_mv: whole(10_000),
        digits: whole(3),
        resolution_mv: fraction(1, 10),
    };
    let meter = Meter::from(&stated);
    assert_eq!(meter.resolution_mv, 0.1);
    for reading in [3200.0, -3200.0] {
        assert!((meter.limit_mv(reading) - 2.0).abs() < 1e-12);
    }
    // Anywhere within the limit, and within a digit (GUM 4.3.7, F.2.2.1).
    assert!((meter.systematic_mv(3200.0) * 3_f64.sqrt() - 2.0).abs() < 1e-12);
    assert!((meter.display_mv() * 12_f64.sqrt() - 0.1).abs() < 1e-12);
}

#[test]
fn an_ideal_meter_is_one_of_which_nothing_is_stated() {
    let ideal = Meter::default();
    assert!(ideal.is_ideal());
    let stated = [
        Meter {
            ppm_reading: 1.0,
            ..ideal
        },
        Meter {
            ppm_range: 1.0,
            range_mv: 1.0,
            ..ideal
        },
        Meter {
            resolution_mv: 0.1,
            ..ideal
        },
    ];
    assert!(stated.iter().all(|meter| !meter.is_ideal()));
}

/// An offset needs voltages that span a fifth of 1650 mV: 330 mV.
#[test]
fn the_span_decides_whether_an_offset_is_fitted() {
    let front_end = front_end(DIVIDED);
    let found = |upper: u32, mode| {
        // One count is 1.04376 mV.
        let count = upper * 4096 / 4275;
        let text = format!("module,meter_mv,count\na,2500,2395\na,{upper},{count}\n");
        let settings = Settings {
            mode,
            ..Settings::default()
        };
        let batch = fitted_with(&text, &front_end, &settings);
        let fit = fit_of(&batch.modules[0]);
        (fit.mode, fit.mode_reason.clone())
    };
    let (near, why) = found(2828, None);
    assert_eq!(
        (near, &why[..]),
        (
            Mode::GainOnly,
            "the voltages span only 19.9 % of the cell's range"
        )
    );
    let (far, why) = found(2832, None);
    assert_eq!(
        (far, &why[..]),
        (
            Mode::GainAndOffset,
            "2 voltages span 20.1 % of the cell's range"
        )
    );
    assert_eq!(found(2832, Some(Mode::GainOnly)).0, Mode::GainOnly);
    let asked = found(2832, Some(Mode::GainAndOffset));
    assert_eq!((asked.0, &asked.1[..]), (Mode::GainAndOffset, "as asked"));
}
