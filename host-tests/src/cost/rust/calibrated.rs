
    #[unsafe(no_mangle)]
    pub extern "C" fn front_end_calibrated(count: CountType, module: &Module) -> u16 {
        reading(module.voltage(Count(count.into())))
    }
