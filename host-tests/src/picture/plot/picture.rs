//! A picture: axes and what is between them, as plain data, and what is said of it to those who do not see it.

use super::axis::Axis;
use super::series::Series;

/// What a picture is made of.
pub(super) struct Picture {
    pub(super) x: Axis,
    pub(super) y: Axis,
    /// Later ones cover earlier ones.
    pub(super) series: Vec<Series>,
    /// Between the axes, in pixels.
    pub(super) height: i32,
    /// In a sentence or two, for those who do not see it.
    pub(super) described: String,
}
