//! What is fitted: gain only, or gain and offset.

use serde::Serialize;

/// What is fitted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Mode {
    /// Gain; the offset is taken as 0.
    GainOnly,
    /// Gain and offset.
    GainAndOffset,
}

impl Mode {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Self::GainOnly => "gain only",
            Self::GainAndOffset => "gain and offset",
        }
    }
}
