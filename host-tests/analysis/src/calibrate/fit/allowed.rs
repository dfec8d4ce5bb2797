//! What the parts may do to gain and offset, as far as the front-end file states their tolerances.
//!
//! Corners, not a rule of thumb: two resistors of 1 % at a ratio of 1/3 move it by 1.34 %, not by 2 or 1.

use tallyvolt_model::front_end::{FrontEnd, Tolerance, Topology};
use tallyvolt_model::rational::{float, float_or_zero};

/// Temperature to which a part's tolerance belongs.
const TOLERANCE_AT_C: f64 = 25.0;

/// Limits of a module that is built as drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Allowed {
    /// Lowest and highest gain; none where no tolerance is stated.
    pub gain: Option<(f64, f64)>,
    /// Largest offset in single-sample counts; none where it is not stated.
    pub offset: Option<f64>,
}

impl Allowed {
    /// The limits at a temperature, or at the one modules are calibrated at.
    pub fn new(front_end: &FrontEnd, temp_c: Option<f64>) -> Self {
        let environment = front_end.environment.as_ref();
        let calibrated_at = environment.map(|environment| float(&environment.calibrated_at_c));
        let kelvin = (temp_c.or(calibrated_at).unwrap_or(TOLERANCE_AT_C) - TOLERANCE_AT_C).abs();
        let relative = |tolerance: &Tolerance| {
            let stated = float(tolerance.ppm.as_ref()?);
            Some((stated + float_or_zero(&tolerance.ppm_per_k) * kelvin) * 1e-6)
        };
        let converter = &front_end.converter;
        let codes = 2_f64.powi(i32::try_from(converter.bits).unwrap_or(16));
        let own = float_or_zero(&converter.accuracy.gain_lsb) / codes;
        let reference = relative(&front_end.reference.tolerance);
        let divider = |sign: f64| match &front_end.topology {
            Topology::DividedInput(divider) => {
                let ratio = float(&(&divider.top_ohms / &divider.bottom_ohms));
                let resistor = relative(&divider.tolerance)?;
                let top = ratio * (1.0 + sign * resistor) / (1.0 - sign * resistor);
                Some((1.0 + top) / (1.0 + ratio))
            }
            Topology::SupplyReference => Some(1.0),
        };
        let corner =
            |sign: f64| Some(divider(sign)? * (1.0 + sign * reference?) * (1.0 + sign * own));
        Self {
            gain: corner(-1.0).zip(corner(1.0)),
            offset: converter.accuracy.offset_lsb.as_ref().map(float),
        }
    }
}
