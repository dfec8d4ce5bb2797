//! The header's limits and alarms: as drawn, and those of a calibrated module.

use tallyvolt_model::front_end::{Limits, Topology};

use super::description::Description;
use super::sensing::SetLimit;

/// Limits as drawn: their counts, the alarm, and one function a limit.
pub(super) fn alarms(limits: &Limits, set: &[SetLimit]) -> String {
    let mut text = String::from(
        "/* ---- limits: one comparison of counts, with the verdict of comparing converted values at every count ----
 * Beyond is strictly beyond. A count that is a fault belongs to the side it lies on. */
",
    );
    for set in set {
        let (trip, hold) = set.ends();
        let (_, upper) = set.identifiers();
        text += &format!(
            "#define FRONT_END_{upper}_TRIP UINT32_C({trip}) /* {} */
#define FRONT_END_{upper}_HOLD UINT32_C({hold})
",
            set.words
        );
    }
    text += &format!(
        "#define FRONT_END_ALARM_READINGS {} /* as many in a row must agree */
#define FRONT_END_ALARM_LATCHES {} /* 1: an alarm stays until it is acknowledged */

{}
/* Each takes a count, of the cell as drawn or of the sensor, and answers whether the alarm is active. */
",
        limits.debounce_readings,
        u8::from(limits.latching),
        include_str!("c/alarm.h")
    );
    for set in set {
        let (name, upper) = set.identifiers();
        text += &format!(
            "static inline int front_end_{name}(front_end_alarm *alarm, uint32_t count)
{{ return front_end_alarm_update(alarm, count, FRONT_END_{upper}_TRIP, FRONT_END_{upper}_HOLD, {}); }}
",
            u8::from(set.is_upper())
        );
    }
    text
}

/// Limits of a calibrated module: found after each load, then compared in the same way.
pub(super) fn calibrated(description: &Description<'_>) -> String {
    let front_end = description.front_end;
    let rises = matches!(front_end.topology, Topology::DividedInput(_));
    let (mut fields, mut found, mut updates) = (String::new(), Vec::new(), String::new());
    for set in description.sensing.on_voltage() {
        let (name, arguments) = (set.name.identifier(), set.arguments(front_end));
        fields += &format!("    front_end_limit {name}; /* {} */\n", set.words);
        found.push(format!(
            "front_end_limit_of(module, {arguments}, &limits->{name})"
        ));
        updates += &format!(
            "static inline int front_end_calibrated_{name}(const front_end_limits *limits, front_end_alarm *alarm, uint32_t count)
{{ return front_end_alarm_update(alarm, count, limits->{name}.trip, limits->{name}.hold, {}); }}
",
            u8::from(set.is_upper())
        );
    }
    format!(
        "#define FRONT_END_COUNT_RISES {}
{}
typedef struct {{
{fields}}} front_end_limits;

/* Finds a module's limits after each load. FRONT_END_LIMIT when one, or where it comes back, is not readable. */
static inline front_end_refusal front_end_calibrated_limits(const front_end_module *module, front_end_limits *limits)
{{
    return (front_end_refusal)({found});
}}

/* The same as drawn has, with a module's own limits. */
{updates}",
        u8::from(rises),
        include_str!("c/calibrated_limits.h"),
        found = found.join("\n        | "),
    )
}
