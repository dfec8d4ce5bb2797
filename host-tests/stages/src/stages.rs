//! The files of `host-tests/tests/stages` that need no program.

#[path = "../../tests/stages/acquisition.rs"]
mod acquisition;
#[path = "../../tests/stages/alarm.rs"]
mod alarm;
#[path = "../../tests/stages/as_drawn.rs"]
mod as_drawn;
#[path = "../../tests/stages/block.rs"]
mod block;
#[path = "../../tests/stages/cell.rs"]
mod cell;
#[path = "../../tests/stages/cell_conversion.rs"]
mod cell_conversion;
#[path = "../../tests/stages/channel.rs"]
mod channel;
#[path = "../../tests/stages/channel_setup.rs"]
mod channel_setup;
#[path = "../../tests/stages/constants.rs"]
mod constants;
#[path = "../../tests/stages/count_limit.rs"]
mod count_limit;
#[path = "../../tests/stages/decimate.rs"]
mod decimate;
#[path = "../../tests/stages/described.rs"]
mod described;
#[path = "../../tests/stages/divided_module.rs"]
mod divided_module;
#[path = "../../tests/stages/division.rs"]
mod division;
#[path = "../../tests/stages/filter.rs"]
mod filter;
#[path = "../../tests/stages/fingerprint.rs"]
mod fingerprint;
#[path = "../../tests/stages/forms.rs"]
mod forms;
#[path = "../../tests/stages/limits.rs"]
mod limits;
#[path = "../../tests/stages/line.rs"]
mod line;
#[path = "../../tests/stages/messages.rs"]
mod messages;
#[path = "../../tests/stages/plausibility.rs"]
mod plausibility;
#[path = "../../tests/stages/quotient.rs"]
mod quotient;
#[path = "../../tests/stages/reading.rs"]
mod reading;
#[path = "../../tests/stages/record.rs"]
mod record;
#[path = "../../tests/stages/refusals.rs"]
mod refusals;
#[path = "../../tests/stages/sensor_as_drawn.rs"]
mod sensor_as_drawn;
#[path = "../../tests/stages/store.rs"]
mod store;
#[path = "../../tests/stages/strategies.rs"]
mod strategies;
#[path = "../../tests/stages/supply_module.rs"]
mod supply_module;
#[path = "../../tests/stages/supply_reference.rs"]
mod supply_reference;
#[path = "../../tests/stages/table.rs"]
mod table;
#[path = "../../tests/stages/tabled_supply_module.rs"]
mod tabled_supply_module;
#[path = "../../tests/stages/temperature_limits.rs"]
mod temperature_limits;
#[path = "../../tests/stages/temperature_sensor.rs"]
mod temperature_sensor;
#[path = "../../tests/stages/window_setup.rs"]
mod window_setup;
