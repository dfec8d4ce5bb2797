//! Colours that people with any colour vision tell apart (Okabe and Ito, Color Universal Design, 2008; from memory), and what replaces them
//! on dark screens. Lines differ in stroke as well, for prints without colour.

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
    Sky,
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
        Self::Sky,
    ];

    /// On white paper.
    pub(super) const fn light(self) -> RGBColor {
        match self {
            Self::Paper => RGBColor(255, 255, 255),
            Self::Text => RGBColor(0, 0, 0),
            Self::Grid => RGBColor(214, 214, 214),
            Self::Blue => RGBColor(0, 114, 178),
            Self::Vermillion => RGBColor(213, 94, 0),
            Self::Green => RGBColor(0, 158, 115),
            Self::Orange => RGBColor(230, 159, 0),
            Self::Sky => RGBColor(86, 180, 233),
        }
    }

    const fn dark(self) -> RGBColor {
        match self {
            Self::Paper => RGBColor(24, 27, 31),
            Self::Text => RGBColor(230, 230, 230),
            Self::Grid => RGBColor(66, 70, 76),
            Self::Blue => RGBColor(86, 168, 232),
            Self::Vermillion => RGBColor(242, 138, 75),
            Self::Green => RGBColor(53, 199, 155),
            Self::Orange => RGBColor(240, 185, 74),
            Self::Sky => RGBColor(150, 214, 247),
        }
    }
}

/// Style rules that turn the pictures of a page dark: a rule of the page goes before an attribute of a picture.
#[must_use]
pub fn dark_style() -> String {
    let hex = |RGBColor(red, green, blue)| format!("#{red:02X}{green:02X}{blue:02X}");
    let mut rules = String::new();
    for ink in Ink::ALL {
        let (light, dark) = (hex(ink.light()), hex(ink.dark()));
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
