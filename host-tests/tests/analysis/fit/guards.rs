//! Guard bands of a module by its own uncertainty: counted on cells that stand at their limits, and against the plan's.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;
use tallyvolt_analysis::calibrate::fit::fit;
use tallyvolt_analysis::calibrate::fit::guards::Guard;
use tallyvolt_analysis::calibrate::fit::readings::ModuleReadings;
use tallyvolt_model::front_end::FrontEnd;

use super::settings::{self, Setting};

/// How often a cell at a limit may be missed, so that a few hundred modules can tell.
const MISS: f64 = 0.05;

/// A file with limits on the true value; `more` are further lines of its `[limits]`.
fn with_limits(setting: &Setting, more: &str) -> FrontEnd {
    settings::parsed(&format!(
        "{}[limits]\nmeaning = \"true-value\"\nover_voltage_mv = 3600\nunder_voltage_mv = 2100\nmiss_ppm = {}\n{more}\
         [meter]\nreading_ppm = 50\n[calibration]\npoints = {}\nreadings = {}\n",
        setting.text(),
        MISS * 1e6,
        setting.voltages.min(2),
        setting.repeats,
    ))
}

/// Shares of cells missed at the upper and the lower limit by firmware that has `part` of the guard band that each module needs:
/// it alarms from the whole millivolt on that is at least as far from the limit.
fn missed(setting: &Setting, modules: usize, part: f64, seed: u64) -> [f64; 2] {
    let front_end = with_limits(setting, "");
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let (boards, readings) = setting.modules(modules, &mut random);
    let batch = fit(&front_end, &readings, &setting.settings(), &|_| {}).expect("legal");
    let mut missed = [0_u32; 2];
    for (board, module) in boards.iter().zip(&batch.modules) {
        let fit = module.fit.as_ref().expect("a fit");
        let [over, under]: [Guard; 2] = fit
            .guards
            .clone()
            .try_into()
            .expect("two limits, an interval");
        let transfer = &batch.transfer;
        let read = |mv: f64, random: &mut ChaCha8Rng| {
            let x = transfer.place(board.count(&front_end, mv, random))
                - fit.offset * transfer.per_sample;
            let read = transfer.voltage_mv(x / transfer.gain(fit.gain));
            (read / transfer.unit_mv).round() * transfer.unit_mv
        };
        let alarm_over = (3600.0 - part * over.needs_mv).floor();
        let alarm_under = (2100.0 + part * under.needs_mv).ceil();
        missed[0] += u32::from(read(3600.0, &mut random) < alarm_over);
        missed[1] += u32::from(read(2100.0, &mut random) > alarm_under);
    }
    assert_eq!(batch.modules.len(), modules);
    missed.map(|missed| f64::from(missed) / modules as f64)
}

fn settings() -> Vec<Setting> {
    let mut all = Vec::new();
    for bits in [10, 12, 16] {
        for divided in [true, false] {
            for (voltages, repeats) in [(1, 10), (2, 3), (4, 3)] {
                for noise in [0.1, 0.6] {
                    all.push(Setting {
                        bits,
                        divided,
                        voltages,
                        repeats,
                        display_mv: 0.1,
                        dithers: false,
                        noise,
                        noise_stated: true,
                        inl: 0.0,
                        unit_uv: 1000,
                        batch: 1,
                    });
                }
            }
        }
    }
    all
}

/// Largest and mean share of cells missed over all settings.
fn counted(modules: usize) -> (f64, f64) {
    let settings = settings();
    assert_eq!(settings.len(), 36);
    let shares: Vec<[f64; 2]> = (0_u64..)
        .zip(&settings)
        .collect::<Vec<_>>()
        .into_par_iter()
        .map(|(seed, setting)| missed(setting, modules, 1.0, 4_100 + seed))
        .collect();
    for (setting, [over, under]) in settings.iter().zip(&shares) {
        println!("{}  over {over:.4} under {under:.4}", setting.words());
    }
    let shares = shares.as_flattened();
    let largest = shares.iter().copied().fold(0.0, f64::max);
    (largest, shares.iter().sum::<f64>() / shares.len() as f64)
}

/// Five standard deviations of the count itself beyond what is allowed: 72 shares are looked at.
fn allowed(modules: usize) -> f64 {
    MISS + 5.0 * (MISS * (1.0 - MISS) / modules as f64).sqrt()
}

#[test]
fn cells_at_a_limit_are_missed_no_more_often_than_the_file_allows() {
    let (largest, mean) = counted(150);
    assert!(largest <= allowed(150), "{largest}");
    // Bands that are far too wide would pass as well, and be worth nothing.
    assert!(mean > MISS / 10.0, "{mean}");
}

#[test]
#[ignore = "minutes: cargo test --release -p tallyvolt-analysis --test analysis whole_count -- --ignored --nocapture"]
fn whole_count() {
    let (largest, mean) = counted(2000);
    println!("largest {largest:.4}, mean {mean:.4}");
    assert!(largest <= allowed(2000), "{largest}");
    assert!(mean > MISS / 10.0, "{mean}");
}

/// The control: with a third of the band the count is far beyond what is allowed.
#[test]
fn a_third_of_a_guard_band_is_caught() {
    let settings = settings();
    let wide: Vec<&Setting> = settings
        .iter()
        .filter(|setting| setting.bits == 10)
        .collect();
    let caught = wide
        .par_iter()
        .filter(|setting| {
            let missed = missed(setting, 150, 1.0 / 3.0, 4_200);
            missed.iter().any(|share| *share > allowed(150))
        })
        .count();
    assert_eq!((caught, wide.len()), (12, 12));
}

const NOISY: Setting = Setting {
    bits: 12,
    divided: true,
    voltages: 2,
    repeats: 10,
    display_mv: 0.1,
    dithers: true,
    noise: 0.6,
    noise_stated: true,
    inl: 0.0,
    unit_uv: 1000,
    batch: 1,
};

fn guards(front_end: &FrontEnd, setting: &Setting) -> (Vec<Guard>, bool) {
    let mut random = ChaCha8Rng::seed_from_u64(7);
    let (_, readings) = setting.modules(1, &mut random);
    let batch = fit(front_end, &readings, &setting.settings(), &|_| {}).expect("legal");
    let guards = batch.modules[0].fit.as_ref().expect("a fit").guards.clone();
    (guards, batch.holds())
}

/// A converter noisier than its file says needs more than the plan gives; the file can state it, and then firmware alarms that
/// much earlier.
#[test]
fn a_module_poorer_than_its_plan_is_told_and_the_file_can_say_so() {
    let noisier = Setting {
        noise: 2.0,
        ..NOISY
    };
    let (needed, holds) = guards(&with_limits(&NOISY, ""), &noisier);
    assert!(
        !needed[0].holds() && !needed[1].holds() && !holds,
        "{needed:?}"
    );
    let stated: String = needed
        .iter()
        .map(|guard| format!("{} = {:.2}\n", guard.key, guard.to_state_mv()))
        .collect();
    let (covered, holds) = guards(&with_limits(&NOISY, &stated), &noisier);
    assert!(covered.iter().all(Guard::holds) && holds, "{covered:?}");
    for (before, after) in needed.iter().zip(&covered) {
        assert_eq!(before.needs_mv, after.needs_mv);
        assert!(before.firmware_mv < after.firmware_mv);
    }
    // As planned, the plan's own bands are wide enough.
    let (planned, holds) = guards(&with_limits(&NOISY, ""), &NOISY);
    assert!(planned.iter().all(Guard::holds) && holds, "{planned:?}");
}

/// A batch answers with the widest band of each limit, and with the first of the modules that need it.
#[test]
fn the_widest_guard_bands_of_a_batch_are_those_of_its_poorest_modules() {
    let front_end = with_limits(&NOISY, "");
    let mut random = ChaCha8Rng::seed_from_u64(7);
    let (_, mut readings) = NOISY.modules(4, &mut random);
    // One module has two rows of ten at the fullest cell, and one has them at the emptiest, which stands twice.
    let few = |module: &mut ModuleReadings, full: bool| {
        let (poor, rich) = std::mem::take(&mut module.readings)
            .into_iter()
            .partition::<Vec<_>, _>(|reading| (reading.meter_mv > 2825.0) == full);
        assert_eq!((poor.len(), rich.len()), (10, 10));
        module.readings = [&poor[..2], &rich].concat();
    };
    few(&mut readings.modules[1], true);
    few(&mut readings.modules[2], false);
    readings.modules[3].readings = readings.modules[2].readings.clone();
    let batch = fit(&front_end, &readings, &NOISY.settings(), &|_| {}).expect("legal");
    let widest: Vec<_> = batch
        .widest_guards()
        .into_iter()
        .map(|(module, guard)| (module.module.as_str(), guard))
        .collect();
    let guards =
        |module: usize| batch.modules[module].fit.as_ref().expect("a fit").guards[..].to_vec();
    let over = ("m00001", guards(1)[0]);
    let under = ("m00002", guards(2)[1]);
    assert_eq!(widest, [over, under]);
    assert_eq!(guards(2), guards(3));
    for (limit, of) in [over.1, under.1].into_iter().enumerate() {
        assert!((0..4).all(|module| guards(module)[limit].needs_mv <= of.needs_mv));
        assert!(guards(0)[limit].needs_mv < of.needs_mv);
    }
}

/// Drift that no fit can see is in the band: a reference of 50 ppm/K over 37 K moves 3600 mV by 6.66 mV at most.
#[test]
fn drift_over_the_temperature_is_in_the_band() {
    let still = with_limits(&NOISY, "");
    let mut warm = still.clone();
    warm.environment = settings::parsed(&format!(
        "{}[environment]\ncalibrated_at_c = 23\nmin_c = -14\nmax_c = 60\n",
        NOISY.text()
    ))
    .environment;
    warm.reference.tolerance.ppm_per_k = Some(num_rational::BigRational::from_integer(50.into()));
    let ([cool, _], [hot, _]) = (
        guards(&still, &NOISY).0.try_into().expect("two limits"),
        guards(&warm, &NOISY).0.try_into().expect("two limits"),
    );
    let (cool, hot): (Guard, Guard) = (cool, hot);
    let most = 3600.0 * 50e-6 * 37.0;
    assert!(
        hot.needs_mv > cool.needs_mv + 0.4 * most,
        "{cool:?} {hot:?}"
    );
    assert!(
        hot.needs_mv < cool.needs_mv + most + 0.01,
        "{cool:?} {hot:?}"
    );
}

/// Limits on the reading have no guard band.
#[test]
fn limits_on_the_reading_ask_for_none() {
    let text = format!("{}[limits]\nover_voltage_mv = 3600\n", NOISY.text());
    let (none, holds) = guards(&settings::parsed(&text), &NOISY);
    assert!(none.is_empty() && holds);
}

/// What is to be stated is the need, rounded up to a hundredth of a millivolt.
#[test]
fn a_need_is_stated_in_hundredths_of_a_millivolt() {
    let stated = |needs_mv: f64| {
        let guard = Guard {
            limit: "over_voltage_mv",
            key: "over_voltage_guard_mv",
            needs_mv,
            firmware_mv: 0.0,
        };
        guard.to_state_mv()
    };
    assert_eq!((stated(12.3401), stated(12.3399)), (12.35, 12.34));
    assert_eq!((stated(0.0), stated(0.001)), (0.0, 0.01));
}

/// A module without noise whose two voltages are read once, by hand: the rounding of a later count, that of both rows as far as they are
/// in the line, that of the output, and a rectangle as wide as the constants lie beside the fit. One in twenty exceeds 1.645 standard
/// uncertainties.
#[test]
fn a_band_by_hand() {
    let text = "name = \"example\"\ntopology = \"supply-reference\"\n\
         [cell]\nchemistry = \"LFP\"\nmin_mv = 2000\nnominal_mv = 3200\nmax_mv = 3650\n\
         [converter]\nbits = 12\nfull_scale = \"2^n\"\ncode_centre = \"half\"\nsupply_min_mv = 1800\nnoise_rms_lsb = 0\n\
         [reference]\nmicrovolts = 1_200_000\n\
         [limits]\nmeaning = \"true-value\"\nover_voltage_mv = 3600\nunder_voltage_mv = 2100\nmiss_ppm = 50_000\n\
         [calibration]\npoints = 2\nreadings = 1\n";
    let front_end = settings::parsed(text);
    let rows = "module,meter_mv,count\nm,2050,2401\nm,3500,1407\n";
    let batch = super::fitted(rows, &front_end);
    let fit = super::fit_of(&batch.modules[0]);
    let distance = fit.stored.expect("storable").distance_mv;
    assert!(distance > 1e-3, "{distance}");
    let at = |mv: f64| 1200.0 * 4096.0 / mv;
    let (one, other) = (at(2050.0), at(3500.0));
    for (guard, mv) in fit.guards.iter().zip([3600.0, 2100.0]) {
        let shares = [
            (at(mv) - other) / (one - other),
            (one - at(mv)) / (one - other),
        ];
        let counts = (1.0 + shares[0].powi(2) + shares[1].powi(2)) / 12.0;
        let per_mv = fit.gain * at(mv) / mv;
        let variance = counts / per_mv.powi(2) + 1.0 / 12.0 + distance.powi(2) / 3.0;
        let by_hand = 1.644_853_627 * variance.sqrt();
        assert!(
            (guard.needs_mv / by_hand - 1.0).abs() < 1e-8,
            "{guard:?} {by_hand}"
        );
    }
    assert_eq!(fit.guards.len(), 2);
}
