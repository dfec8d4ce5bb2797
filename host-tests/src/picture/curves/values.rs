//! Values of a drawing as people write them: volts, millivolts and ohms, exact, without trailing zeros.

use num_rational::BigRational;
use tallyvolt_model::rational::whole;

use crate::words::drawing::{plain, trimmed};

/// Between a number and its unit: no line ends there.
pub const NB: char = '\u{a0}';

/// Microvolts as volts, exact, with at least two decimals: `1.225 V`.
pub fn volts(uv: u32) -> String {
    let decimals = format!("{:06}", uv % 1_000_000);
    let (kept, rest) = decimals.split_at(2);
    format!(
        "{}.{kept}{}{NB}V",
        uv / 1_000_000,
        rest.trim_end_matches('0')
    )
}

/// A difference or a step in microvolts as millivolts, exact: `0.1 mV`.
pub fn millivolts(uv: u32) -> String {
    format!("{}{NB}mV", plain(&(whole(uv) / whole(1000))))
}

/// A calculated voltage in millivolts, as volts to the nearest millivolt.
pub fn near_volts(mv: f64) -> String {
    format!("{:.3}{NB}V", mv / 1000.0)
}

/// A calculated difference in millivolts with three digits that say something: `0.0652 mV`, `17.4 mV`.
pub fn near_millivolts(mv: f64) -> String {
    let decimals = match mv.abs() {
        size if size >= 99.95 => 0,
        size if size >= 9.995 => 1,
        size if size >= 0.9995 => 2,
        size if size >= 0.09995 => 3,
        _ => 4,
    };
    format!("{mv:.decimals$}{NB}mV")
}

/// A resistance with its prefix, up to six decimals: `24.9 kΩ`.
pub fn ohms(value: &BigRational) -> String {
    prefixed(value, 6)
}

fn prefixed(value: &BigRational, places: u32) -> String {
    let prefixes = [(1_000_000, "MΩ"), (1000, "kΩ")];
    let fitting = prefixes.into_iter().find(|(one, _)| *value >= whole(*one));
    let (one, unit) = fitting.unwrap_or((1, "Ω"));
    format!("{}{NB}{unit}", trimmed(&(value / whole(one)), places))
}

/// A resistance for a drawing: at most three decimals.
pub fn ohms_drawn(value: &BigRational) -> String {
    prefixed(value, 3)
}

#[cfg(test)]
mod tests {
    use super::{near_millivolts, near_volts, ohms, volts};
    use tallyvolt_model::rational::{fraction, whole};

    #[test]
    fn values_read_as_people_write_them() {
        let plain = |text: String| text.replace(super::NB, " ");
        assert_eq!(plain(volts(1_225_000)), "1.225 V");
        assert_eq!(plain(volts(3_000_000)), "3.00 V");
        assert_eq!(plain(volts(1)), "0.000001 V");
        assert_eq!(plain(super::millivolts(100)), "0.1 mV");
        assert_eq!(plain(super::millivolts(1000)), "1 mV");
        assert_eq!(plain(near_volts(4274.663)), "4.275 V");
        assert_eq!(plain(near_millivolts(0.065_24)), "0.0652 mV");
        assert_eq!(plain(near_millivolts(9.996)), "10.0 mV");
        assert_eq!(plain(ohms(&whole(24_900))), "24.9 kΩ");
        assert_eq!(plain(ohms(&fraction(4_999, 10))), "499.9 Ω");
        assert_eq!(plain(ohms(&whole(1_000_000))), "1 MΩ");
        assert_eq!(plain(super::ohms_drawn(&whole(24_912_345))), "24.912 MΩ");
    }
}
