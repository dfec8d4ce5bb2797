    pub type Module = ModuleType;

    /// A channel of the module, known while compiling.
    pub static SETUP: ChannelSetup<Module, FittedSensor> = proven!(setup(ModuleConstants, true));

    /// A module's conversion in RAM, for the simulator.
    #[unsafe(no_mangle)]
    static mut FRONT_END_MODULE: MaybeUninit<Module> = MaybeUninit::uninit();

    #[unsafe(no_mangle)]
    pub extern "C" fn front_end_constant(count: CountType) -> u16 {
        reading(AS_DRAWN.voltage(Count(count.into())))
    }

    #[unsafe(no_mangle)]
    pub extern "C" fn front_end_constant_outcome(count: u32) -> u32 {
        outcome(AS_DRAWN.voltage(Count(count)))
    }

    /// 0 for a record that was accepted.
    #[unsafe(no_mangle)]
    pub extern "C" fn front_end_load(module: &mut MaybeUninit<Module>, record: &[u8; RECORD_BYTES]) -> u8 {
        match INPUT.load(record) {
            Ok(loaded) => {
                module.write(loaded);
                0
            }
            Err(_) => 1,
        }
    }

    #[unsafe(no_mangle)]
    pub extern "C" fn front_end_calibrated_outcome(count: u32, module: &Module) -> u32 {
        outcome(module.voltage(Count(count)))
    }

    /// The checksum of the record made from a loaded module.
    #[cfg(feature = "bounds")]
    #[unsafe(no_mangle)]
    pub extern "C" fn front_end_kept(sequence: u32, module: &Module) -> u32 {
        let [.., a, b, c, d] = INPUT.record(module, sequence as u16).encode();
        u32::from_le_bytes([a, b, c, d])
    }

    /// The count of an upper limit.
    #[unsafe(no_mangle)]
    pub extern "C" fn front_end_limit(uv: u32, module: &Module) -> u32 {
        match module.count_limit(LimitSide::Over, Microvolts(uv)) {
            Ok(CountLimit::Above(count) | CountLimit::Below(count)) => count.0,
            Err(_) => u32::MAX,
        }
    }
