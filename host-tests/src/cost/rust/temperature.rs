
    #[unsafe(no_mangle)]
    static FRONT_END_SENSOR: Thermistor<'static> = THERMISTOR;

    #[unsafe(no_mangle)]
    pub extern "C" fn front_end_temperature(count: SensorType) -> i16 {
        tenths(THERMISTOR.temperature(Count(count.into())))
    }

    #[unsafe(no_mangle)]
    pub extern "C" fn front_end_temperature_by_pointer(count: SensorType, thermistor: &Thermistor<'static>) -> i16 {
        tenths(thermistor.temperature(Count(count.into())))
    }

    #[unsafe(no_mangle)]
    pub extern "C" fn front_end_temperature_outcome(count: u32, thermistor: &Thermistor<'static>) -> u32 {
        sensor_outcome(thermistor.temperature(Count(count)))
    }
