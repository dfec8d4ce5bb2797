//! A sensor calibrated at one temperature: its reading, and the offset that the table has taken off.

use std::fmt;

use serde::Serialize;
use tallyvolt_model::front_end::Thermistor;
use tallyvolt_model::rational::float;
use tallyvolt_model::thermistor::ThermistorModel;

use super::error::BuildError;

/// The largest offset of a calibrated sensor, in kelvin: beyond, it is another sensor.
const MOST_OFFSET_K: f64 = 20.0;

/// One reading of a sensor at a known temperature, and the offset that follows.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SensorOffset {
    /// Temperature of the thermometer, degC.
    pub at_c: f64,
    /// The count that the sensor gave there.
    pub count: f64,
    /// What that count means by the sensor's law, less the thermometer's temperature, in kelvin.
    pub offset_k: f64,
}

impl SensorOffset {
    /// Of a calibrated reading, if it is one.
    pub(super) fn of(
        model: &ThermistorModel,
        thermistor: &Thermistor,
    ) -> Result<Option<Self>, BuildError> {
        let accuracy = &thermistor.accuracy;
        let (Some(count), Some(at_c)) = (&accuracy.calibrated_count, &accuracy.calibrated_at_c)
        else {
            return Ok(None);
        };
        let (count, at_c, offset_k) = (float(count), float(at_c), model.offset_k());
        if offset_k.is_nan() {
            return Err(BuildError::NoOffset { count });
        }
        if offset_k.abs() > MOST_OFFSET_K {
            return Err(BuildError::FarOffset {
                count,
                reads_c: at_c + offset_k,
                at_c,
                most_k: MOST_OFFSET_K,
            });
        }
        Ok(Some(Self {
            at_c,
            count,
            offset_k,
        }))
    }
}

impl fmt::Display for SensorOffset {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            out,
            "offset {:+.3} K, taken off every temperature: count {} was read at {} degC",
            self.offset_k, self.count, self.at_c
        )
    }
}
