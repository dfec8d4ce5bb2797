//! A front end whose cost is measured, with what its functions must answer.

use std::fmt::Display;
use std::path::Path;

use tallyvolt::{LimitSide, Microvolts, RECORD_BYTES};
use tallyvolt_cost::error::CostError;
use tallyvolt_model::Model;
use tallyvolt_model::acquisition::AcquisitionModel;
use tallyvolt_model::calibration::CalibrationModel;
use tallyvolt_model::channel::{PlainLimits, limits};
use tallyvolt_model::front_end::{FrontEnd, Topology};
use tallyvolt_model::integer_form::IntegerForm;

use crate::emit::names::Names;
use crate::emit::{Lang, emit, emit_channel_with};
use tallyvolt_analysis::calibrate::fit::constants::choose;
use tallyvolt_analysis::calibrate::fit::stored::form;
use tallyvolt_analysis::choose::described_limits::described;
use tallyvolt_analysis::describe::firmware::{Constants, Conversion, Firmware};
use tallyvolt_analysis::describe::limit_name::LimitName;
use tallyvolt_analysis::describe::limits::count;
use tallyvolt_analysis::describe::thermistor_table::BuiltTable;

/// A module's calibration as awkward as a fit gives it: gain in 2^-24, offset in 1/256 counts.
const AWKWARD: (u32, i32) = (16_843_213, 317);

/// Samples of a whole reading, as the images take them.
pub(super) const WINDOW: u32 = 16;

/// A front end, as drawn and with a module's constants.
#[derive(Debug, Clone)]
pub struct Subject {
    /// What is drawn.
    pub front_end: FrontEnd,
    /// Its identifiers.
    pub names: Names,
    /// The crate's view of it.
    pub firmware: Firmware,
    /// What a calibrated module converts with: the constants that `fit` chooses.
    pub module: Conversion,
    /// These constants as a chip loads them.
    pub record: [u8; RECORD_BYTES],
    /// The thermistor's table.
    pub table: Option<BuiltTable>,
    /// The limits as firmware compares them.
    pub limits: PlainLimits,
    /// The largest count.
    pub rail: u32,
    /// The largest count of the sensor.
    pub sensor_rail: u32,
}

impl Subject {
    /// A front end with the constants of an awkward calibration.
    ///
    /// # Errors
    /// [`CostError::File`] where the crate cannot describe it or no table fits.
    pub fn of(front_end: &FrontEnd) -> Result<Self, CostError> {
        let (gain, offset) = AWKWARD;
        Self::calibrated(front_end, &CalibrationModel::from_words(gain, offset))
    }

    /// The same with any calibration.
    ///
    /// # Errors
    /// As [`Subject::of`].
    pub fn calibrated(front_end: &FrontEnd, curve: &CalibrationModel) -> Result<Self, CostError> {
        let firmware = or_file(front_end, Firmware::describe(front_end))?;
        let chosen = or_file(front_end, choose(front_end, &firmware, curve))?;
        let record = or_file(front_end, firmware.record(chosen.constants, 1))?;
        let thermistor = front_end.thermistor.as_ref();
        let table = thermistor.map(|thermistor| BuiltTable::build(front_end, thermistor));
        let table = or_file(front_end, table.transpose())?;
        let conversion = or_file(front_end, firmware.conversion())?;
        let sensor = table.as_ref().map(BuiltTable::firmware).transpose();
        let sensor = or_file(front_end, sensor)?;
        let described = described(front_end, &conversion, sensor.as_ref());
        let mut limits = limits(front_end.limits.as_ref(), front_end.unit_uv);
        for (limit, name) in limits.iter_mut().zip(LimitName::ALL) {
            // A limit on the true value is compared earlier, by its guard band.
            let compared = described.iter().find(|described| described.name == name);
            if let (Some(limit), Some(described)) = (limit, compared) {
                limit.value = described.steps.into();
            }
        }
        Ok(Self {
            limits,
            names: Names::of(&front_end.name),
            firmware,
            module: chosen.conversion,
            record: record.encode(),
            table,
            rail: AcquisitionModel::new(&front_end.converter).largest_count(),
            sensor_rail: thermistor.map_or(0, |thermistor| {
                AcquisitionModel::new(&thermistor.converter(&front_end.converter)).largest_count()
            }),
            front_end: front_end.clone(),
        })
    }

    /// The exact drawing.
    pub fn drawn_form(&self) -> IntegerForm {
        IntegerForm::of(&Model::as_drawn(&self.front_end))
    }

    /// The exact rational of the module's constants.
    pub fn module_form(&self) -> IntegerForm {
        form(&self.module.constants(), self.rail)
    }

    /// `divided` or `supply`.
    pub fn task(&self) -> &'static str {
        match self.front_end.topology {
            Topology::DividedInput(_) => "divided",
            Topology::SupplyReference => "supply",
        }
    }

    /// An upper limit that the cell's range holds, and the count that the module compares with it.
    ///
    /// # Errors
    /// [`CostError::File`] where the crate refuses it.
    pub fn limit(&self) -> Result<(u32, u32), CostError> {
        let uv = self.front_end.cell.max_uv / 1000 * 1000;
        let limit = self.module.count_limit(LimitSide::Over, Microvolts(uv));
        Ok((uv, count(or_file(&self.front_end, limit)?)))
    }

    /// Whether the images have a whole channel for it: a window of sixteen samples of 12 bits, and a sensor's count of 14 bits.
    pub fn has_channel(&self) -> bool {
        let converter = &self.front_end.converter;
        let sensor = self.front_end.thermistor.as_ref();
        converter.samples == WINDOW
            && converter.right_shift == 0
            && converter.bits == 12
            && sensor.is_some_and(|sensor| sensor.samples == 4 && sensor.right_shift == 0)
    }

    /// Whether the module's constants are in the short form, which a chip loads with the least code.
    pub fn loads_short(&self) -> bool {
        match self.module.constants() {
            Constants::Line(line) => u32::from(line.shift) == self.firmware.count_bits() + 3,
            Constants::Quotient(quotient) => {
                let last = u64::from(quotient.counts - 1) << quotient.step_log2;
                let at_last = last + u64::from(quotient.at_first);
                let sum = quotient.numerator + at_last / 2;
                at_last < 1 << 16 && sum < 1 << 32 && quotient.step_log2 < 8
            }
        }
    }

    /// Whether its module can have a table of reciprocals, `tallyvolt::TabledSupplyModule`.
    pub fn takes_table(&self) -> bool {
        self.front_end.topology == Topology::SupplyReference && self.loads_short()
    }

    /// Whether its drawing can be a type, `tallyvolt::Drawn`.
    pub fn has_drawn_type(&self) -> bool {
        matches!(self.front_end.topology, Topology::DividedInput(_))
    }

    /// The converter's lowest supply in microvolts, where the cell is that supply.
    pub fn supply_minimum_uv(&self) -> Option<u32> {
        let feeds = self.front_end.topology == Topology::SupplyReference;
        self.front_end.converter.supply_min_uv.filter(|_| feeds)
    }
}

/// The command in the head of what is emitted.
const COMMAND: &str = "tallyvolt cost";

/// What `emit` writes of a front end.
///
/// # Errors
/// [`CostError::File`] when it does not pass its check.
pub fn emitted(front_end: &FrontEnd, lang: Lang) -> Result<String, CostError> {
    or_file(front_end, emit(front_end, lang, COMMAND))
}

/// The same with the whole channel, in C.
///
/// # Errors
/// As [`emitted`].
pub fn emitted_channel(front_end: &FrontEnd) -> Result<String, CostError> {
    or_file(front_end, emit_channel_with(front_end, COMMAND, &|_| {}))
}

/// A step's result; why it failed is said of the front end.
fn or_file<T, E: Display>(front_end: &FrontEnd, result: Result<T, E>) -> Result<T, CostError> {
    result.map_err(|error| CostError::file(Path::new(&front_end.name), error))
}
