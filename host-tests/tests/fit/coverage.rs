//! The stated 95 % hold: counted on modules with known truths, in every setting.

use crate::settings::Setting;
use crate::simulated::{Truth, count, even};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;
use tallyvolt_host::fit::fit;
use tallyvolt_host::fit::module::Fit;
use tallyvolt_host::fit::readings::Readings;
use tallyvolt_host::fit::transfer::Transfer;
use tallyvolt_host::front_end::FrontEnd;

/// Gain, offset, and readings at the emptiest, usual and fullest cell.
pub const WHAT: [&str; 5] = ["gain", "offset", "min", "nominal", "max"];

/// How often an interval held.
#[derive(Debug, Clone, Copy, Default)]
pub struct Held {
    pub held: [u32; 5],
    pub stated: u32,
    pub none: u32,
    pub suspects: u32,
}

impl Held {
    /// Share in per cent of the intervals stated.
    pub fn percent(&self, what: usize) -> f64 {
        100.0 * f64::from(self.held[what]) / f64::from(self.stated)
    }

    pub fn words(&self) -> String {
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
    truth: &Truth,
    random: &mut ChaCha8Rng,
) {
    let Some(widths) = stated(fit) else {
        held.none += 1;
        return;
    };
    held.stated += 1;
    let [min, nominal, max] = transfer.cell_mv;
    let mut off = [fit.gain - truth.gain, fit.offset - truth.offset, 0.0, 0.0, 0.0];
    for (off, mv) in off[2..].iter_mut().zip([min, nominal, max]) {
        let mv = mv + 10.0 * even(random);
        let x = transfer.place(count(front_end, truth, mv, random))
            - fit.offset * transfer.per_sample;
        let read = transfer.voltage_mv(x / transfer.gain(fit.gain));
        *off = (read / transfer.unit_mv).round() * transfer.unit_mv - mv;
    }
    for ((held, off), width) in held.held.iter_mut().zip(off).zip(widths) {
        *held += u32::from(off.abs() <= width);
    }
}

/// Simulates `modules` modules of a setting and counts.
pub fn simulate(setting: &Setting, modules: usize, seed: u64) -> Held {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let front_end = setting.front_end();
    let settings = setting.settings();
    let mut held = Held::default();
    let (truths, readings) = setting.modules(modules, &mut random);
    for (truths, rows) in truths
        .chunks(setting.batch)
        .zip(readings.modules.chunks(setting.batch))
    {
        let batch = Readings {
            modules: rows.to_vec(),
            ..Readings::default()
        };
        let batch = fit(&front_end, &batch, &settings, |_| {}).expect("legal");
        for (module, truth) in batch.modules.iter().zip(truths) {
            held.suspects += u32::from(!module.reasons.is_empty());
            for reason in &module.reasons { println!("ALARM {} {} {}: {} | {:?}", setting.words(), module.module, reason.check.words(), reason.found, batch.noise); }
            match &module.fit {
                Some(fit) => look(&mut held, &front_end, &batch.transfer, fit, truth, &mut random),
                None => held.none += 1,
            }
        }
    }
    held
}

fn all(batches: &[usize], noises: &[f64], repeats: &[usize]) -> Vec<Setting> {
    let mut all = Vec::new();
    for batch in batches {
        for bits in [8, 10, 12, 16] {
            for divided in [true, false] {
                for voltages in [1, 2, 4] {
                    for repeats in repeats {
                        for display_mv in [0.01, 0.1, 1.0] {
                            for dithers in [false, true] {
                                for noise in noises {
                                    for noise_stated in [true, false] {
                                        all.push(Setting {
                                            bits,
                                            divided,
                                            voltages,
                                            repeats: *repeats,
                                            display_mv,
                                            dithers,
                                            noise: *noise,
                                            noise_stated,
                                            batch: *batch,
                                        });
                                    }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
    all
}

#[test]
#[ignore]
fn whole_table() {
    let parse = |name: &str, default: &str| -> Vec<f64> {
        std::env::var(name)
            .unwrap_or_else(|_| default.to_owned())
            .split(',')
            .map(|value| value.parse().expect("a number"))
            .collect()
    };
    let whole = |name: &str, default: &str| -> Vec<usize> {
        parse(name, default).iter().map(|value| *value as usize).collect()
    };
    let settings = all(
        &whole("BATCH", "2000"),
        &parse("NOISE", "0.1,0.4,1.5"),
        &whole("REPEATS", "1,2,3,10"),
    );
    let modules = whole("MODULES", "2000")[0];
    let every = whole("EVERY", "1")[0];
    let settings: Vec<Setting> = settings.into_iter().enumerate().filter(|(at, _)| at % every == 0).map(|(_, s)| s).collect();
    let found: Vec<Held> = settings
        .par_iter()
        .enumerate()
        .map(|(at, setting)| simulate(setting, modules, at as u64))
        .collect();
    let (mut low, mut high, mut none) = (0, 0, 0);
    for (setting, held) in settings.iter().zip(&found) {
        if held.stated == 0 { none += 1; }
        let shares: Vec<f64> = (0..5).map(|what| held.percent(what)).collect();
        let l = held.stated > 0 && shares.iter().any(|share| *share < 93.5);
        let h = held.stated > 0 && shares.iter().any(|share| *share > 97.5);
        low += u32::from(l);
        high += u32::from(h);
        println!("{} {} | {} | {} suspects", if l {"LOW "} else if h {"HIGH"} else {"    "}, setting.words(), held.words(), held.suspects);
    }
    println!("{} settings, {low} low, {high} high, {none} without", settings.len());
}
#[test]
#[ignore]
fn debug_one() {
    for noise in [0.1, 0.4] { for display_mv in [0.1, 1.0] { for repeats in [1, 2, 3] {
    let setting = Setting { bits: 10, divided: true, voltages: 4, repeats, display_mv, dithers: true, noise, noise_stated: true, batch: 2000 };
    let mut random = ChaCha8Rng::seed_from_u64(1);
    let front_end = setting.front_end();
    let (truths, readings) = setting.modules(2000, &mut random);
    let batch = fit(&front_end, &readings, &setting.settings(), |_| {}).expect("legal");
    let (mut sum, mut claimed) = (0.0, 0.0);
    for (m, t) in batch.modules.iter().zip(&truths) {
        let f = m.fit.as_ref().expect("fit");
        sum += (f.gain - t.gain).powi(2); claimed += f.uncertainty.expect("u").gain.u.powi(2);
    }
    println!("{} actual {:.6} claimed {:.6} {:?}", setting.words(), (sum/2000.).sqrt(), (claimed/2000.).sqrt(), batch.noise.steps);
    }}}
}
