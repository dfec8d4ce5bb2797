//! Code that does not know where a table lies: both sensors answer through the trait as by their own methods.

use tallyvolt::{Count, DrawnSensor, SensorAsDrawn, TemperatureSensor, Thermistor};

use super::channel::SENSOR;

struct Sensor;

impl DrawnSensor for Sensor {
    const THERMISTOR: Thermistor<'static> = SENSOR;
}

fn asked(sensor: &impl TemperatureSensor) -> Vec<String> {
    let counts = (0..4096).step_by(7).map(Count);
    counts
        .map(|count| format!("{:?}", sensor.temperature(count)))
        .collect()
}

#[test]
fn both_sensors_pass_through_generic_code() {
    let [by_pointer, by_type] = [asked(&SENSOR), asked(&SensorAsDrawn::<Sensor>::NEW)];
    assert_eq!(by_pointer, by_type);
    assert!(by_type.iter().any(|answer| answer.starts_with("Ok")));
    assert!(by_type.iter().any(|answer| answer.starts_with("Err")));
    let wires = [
        SENSOR.high_wire(),
        TemperatureSensor::high_wire(&SensorAsDrawn::<Sensor>::NEW),
    ];
    assert_eq!(wires, [Count(3900); 2]);
}
