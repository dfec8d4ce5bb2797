//! The header's whole channel, where it is asked for: `c/channel.h` with what the front end has.

use tallyvolt::{LimitSide, LineConstants, Microvolts};
use tallyvolt_model::front_end::Topology;

use super::description::Description;
use super::error::EmitError;
use super::sensing::SetLimit;
use tallyvolt_analysis::describe::firmware::Constants;
use tallyvolt_analysis::describe::limit_name::LimitName;
use tallyvolt_analysis::describe::limits::count;

/// The text; a line of `c/channel.h` that starts with `@` and a letter stands only where the letter's part is there.
pub(super) fn part(description: &Description<'_>) -> Result<String, EmitError> {
    let converter = &description.front_end.converter;
    if converter.right_shift > 0 {
        return Err(EmitError::ChannelShift {
            right_shift: converter.right_shift,
        });
    }
    let sensing = &description.sensing;
    let rises = matches!(description.front_end.topology, Topology::DividedInput(_));
    let sensor = sensing.sensor.is_some();
    let voltage = sensing.on_voltage().next().is_some();
    let minimum = supply_minimum(description)?;
    let parts = [
        ('L', !sensing.limits.is_empty()),
        ('Z', sensing.limits.is_empty()),
        ('V', voltage),
        ('T', sensing.on_temperature().next().is_some()),
        ('M', minimum.is_some()),
        ('S', sensor),
        ('N', !sensor),
        ('A', rises && sensor),
        ('B', !rises),
    ];
    let text = kept(include_str!("c/channel.h"), &parts);
    let ends: String = sensing
        .on_voltage()
        .map(|set| {
            format!(
                "    front_end_watched {}[2]; /* {}: counts beyond which it trips, and holds{} */\n",
                set.name.identifier(),
                set.words,
                if set.is_upper() { "" } else { ", all bits flipped" }
            )
        })
        .collect();
    let size = if converter.samples < 256 {
        "uint8_t"
    } else {
        "uint16_t"
    };
    let before = if minimum.is_some() && !voltage {
        concat!(
            "#define FRONT_END_COUNT_RISES 0\n\n",
            include_str!("c/calibrated_limits.h"),
            "\n"
        )
    } else {
        ""
    };
    let voltages: String = sensing.on_voltage().map(judged).collect();
    let temperatures: String = sensing.on_temperature().map(judged).collect();
    let text = text
        .replace("/* WATCHES */\n", &ends)
        .replace("/* START */\n", &start(description, minimum))
        .replace("/* DRAWN */", &drawn(description))
        .replace("/* WATCH */\n", &format!("{}\n", watched(description)))
        .replace("/* VOLTAGE */\n", &voltages)
        .replace("/* TEMPERATURE */\n", &temperatures)
        .replace("/* SIZE */", size);
    Ok(before.to_owned() + &text)
}

/// The lines whose parts are there, without their marks.
fn kept(text: &str, parts: &[(char, bool)]) -> String {
    let lines = text
        .lines()
        .filter_map(|line| match line.strip_prefix('@') {
            Some(marked) => {
                let mut rest = marked.chars();
                let there = parts.contains(&(rest.next()?, true));
                there.then_some(rest.as_str())
            }
            None => Some(line),
        });
    let mut whole: String = lines.map(|line| format!("{line}\n")).collect();
    // Parts that are left out leave their empty lines.
    while whole.contains("\n\n\n") {
        whole = whole.replace("\n\n\n", "\n\n");
    }
    whole
}

/// The call of `front_end_judge` for a limit.
fn judged(set: &SetLimit) -> String {
    let (name, upper) = set.identifiers();
    let flipped = u8::from(!set.is_upper());
    let place = LimitName::ALL.iter().position(|one| *one == set.name);
    let place = place.unwrap_or_default();
    if set.name.is_of_voltage() {
        format!(
            "        front_end_judge(&channel->alarm[{place}], channel->quiet_voltage, {flipped}, count, channel->{name}[0], \
             channel->{name}[1]);\n"
        )
    } else {
        let flip = if set.is_upper() { "" } else { "~" };
        format!(
            "            front_end_judge(&channel->alarm[{place}], channel->quiet_temperature, {flipped}, sensed,
                            (front_end_watched){flip}FRONT_END_{upper}_TRIP, (front_end_watched){flip}FRONT_END_{upper}_HOLD);
"
        )
    }
}

/// What a limit and the supply's minimum are compared with: as drawn, or found with the module.
fn start(description: &Description<'_>, minimum: Option<(u32, u32)>) -> String {
    let (mut drawn, mut module) = (String::new(), String::new());
    for set in description.sensing.on_voltage() {
        let (name, upper) = set.identifiers();
        let flipped = if set.is_upper() { "" } else { "~" };
        drawn += &format!(
            "        channel->{name}[0] = (front_end_watched){flipped}FRONT_END_{upper}_TRIP;
        channel->{name}[1] = (front_end_watched){flipped}FRONT_END_{upper}_HOLD;
"
        );
        module += &format!(
            "        if (!front_end_ends_of(module, {}, channel->{name}))
            refusal = FRONT_END_LIMIT;
",
            set.arguments(description.front_end)
        );
    }
    if let Some((count, units)) = minimum {
        drawn += &format!("        channel->supply_minimum = UINT32_C({count});\n");
        module += &format!(
            "        channel->supply_minimum = (front_end_watched)front_end_count_limit(module, 0, {units});
        if (channel->supply_minimum == 0)
            refusal = FRONT_END_LIMIT;
"
        );
    }
    if drawn.is_empty() {
        return drawn;
    }
    format!(
        "#if FRONT_END_CHANNEL_AS_DRAWN
    if (module == 0) {{
{drawn}    }} else
#endif
    {{
{module}    }}
"
    )
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
    // The last two are the CRC, which nobody looks at again.
    let digits: Vec<String> = record
        .encode()
        .chunks(2)
        .take(14)
        .map(|digit| i16::from_le_bytes([digit[0], digit[1]]).to_string())
        .collect();
    // Without a sensor nothing else is in flash.
    let flash = if description.sensing.sensor.is_some() {
        ""
    } else {
        concat!(include_str!("c/flash.h"), "\n")
    };
    format!(
        "{flash}static const int16_t front_end_drawing[14] FRONT_END_IN_FLASH = {{ {digits} }};

/* The drawing as a module's constants: what is converted with them is as drawn. */
FRONT_END_APART void front_end_drawn(front_end_module *module)
{{
    uint16_t *digit = module->digit;
    int16_t one, other;
    uint8_t i;
    for (i = 0; i < 14; i = (uint8_t)(i + 2)) {{
        front_end_entries(front_end_drawing + i, &one, &other);
        *digit++ = (uint16_t)one;
        *digit++ = (uint16_t)other;
    }}
    (void)front_end_take(module);
}}

",
        digits = digits.join(", ")
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

/// A count as the channel sees it: of 16 bits where all that matters fits, with what does not behind it.
fn watched(description: &Description<'_>) -> &'static str {
    let sensing = &description.sensing;
    let mut ends = sensing.limits.iter().map(SetLimit::ends);
    let sensor = sensing.sensor.as_ref();
    let wires = sensor.map_or(0, |sensor| sensor.built.table.high_wire);
    // The largest number is no limit's.
    let narrow =
        description.rail.max(wires) <= 0xFFFF && ends.all(|(trip, hold)| trip.max(hold) < 0xFFFF);
    if narrow {
        "/* A count as the channel sees it; one of more than 16 bits is behind all that it is compared with, as the largest number is. */
typedef uint16_t front_end_watched;
typedef uint_fast16_t front_end_summed;
#define FRONT_END_WATCHED(count) ((front_end_watched)((count) > UINT32_C(0xFFFF) ? UINT32_C(0xFFFF) : (count)))
"
    } else {
        "/* A count as the channel sees it. */
typedef uint32_t front_end_watched;
typedef uint_fast32_t front_end_summed;
#define FRONT_END_WATCHED(count) (count)
"
    }
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
    Ok(Some((count(limit), uv.div_ceil(front_end.unit_uv))))
}
