//! Colours that people with any colour vision tell apart (hues of Okabe and Ito, Color Universal Design, 2008; from memory), darkened until
//! each stands out from the paper, and what replaces them on dark screens. Lines differ in stroke as well, for prints without
//! colour.
//!
//! Contrast with the paper, light and dark, by WCAG 2.2 (success criteria 1.4.3 and 1.4.11): text at least 4.5, every line
//! that says something at least 3. The grid is there to be overlooked, and says nothing that the numbers beside it do not.

use std::fmt::Write as _;

use plotters::style::RGBColor;

/// What is drawn with a colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Ink {
    /// Behind everything.
    Paper,
    /// Text and axes.
    Text,
    /// Lines of the grid.
    Grid,
    /// The curve.
    Blue,
    /// Limits.
    Vermillion,
    /// What is in order.
    Green,
    /// What is on its way out.
    Orange,
    /// A second curve.
    Purple,
}

impl Ink {
    const ALL: [Self; 8] = [
        Self::Paper,
        Self::Text,
        Self::Grid,
        Self::Blue,
        Self::Vermillion,
        Self::Green,
        Self::Orange,
        Self::Purple,
    ];

    /// On white paper, and on dark screens.
    const fn colours(self) -> [RGBColor; 2] {
        match self {
            Self::Paper => [RGBColor(255, 255, 255), RGBColor(24, 27, 31)],
            Self::Text => [RGBColor(22, 25, 29), RGBColor(230, 230, 230)],
            Self::Grid => [RGBColor(214, 214, 214), RGBColor(66, 70, 76)],
            Self::Blue => [RGBColor(0, 114, 178), RGBColor(86, 168, 232)],
            Self::Vermillion => [RGBColor(200, 80, 0), RGBColor(242, 138, 75)],
            Self::Green => [RGBColor(0, 130, 95), RGBColor(53, 199, 155)],
            Self::Orange => [RGBColor(170, 115, 0), RGBColor(240, 185, 74)],
            Self::Purple => [RGBColor(170, 80, 135), RGBColor(222, 150, 196)],
        }
    }

    /// On white paper.
    pub(super) const fn light(self) -> RGBColor {
        self.colours()[0]
    }

    /// On white paper, as style sheets have it.
    pub(super) fn hex(self) -> String {
        hex(self.light())
    }
}

fn hex(RGBColor(red, green, blue): RGBColor) -> String {
    format!("#{red:02X}{green:02X}{blue:02X}")
}

/// Style rules that turn the pictures of a page dark: a rule of the page goes before an attribute of a picture.
pub fn dark_style() -> String {
    let mut rules = String::new();
    for ink in Ink::ALL {
        let [light, dark] = ink.colours().map(hex);
        for property in ["fill", "stroke"] {
            // Writing to a String cannot fail.
            let _ = writeln!(
                rules,
                "svg [{property}=\"{light}\"] {{ {property}: {dark} }}"
            );
        }
    }
    rules
}

#[cfg(test)]
mod tests {
    use super::{Ink, RGBColor};

    /// Relative luminance (WCAG 2.2).
    fn luminance(RGBColor(red, green, blue): RGBColor) -> f64 {
        let linear = |part: u8| {
            let part = f64::from(part) / 255.0;
            if part <= 0.04045 {
                part / 12.92
            } else {
                ((part + 0.055) / 1.055).powf(2.4)
            }
        };
        0.2126 * linear(red) + 0.7152 * linear(green) + 0.0722 * linear(blue)
    }

    fn contrast(one: RGBColor, other: RGBColor) -> f64 {
        let (one, other) = (luminance(one), luminance(other));
        (one.max(other) + 0.05) / (one.min(other) + 0.05)
    }

    #[test]
    fn every_colour_stands_out_from_the_paper() {
        for of in [0, 1] {
            for ink in Ink::ALL {
                let least = match ink {
                    Ink::Paper | Ink::Grid => continue,
                    Ink::Text => 4.5,
                    _ => 3.0,
                };
                let found = contrast(ink.colours()[of], Ink::Paper.colours()[of]);
                assert!(found >= least, "{ink:?}: {found:.2}");
            }
        }
        // The hues as they were before: the check is one that fails.
        for faint in [RGBColor(230, 159, 0), RGBColor(86, 180, 233)] {
            assert!(contrast(faint, Ink::Paper.light()) < 3.0);
        }
    }
}
