
    #[unsafe(no_mangle)]
    static mut FRONT_END_CHANNEL: State<Module, FittedSensor> = State::uninit();

    /// 0 when the set-up was accepted.
    #[unsafe(no_mangle)]
    pub extern "C" fn front_end_start(state: &mut State<Module, FittedSensor>) -> u8 {
        match Channel::new(&SETUP) {
            Ok(channel) => {
                state.write(channel);
                0
            }
            Err(_) => 1,
        }
    }

    #[unsafe(no_mangle)]
    pub extern "C" fn front_end_reading(
        first: u16,
        channel: &mut Channel<'static, Module, 16, FittedSensor>,
        samples: *const u16,
    ) -> u64 {
        whole_reading(first, channel, samples)
    }

    #[unsafe(no_mangle)]
    static mut FRONT_END_BLOCK: MaybeUninit<BlockChannel<'static, ModuleType, 16, FittedSensor>> = MaybeUninit::uninit();

    /// 0 when the set-up was accepted.
    #[unsafe(no_mangle)]
    pub extern "C" fn front_end_block_start(state: &mut MaybeUninit<BlockChannel<'static, ModuleType, 16, FittedSensor>>) -> u8 {
        match BlockChannel::new(&SETUP) {
            Ok(channel) => {
                state.write(channel);
                0
            }
            Err(_) => 1,
        }
    }

    #[unsafe(no_mangle)]
    pub extern "C" fn front_end_block_reading(
        first: u16,
        channel: &mut BlockChannel<'static, ModuleType, 16, FittedSensor>,
        samples: *const u16,
    ) -> u64 {
        block_reading(first, channel, samples)
    }
