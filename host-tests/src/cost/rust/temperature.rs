
    #[unsafe(no_mangle)]
    static FRONT_END_SENSOR: Thermistor<'static> = THERMISTOR;

    #[unsafe(no_mangle)]
    pub extern "C" fn front_end_temperature(count: SensorType) -> i16 {
        tenths(THERMISTOR.temperature(Count(count.into())))
    }

    #[unsafe(no_mangle)]
    pub extern "C" fn front_end_temperature_as_drawn(count: SensorType) -> i16 {
        tenths(SensorAsDrawn::<Sensor>::NEW.temperature(Count(count.into())))
    }

    #[unsafe(no_mangle)]
    pub extern "C" fn front_end_temperature_as_drawn_outcome(count: u32) -> u32 {
        sensor_outcome(SensorAsDrawn::<Sensor>::NEW.temperature(Count(count)))
    }

    #[unsafe(no_mangle)]
    pub extern "C" fn front_end_temperature_by_pointer(count: SensorType, thermistor: &Thermistor<'static>) -> i16 {
        tenths(thermistor.temperature(Count(count.into())))
    }

    #[unsafe(no_mangle)]
    pub extern "C" fn front_end_temperature_outcome(count: u32, thermistor: &Thermistor<'static>) -> u32 {
        sensor_outcome(thermistor.temperature(Count(count)))
    }
