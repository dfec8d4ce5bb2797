//! What summing samples does to noise and quantisation: it helps only where the noise dithers enough.
//!
//! A quantiser that is shaken by noise of s steps rms has a mean whose stairs are left with an amplitude of
//! exp(-2 pi^2 s^2) / pi steps (the first harmonic of the saw; good from s = 0.25 up). From half a step on that is 0.0023
//! steps and less, and n samples divide both noise and quantisation by sqrt(n). Below, samples of a steady input tend to be
//! the same code n times over: nothing is gained, and none is promised.

use std::f64::consts::PI;

use tallyvolt_model::front_end::Converter;
use tallyvolt_model::rational::float_or_zero;

use super::distribution::Distribution;

/// Noise in steps rms from which samples are counted on: the published rule is that noise must exceed half a step.
///
/// Microchip AVR121 (doc 8003) and AN2777; ST AN2834 rev 3, section 3.2.4.
pub const DITHERS_FROM: f64 = 0.5;

/// Noise and quantisation of one count, in steps of one sample.
#[derive(Debug, Clone, PartialEq)]
pub struct Averaged {
    /// Noise.
    pub noise: Distribution,
    /// Quantisation.
    pub quantisation: Distribution,
    /// What dither leaves of the quantiser's stairs.
    pub stairs: Distribution,
    /// Bits that a right shift drops.
    pub shift: Distribution,
    /// Whether the noise dithers enough.
    pub dithers: bool,
    /// What was decided and why, in a sentence.
    pub said: String,
}

impl Averaged {
    /// Standard deviation of all of it, in steps.
    pub fn total(&self) -> f64 {
        [self.noise, self.quantisation, self.stairs, self.shift]
            .iter()
            .map(|part| part.standard_uncertainty().powi(2))
            .sum::<f64>()
            .sqrt()
    }
}

/// One count, or the mean of several of them.
pub fn averaged(converter: &Converter, counts: u32) -> Averaged {
    let stated = &converter.accuracy.noise_rms_lsb;
    let rms = float_or_zero(stated);
    let dof = converter.accuracy.noise_readings.map(|n| f64::from(n - 1));
    let samples = converter.samples;
    let together = f64::from(samples) * f64::from(counts);
    let dithers = rms >= DITHERS_FROM;
    // A shift by s leaves steps of 2^s sums, and a sum holds `samples` steps.
    let shift = if converter.right_shift == 0 {
        Distribution::Constant
    } else {
        Distribution::rectangular(f64::from(1 << converter.right_shift) / f64::from(samples) / 2.0)
    };
    let single = together <= 1.0;
    let (noise, quantisation, stairs) = if dithers && !single {
        (
            rms / together.sqrt(),
            Distribution::Normal {
                sd: quantisation_rms() / together.sqrt(),
            },
            Distribution::arcsine(stairs_left(rms)),
        )
    } else {
        (
            rms,
            // Half a step either way (GUM F.2.2.1: 0.29 of a step rms).
            Distribution::rectangular(0.5),
            Distribution::Constant,
        )
    };
    Averaged {
        noise: Distribution::noise(noise, dof),
        quantisation,
        stairs,
        shift,
        dithers,
        said: said(samples, rms, stated.is_some(), dithers),
    }
}

fn said(samples: u32, rms: f64, stated: bool, dithers: bool) -> String {
    match (samples, stated) {
        (1, _) => "one sample a count: noise and quantisation are counted in full".to_owned(),
        (_, false) => format!(
            "{samples} samples gain nothing that can be promised: the file states no noise, and without noise they are all alike"
        ),
        (_, true) if dithers => format!(
            "noise of {rms} steps rms dithers enough ({DITHERS_FROM} or more): {samples} samples divide it and the \
             quantisation by {:.3}",
            f64::from(samples).sqrt()
        ),
        (_, true) => format!(
            "noise of {rms} steps rms does NOT dither enough (less than {DITHERS_FROM}): {samples} samples are counted as one"
        ),
    }
}

/// Quantisation noise, 1 / sqrt(12) of a step (ADI MT-001).
pub fn quantisation_rms() -> f64 {
    1.0 / 12.0_f64.sqrt()
}

/// Largest error of the mean of a quantiser under noise of `rms` steps, in steps.
pub fn stairs_left(rms: f64) -> f64 {
    (-2.0 * PI * PI * rms * rms).exp() / PI
}

/// Signal-to-noise ratio of an ideal converter with a full-scale sine, 20 lg 2 * bits + 10 lg 1.5 dB (ADI MT-001).
pub fn ideal_snr_db(bits: f64) -> f64 {
    20.0 * 2.0_f64.log10() * bits + 10.0 * 1.5_f64.log10()
}

/// Bits of the ideal converter that would be as noisy, by the same formula read backwards.
pub fn effective_bits(full_scale_steps: f64, rms_steps: f64) -> f64 {
    // A full-scale sine has the amplitude full scale / 2, so full scale / sqrt(8) rms.
    let snr_db = 20.0 * (full_scale_steps / 8.0_f64.sqrt() / rms_steps).log10();
    (snr_db - ideal_snr_db(0.0)) / ideal_snr_db_per_bit()
}

fn ideal_snr_db_per_bit() -> f64 {
    20.0 * 2.0_f64.log10()
}
