//! What all modules of a batch share.

use tallyvolt_model::front_end::FrontEnd;

use super::guards::Guards;
use super::meter::Meter;
use super::mode::Mode;
use super::noise::Noise;
use super::transfer::Transfer;

/// What all modules of a batch share.
#[derive(Debug, Clone, Copy)]
pub struct Bench<'a> {
    /// The front end.
    pub front_end: &'a FrontEnd,
    /// Its nominal transfer.
    pub transfer: &'a Transfer,
    /// The meter.
    pub meter: &'a Meter,
    /// The noise of the batch.
    pub noise: &'a Noise,
    /// A mode that was asked for; none to let the data decide.
    pub mode: Option<Mode>,
    /// Sequence number of the records.
    pub sequence: u16,
    /// Tests that are made on the whole batch.
    pub tests: f64,
    /// Whether a module that nothing could contradict gets a record.
    pub accept_unchecked: bool,
    /// What guard bands are judged by.
    pub guards: &'a Guards,
}
