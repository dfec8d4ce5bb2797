//! What is between the axes of a picture, as plain data.

use std::ops::Range;

use super::palette::Ink;

/// One thing in a picture.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Series {
    /// For the legend.
    pub(super) label: Option<String>,
    pub(super) ink: Ink,
    pub(super) shape: Shape,
}

/// How it looks.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Shape {
    Line(Vec<(f64, f64)>),
    /// A straight line.
    Dashed((f64, f64), (f64, f64)),
    /// A filled outline, 0 to 1 opaque.
    Area(Vec<(f64, f64)>, f64),
    Dots(Vec<(f64, f64)>),
    /// Marks that differ from dots without colour.
    Crosses(Vec<(f64, f64)>),
    /// Intervals: a place along x, and both ends along y.
    Upright(Vec<(f64, f64, f64)>),
    /// Intervals: both ends along x, and a place along y.
    Level(Vec<(f64, f64, f64)>),
    /// A text that begins at a point.
    Label(String, (f64, f64)),
}

impl Series {
    pub(super) fn new(label: impl Into<String>, ink: Ink, shape: Shape) -> Self {
        Self {
            label: Some(label.into()),
            ink,
            shape,
        }
    }

    /// What errors must not pass, along x: once above zero and once below it, with one name.
    pub(super) fn bounds(label: impl Into<String>, x: &Range<f64>, bound: f64) -> [Self; 2] {
        let named = Self::new(label, Ink::Vermillion, Shape::across(x, bound));
        let below = Self::new("", Ink::Vermillion, Shape::across(x, -bound)).unnamed();
        [named, below]
    }

    /// The same, not in the legend.
    pub(super) fn unnamed(self) -> Self {
        Self {
            label: None,
            ..self
        }
    }
}

impl Shape {
    /// A dashed line from end to end of a range along x.
    pub(super) fn across(x: &Range<f64>, y: f64) -> Self {
        Self::Dashed((x.start, y), (x.end, y))
    }

    /// A filled rectangle between two corners.
    pub(super) fn rectangle(one: (f64, f64), other: (f64, f64), opacity: f64) -> Self {
        let corners = vec![one, (other.0, one.1), other, (one.0, other.1)];
        Self::Area(corners, opacity)
    }
}
