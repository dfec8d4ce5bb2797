
    // With its kernels, a module of Cortex-M0+ has this function.
    #[cfg(all(feature = "arch", target_arch = "arm"))]
    core::arch::global_asm!(
        ".global front_end_calibrated",
        ".thumb_set front_end_calibrated, {}",
        sym Module::units,
    );

    #[cfg(not(all(feature = "arch", target_arch = "arm")))]
    #[unsafe(no_mangle)]
    pub extern "C" fn front_end_calibrated(count: CountType, module: &Module) -> u16 {
        reading(module.voltage(Count(count.into())))
    }
