//! Preferred resistor values of IEC 60063.
//!
//! The rule is 10^(i/n), rounded to two digits in E24 and to three in the finer series. The standard departs from it in nine
//! places, which are listed here.

/// A series of preferred values.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum Series {
    /// 24 values a decade, usually 5 %.
    #[value(name = "E24")]
    E24,
    /// 48 values, 2 %.
    #[value(name = "E48")]
    E48,
    /// 96 values, 1 %.
    #[value(name = "E96")]
    E96,
    /// 192 values, 0.5 % and better.
    #[value(name = "E192")]
    E192,
}

/// (value by the rule, value in the standard), for E24.
const E24_EXCEPTIONS: [(u32, u32); 8] = [
    (26, 27),
    (29, 30),
    (32, 33),
    (35, 36),
    (38, 39),
    (42, 43),
    (46, 47),
    (83, 82),
];
/// The same for E192.
const E192_EXCEPTIONS: [(u32, u32); 1] = [(919, 920)];

impl Series {
    /// The values of one decade: two digits in E24, three in the others.
    pub fn decade(self) -> Vec<u32> {
        let (values, scale, exceptions): (u32, f64, &[(u32, u32)]) = match self {
            Self::E24 => (24, 10.0, &E24_EXCEPTIONS),
            Self::E48 => (48, 100.0, &[]),
            Self::E96 => (96, 100.0, &[]),
            Self::E192 => (192, 100.0, &E192_EXCEPTIONS),
        };
        (0..values)
            .map(|index| {
                // No value lies within 0.001 of a half, so the last bit of a power decides nothing.
                let by_rule =
                    (scale * 10_f64.powf(f64::from(index) / f64::from(values))).round() as u32;
                exceptions
                    .iter()
                    .find(|(rule, _)| *rule == by_rule)
                    .map_or(by_rule, |(_, standard)| *standard)
            })
            .collect()
    }

    /// Resistances from 100 ohm to 10 Mohm, rising.
    pub fn ohms(self) -> Vec<u32> {
        let to_hundreds = if self == Self::E24 { 10 } else { 1 };
        let decade = self.decade();
        let mut ohms: Vec<u32> = (0..5)
            .flat_map(|power| {
                let scale = to_hundreds * 10_u32.pow(power);
                decade.iter().map(move |value| value * scale)
            })
            .collect();
        ohms.push(10_000_000);
        ohms
    }
}
