//! Limits on the page: where they turn, and what they are compared with.

use tallyvolt_host::picture::page::page;
use tallyvolt_model::front_end::LimitMeaning;
use tallyvolt_model::rational::whole;

use super::{DESCRIBED, curves};

/// Every count that is shown trips exactly where its reading is beyond the limit, and holds where it is beyond the value at
/// which an alarm clears.
#[test]
fn limits_turn_where_the_readings_do() {
    let mut limits = 0;
    for (_, curves) in DESCRIBED.iter() {
        for limit in &curves.limits {
            limits += 1;
            let over = limit.key.starts_with("over");
            let beyond = |value: f64, bound: f64| if over { value > bound } else { value < bound };
            let trips = |count: u32, end: u32| {
                if limit.above {
                    count > end
                } else {
                    count < end
                }
            };
            let mut sides = [0; 2];
            for &(count, value) in &limit.points {
                let trip = trips(count, limit.trip_count);
                assert_eq!(
                    trip,
                    beyond(value, limit.compared),
                    "{} count {count}",
                    limit.key
                );
                assert_eq!(trips(count, limit.hold_count), beyond(value, limit.hold));
                sides[usize::from(trip)] += 1;
            }
            assert!(sides.iter().all(|side| *side > 0), "both sides are shown");
            if let Some(guard) = &limit.guard {
                assert!(
                    !beyond(guard.threshold_mv, limit.limit),
                    "the alarm comes early"
                );
            }
        }
    }
    assert!(limits >= 24, "{limits}");
}

/// A value of a limit as the page has it: volts to a millivolt, or to a tenth of one where that is needed, or degrees to a tenth.
fn volts_or_degrees(unit: &str, value: f64) -> String {
    let tenths = (10.0 * value).round() as i64;
    match (unit, tenths % 10) {
        ("mV", 0) => format!("{:.3} V", value / 1000.0),
        ("mV", _) => format!("{:.4} V", value / 1000.0),
        _ => format!("{value:.1} °C"),
    }
}

/// The table of limits has the file's value beside what firmware compares with, and says how far inside the limit that lies.
#[test]
fn a_page_tells_what_a_limit_is_compared_with() {
    let mut inside = 0;
    let on_true_values = DESCRIBED.iter().filter_map(|(front_end, _)| {
        let mut front_end = front_end.clone();
        front_end.thermistor.as_mut()?.accuracy.fixed_ppm = Some(whole(10_000));
        front_end.limits.as_mut()?.meaning = LimitMeaning::TrueValue;
        Some(curves(&front_end))
    });
    let described = DESCRIBED.iter().map(|(_, curves)| curves.clone());
    for curves in described.chain(on_true_values) {
        let text = page(&[("front.toml".to_owned(), curves.clone())]);
        for limit in &curves.limits {
            let key = format!("<code>{}</code>", limit.key);
            let row = text.split("<tr>").find(|row| row.contains(&key));
            let row = row.unwrap_or_else(|| panic!("{}: no row of {}", curves.name, limit.key));
            let values = [limit.limit, limit.compared]
                .map(|value| format!(">{}</td>", volts_or_degrees(limit.unit, value)));
            let [value, compared] = &values;
            let at = row.find(value).unwrap_or_else(|| panic!("{row}: {value}"));
            assert!(
                row[at + value.len()..].contains(compared),
                "{row}: {compared}"
            );
            if limit.limit == limit.compared {
                assert!(!row.contains("inside the limit"), "{row}");
            } else if limit.guard.is_none() {
                inside += 1;
                let distance = volts_or_degrees(limit.unit, (limit.limit - limit.compared).abs());
                assert!(
                    row.contains(&format!("{distance} inside the limit")),
                    "{row}"
                );
            }
        }
    }
    assert!(inside >= 4, "{inside}");
}
