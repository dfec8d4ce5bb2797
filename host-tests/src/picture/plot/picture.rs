//! A picture: a panel, its height, and what is said of it to those who do not see it.

use super::chart;
use super::panel::Panel;

/// What a picture is made of.
pub(super) struct Picture {
    pub(super) panel: Panel,
    /// Between the axes, in pixels.
    pub(super) height: i32,
    /// In a sentence or two, for those who do not see it.
    pub(super) described: String,
}

impl Picture {
    pub(super) fn svg(&self, title: &str) -> String {
        chart::svg(&self.panel, self.height, title, &self.described)
    }
}
