//! Strokes and text.
//!
//! Without fonts at hand a text's width is only known to be at most [`EM_A_CHARACTER`] of its size for each character in the usual
//! sans-serif faces.

use plotters::coord::Shift;
use plotters::drawing::{DrawingArea, DrawingAreaErrorKind};
use plotters::prelude::SVGBackend;
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{Color, FontFamily, IntoFont, ShapeStyle, TextStyle};

use super::palette::Ink;

/// Units to a pixel of the picture at its own size: coordinates are whole, and curves must not show it.
pub(super) const UNITS: i32 = 6;
/// Size of text.
const TEXT: i32 = 16 * UNITS;
/// plotters divides by 1.24 what it is given.
const GIVEN_TEXT: f64 = 1.24 * TEXT as f64;
const EM_A_CHARACTER: f64 = 0.62;
/// From one line of text to the next.
pub(super) const LINE: i32 = 24 * UNITS;
/// Least height from one number to the next.
pub(super) const ROW: i32 = 35 * UNITS;
/// Numbers along the lower axis, at most.
pub(super) const MARKS_MAX: i32 = 10;
/// Between things.
pub(super) const GAP: i32 = 9 * UNITS;
/// Strokes of the grid, of axes and of curves; a dot's radius; a dash and the space behind it.
pub(super) const FINE: i32 = UNITS;
pub(super) const AXIS: i32 = 3 * UNITS / 2;
pub(super) const BOLD: i32 = 5 * UNITS / 2;
pub(super) const DOT: i32 = 3 * UNITS;
/// Half the width of a cross.
pub(super) const CROSS: i32 = 5 * UNITS;
pub(super) const DASH: (i32, i32) = (12 * UNITS, 6 * UNITS);
/// Width of a picture, in pixels: text stays readable where it is shown 358 pixels wide, beside the edges of a small screen.
pub(super) const WIDTH: i32 = 480;

pub(super) type Canvas<'a> = DrawingArea<SVGBackend<'a>, Shift>;
pub(super) type Drawn = Result<(), DrawingAreaErrorKind<std::io::Error>>;

/// A picture with its name and description as its first elements.
pub(super) fn named(picture: &str, title: &str, described: &str) -> String {
    let names = maud::html! { title { (title) } desc { (described) } };
    picture.replacen('>', &format!(">\n{}", names.into_string()), 1)
}

/// A text of at most so many characters.
pub(super) fn shortened(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        return text.to_owned();
    }
    let kept: String = text.chars().take(most - 1).collect();
    kept + "\u{2026}"
}

/// Most pixels that a character of a size needs.
pub(super) fn text_needs(size: usize) -> usize {
    (EM_A_CHARACTER * size as f64).ceil() as usize
}

pub(super) fn text_width(text: &str) -> i32 {
    (text.chars().count() as f64 * EM_A_CHARACTER * f64::from(TEXT)).ceil() as i32
}

pub(super) fn text_style<'a>(ink: Ink, h_pos: HPos, v_pos: VPos) -> TextStyle<'a> {
    (FontFamily::SansSerif, GIVEN_TEXT)
        .into_font()
        .color(&ink.light())
        .pos(Pos::new(h_pos, v_pos))
}

pub(super) fn stroke(ink: Ink, width: i32) -> ShapeStyle {
    ink.light().stroke_width(width.unsigned_abs())
}
