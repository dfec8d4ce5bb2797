//! The stated 95 % hold: counted on modules with known truths, in every setting.

use std::ops::RangeInclusive;

use super::settings::{self, Board, Setting};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;
use tallyvolt_analysis::calibrate::fit::fit;
use tallyvolt_analysis::calibrate::fit::module::Fit;
use tallyvolt_analysis::calibrate::fit::readings::Readings;
use tallyvolt_analysis::calibrate::fit::transfer::Transfer;
use tallyvolt_harness::simulated::even;
use tallyvolt_model::front_end::FrontEnd;

/// Gain, offset, and readings at the emptiest, usual and fullest cell.
const WHAT: [&str; 5] = ["gain", "offset", "min", "nominal", "max"];

/// How often an interval held.
#[derive(Debug, Clone, Copy, Default)]
struct Held {
    held: [u32; 5],
    stated: u32,
    none: u32,
    suspects: u32,
}

impl Held {
    /// Share in per cent of the intervals stated.
    fn percent(&self, what: usize) -> f64 {
        100.0 * f64::from(self.held[what]) / f64::from(self.stated)
    }

    /// Whether every share lies within the promise, or no interval was stated.
    fn holds(&self, promise: &RangeInclusive<f64>) -> bool {
        self.stated == 0 || (0..WHAT.len()).all(|what| promise.contains(&self.percent(what)))
    }

    fn words(&self) -> String {
        if self.stated == 0 {
            return "no interval".to_owned();
        }
        let shares: Vec<String> = (0..WHAT.len())
            .map(|what| format!("{:5.1}", self.percent(what)))
            .collect();
        let none = if self.none > 0 {
            format!(", none for {} of {}", self.none, self.none + self.stated)
        } else {
            String::new()
        };
        format!("{}{none}", shares.join(" "))
    }
}

/// Half-widths of the five stated intervals.
fn stated(fit: &Fit) -> Option<[f64; 5]> {
    let (uncertainty, reading) = (fit.uncertainty?, fit.reading?);
    Some([
        uncertainty.gain.expanded,
        uncertainty.offset.expanded,
        reading.at_min,
        reading.at_nominal,
        reading.at_max,
    ])
}

/// Adds one module.
fn look(
    held: &mut Held,
    front_end: &FrontEnd,
    transfer: &Transfer,
    fit: &Fit,
    board: &Board,
    random: &mut ChaCha8Rng,
) {
    let Some(widths) = stated(fit) else {
        held.none += 1;
        return;
    };
    held.stated += 1;
    let [min, nominal, max] = transfer.cell_mv;
    let mut off = [
        fit.gain - board.truth.gain,
        fit.offset - board.truth.offset,
        0.0,
        0.0,
        0.0,
    ];
    for (off, mv) in off[2..].iter_mut().zip([min, nominal, max]) {
        let mv = mv + 10.0 * even(random);
        let x =
            transfer.place(board.count(front_end, mv, random)) - fit.offset * transfer.per_sample;
        let read = transfer.voltage_mv(x / transfer.gain(fit.gain));
        *off = (read / transfer.unit_mv).round() * transfer.unit_mv - mv;
    }
    for ((held, off), width) in held.held.iter_mut().zip(off).zip(widths) {
        *held += u32::from(off.abs() <= width);
    }
}

/// Simulates `modules` modules of a setting and counts.
fn simulate(setting: &Setting, modules: usize, seed: u64) -> Held {
    simulate_with(setting, &setting.front_end(), modules, seed)
}

/// The same, fitted with another front-end file.
fn simulate_with(setting: &Setting, front_end: &FrontEnd, modules: usize, seed: u64) -> Held {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let settings = setting.settings();
    let mut held = Held::default();
    let (boards, readings) = setting.modules(modules, &mut random);
    for (boards, rows) in boards
        .chunks(setting.batch)
        .zip(readings.modules.chunks(setting.batch))
    {
        let batch = Readings {
            modules: rows.to_vec(),
            ..Readings::default()
        };
        let batch = fit(front_end, &batch, &settings, &|_| {}).expect("legal");
        for (module, board) in batch.modules.iter().zip(boards) {
            held.suspects += u32::from(!module.reasons.is_empty());
            match &module.fit {
                Some(fit) => look(
                    &mut held,
                    front_end,
                    &batch.transfer,
                    fit,
                    board,
                    &mut random,
                ),
                None => held.none += 1,
            }
        }
    }
    held
}

/// Modules a setting.
const MODULES: usize = 2000;
/// The promise, in per cent. 2,000 modules scatter by 0.5.
const PROMISE: RangeInclusive<f64> = 93.5..=97.5;

/// Every setting, each with one of the noises by turns.
fn all(batch: usize, noises: [f64; 3], repeats: &[usize]) -> Vec<Setting> {
    let mut all: Vec<Setting> = Vec::new();
    for bits in [8, 10, 12, 16] {
        for divided in [true, false] {
            for voltages in [1, 2, 4] {
                for repeats in repeats {
                    for display_mv in [0.01, 0.1, 1.0] {
                        for dithers in [false, true] {
                            // Twelve settings a kind of rows: the turn moves on by one from kind to kind.
                            let turn = (all.len() / 2 + all.len() / 12) % 3;
                            all.extend([true, false].map(|noise_stated| Setting {
                                bits,
                                divided,
                                voltages,
                                repeats: *repeats,
                                display_mv,
                                dithers,
                                noise: noises[turn],
                                noise_stated,
                                inl: 0.0,
                                unit_uv: 1000,
                                batch,
                            }));
                        }
                    }
                }
            }
        }
    }
    all
}

/// The same settings with a bent converter, of two limits by turns, and fine output steps in two of three.
fn bent(mut settings: Vec<Setting>) -> Vec<Setting> {
    for (at, setting) in settings.iter_mut().enumerate() {
        // Pairs, with noise stated and not, stay alike.
        let turn = at / 2;
        setting.inl = [0.5, 1.5][(turn + turn / 12) % 2];
        setting.unit_uv = [100, 1000, 100][(turn + turn / 12) % 3];
    }
    settings
}

/// The lowest and highest of some shares, with the setting where it was.
fn extremes(found: &[(Setting, Held)]) -> Vec<String> {
    let mut lines = Vec::new();
    for (what, name) in WHAT.iter().enumerate() {
        let mut shares: Vec<(f64, &Setting)> = found
            .iter()
            .filter(|(_, held)| held.stated > 0)
            .map(|(setting, held)| (held.percent(what), setting))
            .collect();
        shares.sort_by(|one, other| one.0.total_cmp(&other.0));
        let mean = shares.iter().map(|(share, _)| share).sum::<f64>() / shares.len() as f64;
        if let (Some(low), Some(high)) = (shares.first(), shares.last()) {
            lines.push(format!(
                "{name:<8} mean {mean:.2}, lowest {:.2} ({}), highest {:.2} ({})",
                low.0,
                low.1.words(),
                high.0,
                high.1.words()
            ));
        }
    }
    lines
}

/// Simulates settings, prints a table by bits, topology and voltages, and holds the promises.
fn hold(settings: &[Setting], modules: usize, promise: &RangeInclusive<f64>) {
    let found: Vec<(Setting, Held, bool)> = settings
        .par_iter()
        .enumerate()
        .map(|(seed, setting)| {
            let first = simulate(setting, modules, seed as u64);
            if first.holds(promise) {
                return (*setting, first, false);
            }
            // Of thousands of shares counted on 2,000 modules a few are 3.5 standard deviations off by chance: counted anew on
            // ten times as many others, and that count stands.
            let again = simulate(setting, 10 * modules, (seed + settings.len()) as u64);
            (*setting, again, true)
        })
        .collect();
    let again = found.iter().filter(|(_, _, again)| *again).count();
    let found: Vec<(Setting, Held)> = found
        .into_iter()
        .map(|(setting, held, _)| (setting, held))
        .collect();
    println!(
        "{:<28} {:>8} {:>11} {:>17} {:>9} {:>12}",
        "bits, topology, voltages",
        "settings",
        "no interval",
        "held in %",
        "modules",
        "false alarms"
    );
    let key = |setting: &Setting| (setting.bits, !setting.divided, setting.voltages);
    let mut keys: Vec<_> = settings.iter().map(key).collect();
    keys.sort_unstable();
    keys.dedup();
    let mut falsely_often = false;
    for wanted in keys {
        let group: Vec<&(Setting, Held)> = found
            .iter()
            .filter(|(setting, _)| key(setting) == wanted)
            .collect();
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for (_, held) in group.iter().filter(|(_, held)| held.stated > 0) {
            for what in 0..WHAT.len() {
                low = low.min(held.percent(what));
                high = high.max(held.percent(what));
            }
        }
        let none = group.iter().filter(|(_, held)| held.stated == 0).count();
        let suspects: u32 = group.iter().map(|(_, held)| held.suspects).sum();
        // Fewer than one in 10,000; where fewer are counted, none.
        falsely_often |= suspects as usize * 10_000 > group.len() * modules;
        let (bits, supply, voltages) = wanted;
        println!(
            "{:<28} {:>8} {none:>11} {:>17} {:>9} {suspects:>12}",
            format!(
                "{bits} {} {voltages}",
                if supply {
                    "supply reference"
                } else {
                    "divided input"
                }
            ),
            group.len(),
            format!("{low:.1} to {high:.1}"),
            group.len() * modules,
        );
    }
    for line in extremes(&found) {
        println!("{line}");
    }
    let alarms: u32 = found.iter().map(|(_, held)| held.suspects).sum();
    println!(
        "{} settings, {} modules, {alarms} false alarms; {again} settings counted anew",
        found.len(),
        found.len() * modules
    );
    assert!(!falsely_often, "sound modules are suspected");
    for (setting, held) in &found {
        let words = setting.words();
        // Either all of a setting's modules have an interval or none has: which it is follows from what is known.
        assert!(
            held.stated == 0 || held.none == 0,
            "{words}: {}",
            held.words()
        );
        assert_eq!(
            held.stated == 0,
            !known(setting),
            "{words}: {}",
            held.words()
        );
        for (what, name) in WHAT.iter().enumerate().filter(|_| held.stated > 0) {
            let share = held.percent(what);
            assert!(
                promise.contains(&share),
                "{words}: {name} held in {share:.2} %"
            );
        }
    }
}

/// Whether noise is known: it is stated, or 5 degrees of freedom tell it.
fn known(setting: &Setting) -> bool {
    let within = setting.voltages * (setting.repeats - 1);
    let about_line = setting.voltages.saturating_sub(2);
    setting.noise_stated || (within + about_line) * setting.batch >= 5
}

/// Noises in steps: nothing that dithers, some, and much.
const NOISES: [f64; 3] = [0.1, 0.4, 1.5];

/// The settings of the whole table.
fn every() -> Vec<Setting> {
    all(MODULES, NOISES, &[1, 2, 3, 10])
}

/// One of so many.
fn part(settings: Vec<Setting>, of: usize) -> Vec<Setting> {
    settings.into_iter().step_by(of).collect()
}

/// Some settings of the whole table in plain `cargo test`.
#[test]
fn stated_intervals_hold_in_some_settings() {
    hold(&part(every(), 97), MODULES, &PROMISE);
}

/// The same with a bent converter and fine output steps.
#[test]
fn they_hold_with_nonlinearity_and_in_fine_steps() {
    hold(&part(bent(every()), 199), MODULES, &PROMISE);
}

/// Every kind of rows, with the other settings by turns.
#[test]
#[ignore = "a minute: cargo test -p tallyvolt-analysis --test analysis counted_ -- --ignored --nocapture"]
fn counted_in_a_part_of_all_settings() {
    hold(&part(every(), 23), MODULES, &PROMISE);
    hold(&part(bent(every()), 37), MODULES, &PROMISE);
}

/// The whole table; minutes.
#[test]
#[ignore = "minutes: cargo test --release -p tallyvolt-analysis --test analysis whole_table -- --ignored --nocapture"]
fn whole_table() {
    hold(&every(), MODULES, &PROMISE);
}

/// The whole table with a bent converter and fine output steps; minutes.
#[test]
#[ignore = "minutes: cargo test --release -p tallyvolt-analysis --test analysis whole_bent_table -- --ignored --nocapture"]
fn whole_bent_table() {
    hold(&bent(every()), MODULES, &PROMISE);
}

/// Small batches: a module alone, with the noise told by its own rows or stated.
#[test]
#[ignore = "minutes: cargo test --release -p tallyvolt-analysis --test analysis small_batches -- --ignored --nocapture"]
fn small_batches() {
    for batch in [1, 16] {
        let some = part(all(batch, [0.4, 0.8, 1.5], &[1, 3, 10]), 7);
        println!("batches of {batch}");
        hold(&some, MODULES, &PROMISE);
    }
}

/// Negative control: with noise that the file states too small the counting falls below the promise.
#[test]
fn the_counting_finds_intervals_that_are_too_narrow() {
    let setting = Setting {
        bits: 12,
        divided: true,
        voltages: 2,
        repeats: 1,
        display_mv: 0.1,
        dithers: false,
        noise: 1.0,
        noise_stated: true,
        inl: 0.0,
        unit_uv: 1000,
        batch: MODULES,
    };
    let front_end = settings::parsed(
        &setting
            .text()
            .replace("noise_rms_lsb = 1", "noise_rms_lsb = 0.7"),
    );
    let held = simulate_with(&setting, &front_end, MODULES, 1);
    assert!(
        (0..WHAT.len()).all(|what| held.percent(what) < *PROMISE.start()),
        "{}",
        held.words()
    );
}
