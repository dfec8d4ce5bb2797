//! The header's whole channel, where it is asked for: `c/channel.h` with what the front end has.

use std::fmt::Write as _;

use tallyvolt::{CountLimit, LimitSide, LineConstants, Microvolts};
use tallyvolt_model::front_end::Topology;

use super::description::Description;
use super::error::EmitError;
use super::sensing::SetLimit;
use crate::describe::firmware::Constants;
use crate::describe::limit_name::LimitName;

/// The text; a line of `c/channel.h` that starts with `@` and a letter stands only where the letter's part is there.
pub(super) fn part(description: &Description<'_>) -> Result<String, EmitError> {
    let converter = &description.front_end.converter;
    if converter.right_shift > 0 {
        return Err(EmitError::ChannelShift {
            right_shift: converter.right_shift,
        });
    }
    let limits = &description.sensing.limits;
    let rises = matches!(description.front_end.topology, Topology::DividedInput(_));
    let sensor = description.sensing.sensor.is_some();
    let voltage = limits.iter().any(|set| set.name.is_of_voltage());
    let minimum = supply_minimum(description)?;
    let parts = [
        ('L', !limits.is_empty()),
        ('V', voltage),
        ('T', limits.iter().any(|set| !set.name.is_of_voltage())),
        ('M', minimum.is_some()),
        ('S', sensor),
        ('N', !sensor),
        ('A', rises && sensor),
        ('B', !rises),
    ];
    let text = kept(include_str!("c/channel.h"), &parts);
    let (mut watches, mut acknowledged, mut alarms) = (String::new(), String::new(), String::new());
    for set in limits {
        let (name, upper) = (set.name.identifier(), set.name.identifier().to_uppercase());
        // Writing to a String cannot fail.
        let _ = writeln!(watches, "    front_end_watch {name}; /* {} */", set.words);
        let _ = writeln!(
            acknowledged,
            "    front_end_acknowledge(&channel->{name}.alarm);"
        );
        let _ = write!(
            alarms,
            "    if (front_end_alarm_is_active(&channel->{name}.alarm))\n        \
             alarms |= FRONT_END_ALARM_{upper};\n"
        );
    }
    let sum_bits = u64::from(converter.samples) * ((1 << converter.bits) - 1);
    let sum = if sum_bits <= 0xFFFF {
        "uint16_t"
    } else {
        "uint32_t"
    };
    let size = if converter.samples < 256 {
        "uint8_t"
    } else {
        "uint16_t"
    };
    let mut before = String::new();
    if minimum.is_some() && !voltage {
        let _ = write!(
            before,
            "#define FRONT_END_COUNT_RISES 0\n\n{}\n",
            include_str!("c/calibrated_limits.h")
        );
    }
    let text = text
        .replace("/* WATCHES */", &watches)
        .replace("/* ACKNOWLEDGE */", &acknowledged)
        .replace("/* ALARMS */", &alarms)
        .replace("/* START */", &start(description, minimum))
        .replace("/* DRAWN */", &drawn(description))
        .replace("/* WATCH */\n", &(watched(description) + "\n"))
        .replace("/* VOLTAGE */", &pair(limits, [LimitName::OverVoltage, LimitName::UnderVoltage]))
        .replace(
            "/* TEMPERATURE */",
            &pair(limits, [LimitName::OverTemperature, LimitName::UnderTemperature]),
        )
        .replace("/* SIZE */", size)
        .replace(
            "/* The state of one channel;",
            &format!(
                "/* Wide enough for a window of samples of FRONT_END_BITS bits. */\ntypedef {sum} front_end_sum;\n\n/* The state of one channel;"
            ),
        );
    Ok(before + &text)
}

/// The lines whose parts are there, without their marks.
fn kept(text: &str, parts: &[(char, bool)]) -> String {
    let mut whole = String::new();
    for line in text.lines() {
        // A mark behind a place that is filled in later stands in the middle of the line.
        let (place, rest) = match line.split_once("*/@") {
            Some((place, rest)) if place.starts_with("/* ") => (format!("{place}*/"), rest),
            _ => match line.strip_prefix('@') {
                Some(rest) => (String::new(), rest),
                None => {
                    whole.push_str(line);
                    whole.push('\n');
                    continue;
                }
            },
        };
        whole.push_str(&place);
        let mut rest = rest.chars();
        let mark = rest.next();
        if parts
            .iter()
            .any(|(letter, there)| Some(*letter) == mark && *there)
        {
            whole.push_str(rest.as_str());
            whole.push('\n');
        }
    }
    // Parts that are left out leave their empty lines.
    while whole.contains("\n\n\n") {
        whole = whole.replace("\n\n\n", "\n\n");
    }
    whole
}

/// Pointers to the watches of the limits that are set of two; 0 in place of a second one.
fn pair(limits: &[SetLimit], names: [LimitName; 2]) -> String {
    let set = names.map(|name| {
        let found = limits.iter().find(|set| set.name == name);
        found.map(|set| format!("&channel->{}", set.name.identifier()))
    });
    let pointers: Vec<String> = set.into_iter().flatten().collect();
    match &*pointers {
        [one, other] => format!("{one}, {other}"),
        [one] => format!("{one}, 0"),
        _ => String::new(),
    }
}

/// What a limit and the supply's minimum are compared with: as drawn, or found with the module.
fn start(description: &Description<'_>, minimum: Option<(u32, u32)>) -> String {
    let limits = &description.sensing.limits;
    let hysteresis = description.front_end.limits.as_ref();
    let hysteresis = hysteresis.map_or(0, |limits| {
        limits.hysteresis_uv / description.front_end.unit_uv
    });
    let (mut text, mut drawn, mut module) = (String::new(), String::new(), String::new());
    for set in limits {
        let (name, upper) = (set.name.identifier(), set.name.identifier().to_uppercase());
        // Writing to a String cannot fail.
        let _ = writeln!(
            text,
            "    channel->{name}.flip = {};",
            if set.is_upper() {
                "0"
            } else {
                "(front_end_watched)-1"
            }
        );
        let flipped = if set.is_upper() { "" } else { "~" };
        let constants = if set.name.is_of_voltage() {
            &mut drawn
        } else {
            &mut text
        };
        let indent = if set.name.is_of_voltage() {
            "        "
        } else {
            "    "
        };
        let _ = write!(
            constants,
            "{indent}channel->{name}.trip = (front_end_watched){flipped}FRONT_END_{upper}_TRIP;
{indent}channel->{name}.hold = (front_end_watched){flipped}FRONT_END_{upper}_HOLD;
"
        );
        if set.name.is_of_voltage() {
            let over = set.side == LimitSide::Over;
            let (trip, hysteresis) = (i64::from(set.steps), i64::from(hysteresis));
            let hold = if over {
                trip - hysteresis
            } else {
                trip + hysteresis
            };
            let _ = write!(
                module,
                "        if (!front_end_watch_of(module, {}, {trip}, {hold}, &channel->{name}))
            refusal = FRONT_END_LIMIT;
",
                u8::from(over)
            );
        }
    }
    if let Some((count, units)) = minimum {
        let _ = writeln!(
            drawn,
            "        channel->supply_minimum = UINT32_C({count});"
        );
        let _ = write!(
            module,
            "        channel->supply_minimum = front_end_count_limit(module, 0, {units});
        if (channel->supply_minimum == 0)
            refusal = FRONT_END_LIMIT;
"
        );
    }
    if !drawn.is_empty() {
        let _ = write!(
            text,
            "#if FRONT_END_CHANNEL_AS_DRAWN
    if (module == 0) {{
{drawn}    }} else
#endif
    {{
{module}    }}
"
        );
    }
    text
}

/// The drawing as a module's constants, where a record can hold them.
fn drawn(description: &Description<'_>) -> String {
    let constants = description.conversion.constants();
    let Ok(record) = description.firmware.record(constants, 0) else {
        return String::new();
    };
    let same = description.firmware.recorded(&record);
    if !same.is_ok_and(|same| fractions(&same.constants()) == fractions(&constants)) {
        return String::new();
    }
    let mut digits = String::new();
    let bytes = record.encode();
    // The last two are the CRC, which nobody looks at again.
    for (place, digit) in bytes.chunks(2).take(14).enumerate() {
        let digit = u16::from_le_bytes([digit[0], digit[1]]);
        let _ = writeln!(digits, "    digit[{place}] = {digit};");
    }
    format!(
        "/* The drawing as a module's constants: what is converted with them is as drawn. */
FRONT_END_APART void front_end_drawn(front_end_module *module)
{{
    uint16_t *digit = module->digit;
{digits}    (void)front_end_take(module);
}}

"
    )
}

/// Constants in a form that does not depend on a line's shift.
fn fractions(constants: &Constants) -> Constants {
    match constants {
        Constants::Line(line) => {
            let places = 64_u8.saturating_sub(line.shift);
            Constants::Line(LineConstants {
                factor: line.factor << places,
                addend: line.addend << places,
                shift: 64,
                ..*line
            })
        }
        Constants::Quotient(quotient) => Constants::Quotient(*quotient),
    }
}

/// The counts that alarms are compared with: of 16 bits where they fit, with what does not beyond all limits.
fn watched(description: &Description<'_>) -> String {
    let ends = description.sensing.limits.iter().map(SetLimit::ends);
    let plain = "typedef uint32_t front_end_watched;\n#define FRONT_END_WATCHED(count) (count)\n";
    if description.rail > 0xFFFF || ends.clone().any(|(trip, hold)| trip.max(hold) > 0xFFFE) {
        return plain.to_owned();
    }
    format!(
        "/* A count as alarms see it; one of more than 16 bits is beyond every limit, whichever it is. */
#if FRONT_END_PRODUCTS_16
typedef uint16_t front_end_watched;
#define FRONT_END_WATCHED(count) ((front_end_watched)((count) > UINT32_C(0xFFFF) ? UINT32_C(0xFFFF) : (count)))
#else
{plain}#endif
"
    )
}

/// Where the cell feeds the converter: the count limit of its lowest supply as drawn, and that supply in output units.
fn supply_minimum(description: &Description<'_>) -> Result<Option<(u32, u32)>, EmitError> {
    let front_end = description.front_end;
    let feeds = front_end.topology == Topology::SupplyReference;
    let Some(uv) = front_end.converter.supply_min_uv.filter(|_| feeds) else {
        return Ok(None);
    };
    let limit = description
        .conversion
        .count_limit(LimitSide::Under, Microvolts(uv))
        .map_err(|error| EmitError::Limit {
            key: "supply_min_mv",
            error,
        })?;
    match limit {
        CountLimit::Above(count) | CountLimit::Below(count) => {
            Ok(Some((count.0, uv.div_ceil(front_end.unit_uv))))
        }
    }
}
