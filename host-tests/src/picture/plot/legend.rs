//! The legend above a picture: a sample of each series that has a name.

use plotters::element::{Circle, Cross, DashedPathElement, PathElement, Polygon};
use plotters::style::Color;
use plotters::style::text_anchor::{HPos, VPos};

use super::palette::Ink;
use super::pen::{
    BOLD, CROSS, Canvas, DASH, DOT, Drawn, GAP, LINE, UNITS, stroke, text_style, text_width,
};
use super::series::{Series, Shape};

/// Width of a sample.
const KEY: i32 = 29 * UNITS;

/// One entry of a legend.
pub(super) struct Key<'a> {
    series: &'a Series,
    label: &'a str,
    at: (i32, i32),
}

/// The entries of a picture's series, line after line.
pub(super) fn legend(series: &[Series], width: i32) -> Vec<Key<'_>> {
    let (mut x, mut y) = (GAP, GAP);
    let mut keys = Vec::new();
    for series in series {
        let Some(label) = &series.label else {
            continue;
        };
        let needed = KEY + GAP + text_width(label) + 2 * GAP;
        if x > GAP && x + needed > width {
            (x, y) = (GAP, y + LINE);
        }
        keys.push(Key {
            series,
            label,
            at: (x, y),
        });
        x += needed;
    }
    keys
}

impl Key<'_> {
    /// Where its line of text ends.
    pub(super) fn bottom(&self) -> i32 {
        self.at.1 + LINE
    }

    pub(super) fn draw(&self, canvas: &Canvas<'_>) -> Drawn {
        let (x, y) = self.at;
        let middle = y + LINE / 2;
        let ink = self.series.ink;
        match &self.series.shape {
            Shape::Line(_) | Shape::Level(_) | Shape::Upright(_) => canvas.draw(
                &PathElement::new(vec![(x, middle), (x + KEY, middle)], stroke(ink, BOLD)),
            )?,
            Shape::Dashed(..) => canvas.draw(&DashedPathElement::new(
                [(x, middle), (x + KEY, middle)],
                DASH.0 * 8 / 10,
                DASH.1 * 8 / 10,
                stroke(ink, BOLD),
            ))?,
            Shape::Area(_, opacity) => {
                let (top, bottom) = (y + LINE / 5, y + LINE - LINE / 5);
                let corners = vec![(x, top), (x + KEY, top), (x + KEY, bottom), (x, bottom)];
                canvas.draw(&Polygon::new(corners, ink.light().mix(*opacity).filled()))?;
            }
            Shape::Dots(_) => {
                canvas.draw(&Circle::new(
                    (x + KEY / 2, middle),
                    DOT,
                    ink.light().filled(),
                ))?;
            }
            Shape::Crosses(_) => {
                let at = (x + KEY / 2, middle);
                canvas.draw(&Cross::new(at, CROSS, stroke(ink, BOLD)))?;
            }
            Shape::Label(..) => {}
        }
        let style = text_style(Ink::Text, HPos::Left, VPos::Center);
        canvas.draw_text(self.label, &style, (x + KEY + GAP, middle))
    }
}
