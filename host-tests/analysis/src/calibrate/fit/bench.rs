//! What all modules of a batch share.

use tallyvolt_model::front_end::FrontEnd;

use super::guards::Guards;
use super::meter::Meter;
use super::mode::Mode;
use super::noise::Noise;
use super::transfer::Transfer;

/// How a batch is fitted.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Settings {
    /// The bench meter.
    pub meter: Meter,
    /// A mode that was asked for; none to let the data decide.
    pub mode: Option<Mode>,
    /// Sequence number of the records.
    pub sequence: u16,
    /// Whether a module that nothing could contradict gets a record.
    pub accept_unchecked: bool,
}

/// What all modules of a batch share.
#[derive(Debug, Clone, Copy)]
pub struct Bench<'a> {
    pub front_end: &'a FrontEnd,
    pub transfer: &'a Transfer,
    pub settings: &'a Settings,
    pub noise: &'a Noise,
    /// Tests that are made on the whole batch.
    pub tests: f64,
    pub guards: &'a Guards,
}
