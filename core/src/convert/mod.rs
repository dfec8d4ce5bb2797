//! What a chip runs: counts to voltages and temperatures, by constants that were chosen elsewhere.

pub mod as_drawn;
pub mod cell_conversion;
pub mod constants;
pub mod divided_module;
pub(crate) mod division;
pub(crate) mod interpolation;
pub mod line;
pub mod quotient;
pub mod self_calibration;
pub mod sensor_as_drawn;
pub mod supply_module;
pub mod table;
pub mod tabled_supply_module;
pub mod temperature_sensor;
pub mod thermistor;
pub mod window;
