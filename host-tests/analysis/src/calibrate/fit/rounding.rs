//! What rounding to whole steps leaves behind, and how much of it noise turns into noise.
//!
//! A value anywhere between two steps is off by a sawtooth of its place, of variance 1/12 (GUM F.2.2.1). Of the sawtooth's
//! Fourier series
//!
//! ```text
//! e(x) = sum over k of  sin(2 pi k x) / (pi k)
//! ```
//!
//! two roundings of places that lie d steps apart, each with its own normal noise of s steps, share the covariance
//!
//! ```text
//! sum over k of  cos(2 pi k d) * exp(-(2 pi k s)^2) / (2 pi^2 k^2)
//! ```
//!
//! So repeats of one steady value (d = 0) share all of the rounding without noise, and next to nothing of it with half a step
//! of noise. What they do not share is new in every row. The same holds for a converter, whose steps are counts dithered by its
//! noise, and for a meter's display, whose steps are last digits dithered by the supply.

use std::f64::consts::{PI, TAU};

use crate::choose::halving::halved;

/// Variance of rounding, in steps squared.
pub const VARIANCE: f64 = 1.0 / 12.0;
/// Harmonics that are summed; the last one stands for all beyond it.
pub const HARMONICS: usize = 16;
/// Steps of noise above which nothing is shared: the first harmonic is below 1e-17.
const NOISY: f64 = 1.0;

/// Variance of each harmonic, in steps squared, with noise of `noise` steps.
pub fn harmonics(noise: f64) -> [f64; HARMONICS] {
    let mut variances = [0.0; HARMONICS];
    if noise >= NOISY {
        return variances;
    }
    // Without noise all harmonics together are 1/12; what those not summed are of it goes with the last one.
    let mut rest = VARIANCE;
    for (at, variance) in variances.iter_mut().enumerate() {
        let order = (at + 1) as f64;
        let own = if at + 1 < HARMONICS {
            (2.0 * (PI * order).powi(2)).recip()
        } else {
            rest
        };
        rest -= own;
        *variance = (-(TAU * order * noise).powi(2)).exp() * own;
    }
    variances
}

/// Variance that repeats of a steady value share, in steps squared: 1/12 without noise.
pub fn shared(noise: f64) -> f64 {
    harmonics(noise).iter().sum()
}

/// Variance of repeats of a steady value about their own mean, in steps squared: noise, and the rounding that they do not share.
pub fn within(noise: f64) -> f64 {
    noise * noise + (VARIANCE - shared(noise)).max(0.0)
}

/// The noise behind a variance of repeats about their mean: the inverse of [`within`].
pub fn dither(variance: f64) -> f64 {
    // What is within is at least the noise squared.
    let most = variance.max(0.0).sqrt();
    halved((0.0, most), 40, |noise| within(noise) < variance)
}

/// How alike places are to rounding, harmonic by harmonic: 1 where all are a whole number of steps apart, 1/n where they lie anyhow.
///
/// Places that differ are known within a display's last digit of `blur` steps only, which takes sinc^2 off what two of them share.
pub fn alike(places: impl Iterator<Item = f64> + Clone, blur: f64) -> [f64; HARMONICS] {
    let mut alike = [1.0; HARMONICS];
    let Some(first) = places.clone().next() else {
        return alike;
    };
    if places.clone().all(|place| place == first) {
        return alike;
    }
    let number = places.clone().count() as f64;
    for (at, alike) in alike.iter_mut().enumerate() {
        let order = (at + 1) as f64;
        let (mut sine, mut cosine) = (0.0, 0.0);
        for place in places.clone() {
            let (one, other) = (TAU * order * (place - first)).sin_cos();
            sine += one;
            cosine += other;
        }
        let half_turn = (PI * order * blur).max(1e-9);
        let sharp = (half_turn.sin() / half_turn).powi(2);
        let pairs = sine * sine + cosine * cosine - number;
        *alike = ((number + pairs * sharp) / (number * number)).max(0.0);
    }
    alike
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Counted, not derived: places anywhere, normal noise by twelve uniform numbers, rounded.
    #[test]
    fn rounding_shares_what_is_counted() {
        let mut state = 1_u64;
        let mut uniform = || {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1);
            (state >> 11) as f64 / 9_007_199_254_740_992.0
        };
        for noise in [0.0, 0.05, 0.15, 0.3, 0.6] {
            let (mut product, mut square) = (0.0, 0.0);
            let number = 200_000;
            for _ in 0..number {
                let place = uniform();
                let mut read = || {
                    let normal = (0..12).map(|_| uniform()).sum::<f64>() - 6.0;
                    (place + noise * normal).round()
                };
                let (one, other) = (read(), read());
                product += (one - place) * (other - place);
                square += (one - other).powi(2) / 2.0;
            }
            // Four standard errors of the counting.
            let error = 4.0 * 1.5 * (noise * noise + VARIANCE) / f64::from(number).sqrt();
            let counted = product / f64::from(number);
            assert!(
                (counted - shared(noise)).abs() < error,
                "{noise}: {counted}"
            );
            let counted = square / f64::from(number);
            assert!(
                (counted - within(noise)).abs() < error,
                "{noise}: {counted}"
            );
            assert!((dither(within(noise)) - noise).abs() < 1e-6, "{noise}");
        }
    }

    #[test]
    fn whole_steps_are_alike_and_half_steps_are_not() {
        let places = |of: &[f64]| alike(of.iter().copied(), 0.0);
        assert_eq!(places(&[7.25, 7.25])[0], 1.0);
        assert!((places(&[7.25, 9.25])[0] - 1.0).abs() < 1e-12);
        assert!(places(&[7.0, 7.5])[0] < 1e-12);
        assert!((places(&[7.0, 7.5])[1] - 1.0).abs() < 1e-12);
        // A blur of a whole step leaves nothing in common but each place's own.
        assert!((alike([7.0, 8.0].into_iter(), 1.0)[0] - 0.5).abs() < 1e-12);
    }

    /// The mean over all pairs of places: 1 for one with itself, else the cosine of their distance, less what a blur of a quarter takes.
    #[test]
    fn places_are_alike_pair_by_pair() {
        let (places, blur) = ([7.1, 7.3, 8.85, 4.4], 0.25);
        let alike = alike(places.into_iter(), blur);
        for (order, found) in (1_u32..).zip(alike) {
            let turn = PI * f64::from(order);
            let sharp = ((turn * blur).sin() / (turn * blur)).powi(2);
            let mut pairs = 0.0;
            for one in places {
                for other in places {
                    let own = one == other;
                    pairs += (2.0 * turn * (one - other)).cos() * if own { 1.0 } else { sharp };
                }
            }
            assert!((found - (pairs / 16.0).max(0.0)).abs() < 1e-12, "{order}");
        }
        // One place is one, however coarse the display.
        assert_eq!(super::alike([7.25; 3].into_iter(), 0.4), [1.0; HARMONICS]);
    }
}
