//! What a slip at the bench is found by, and how often; and that the sound modules beside it stay good.

use super::settings::Setting;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use tallyvolt_analysis::calibrate::fit::fit;
use tallyvolt_analysis::calibrate::fit::readings::ModuleReadings;
use tallyvolt_harness::simulated::Truth;

/// Every how many modules of a batch are faulty.
const EVERY: usize = 10;

#[derive(Debug, Clone, Copy, PartialEq)]
enum Slip {
    None,
    WrongDigit,
    SwappedDigits,
    ExchangedRows,
    GainOnePercent,
    WireDrop,
}

impl Slip {
    const ALL: [Self; 6] = [
        Self::None,
        Self::WrongDigit,
        Self::SwappedDigits,
        Self::ExchangedRows,
        Self::GainOnePercent,
        Self::WireDrop,
    ];

    fn words(self) -> &'static str {
        match self {
            Self::None => "none (control)",
            Self::WrongDigit => "one digit of a meter reading wrong",
            Self::SwappedDigits => "two digits of a meter reading swapped",
            Self::ExchangedRows => "counts of two voltages exchanged",
            Self::GainOnePercent => "gain 1 % beyond the truth",
            Self::WireDrop => "20 mV lost in the wires, every row",
        }
    }

    fn of_truth(self, truth: Truth) -> Truth {
        let gain = if self == Self::GainOnePercent {
            1.01
        } else {
            1.0
        };
        Truth {
            gain: truth.gain * gain,
            ..truth
        }
    }

    /// Does it to a module's rows; digits are those of whole millivolts.
    fn of_rows(self, rows: &mut ModuleReadings, random: &mut ChaCha8Rng) {
        let at = random.random_range(0..rows.readings.len());
        let digits = |mv: f64| -> Vec<u8> { format!("{:04}", mv as u32).into_bytes() };
        let value = |digits: &[u8]| -> f64 {
            digits
                .iter()
                .fold(0.0, |value, digit| 10.0 * value + f64::from(digit - b'0'))
        };
        let reading = rows.readings[at].meter_mv;
        let mut new = digits(reading);
        match self {
            Self::WrongDigit => {
                let which = random.random_range(0..new.len());
                let other = (new[which] - b'0' + random.random_range(1..10_u8)) % 10;
                new[which] = b'0' + other;
            }
            Self::SwappedDigits => {
                let unlike: Vec<usize> = (1..new.len())
                    .filter(|at| new[*at] != new[at - 1])
                    .collect();
                if let Some(which) = unlike.get(random.random_range(0..unlike.len().max(1))) {
                    new.swap(*which, which - 1);
                }
            }
            Self::ExchangedRows => {
                let last = rows.readings.len() - 1;
                let count = rows.readings[0].count;
                rows.readings[0].count = rows.readings[last].count;
                rows.readings[last].count = count;
            }
            Self::WireDrop => {
                for reading in &mut rows.readings {
                    reading.meter_mv += 20.0;
                }
            }
            Self::None | Self::GainOnePercent => {}
        }
        let changed = value(&new) - value(&digits(reading));
        if changed != 0.0 && reading + changed > 1.0 {
            rows.readings[at].meter_mv = reading + changed;
        }
    }
}

/// Shares of the faulty found, and sound modules that are suspected.
fn rate(setting: &Setting, slip: Slip, seed: u64) -> (f64, usize) {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let front_end = setting.front_end();
    let (_, mut readings) = setting.modules(setting.batch, &mut random);
    for (at, rows) in readings.modules.iter_mut().enumerate() {
        if at % EVERY == 0 {
            let mut board = setting.board(&mut random);
            board.truth = slip.of_truth(board.truth);
            *rows = setting.rows(&front_end, &board, format!("faulty{at}"), &mut random);
            slip.of_rows(rows, &mut random);
        }
    }
    let batch = fit(&front_end, &readings, &setting.settings(), &|_| {}).expect("legal");
    let (mut found, mut falsely) = (0, 0);
    for (at, module) in batch.modules.iter().enumerate() {
        if !module.reasons.is_empty() {
            if at % EVERY == 0 {
                found += 1;
            } else {
                falsely += 1;
            }
        }
    }
    (
        100.0 * f64::from(found) / (setting.batch / EVERY) as f64,
        falsely,
    )
}

/// The sure parts of the table.
#[test]
fn slips_are_found() {
    table(100);
}

/// The whole table, with enough modules for its rates.
#[test]
#[ignore = "a minute: cargo test --release -p tallyvolt-analysis --test analysis detection_table -- --ignored --nocapture"]
fn detection_table() {
    table(2000);
}

/// Prints detection rates, and holds the parts that are sure.
fn table(modules: usize) {
    let rows = [(1, 3), (2, 1), (2, 3), (4, 1), (4, 3)];
    for (bits, divided) in [(8, true), (12, true), (12, false), (16, true)] {
        println!(
            "{bits} bits, {}: voltages x rows {rows:?}",
            if divided {
                "divided input"
            } else {
                "supply reference"
            }
        );
        for slip in Slip::ALL {
            let mut line = format!("  {:<38}", slip.words());
            for (seed, (voltages, repeats)) in rows.into_iter().enumerate() {
                let setting = Setting {
                    bits,
                    divided,
                    voltages,
                    repeats,
                    display_mv: 0.1,
                    dithers: false,
                    noise: 0.4,
                    noise_stated: true,
                    inl: 0.0,
                    unit_uv: 1000,
                    batch: modules,
                };
                if slip == Slip::ExchangedRows && voltages == 1 {
                    line += "      -";
                    continue;
                }
                let (found, falsely) = rate(&setting, slip, seed as u64);
                line += &format!(" {found:5.1}%");
                assert_eq!(
                    falsely,
                    0,
                    "{slip:?}: a sound module is suspected, {}",
                    setting.words()
                );
                match slip {
                    Slip::None => assert_eq!(found, 0.0, "{}", setting.words()),
                    Slip::ExchangedRows => assert_eq!(found, 100.0, "{}", setting.words()),
                    _ => {}
                }
            }
            println!("{line}");
        }
    }
}
