
    #[unsafe(no_mangle)]
    pub extern "C" fn front_end_kernel(count: CountType, module: &arch::ByKernel<Module>) -> u16 {
        reading(module.voltage(Count(count.into())))
    }

    #[unsafe(no_mangle)]
    pub extern "C" fn front_end_kernel_outcome(count: u32, module: &arch::ByKernel<Module>) -> u32 {
        outcome(module.voltage(Count(count)))
    }
