
    #[unsafe(no_mangle)]
    pub extern "C" fn front_end_temperature_kernel(count: SensorType, thermistor: &Thermistor<'static>) -> i16 {
        tenths(arch::temperature(thermistor, Count(count.into())))
    }
