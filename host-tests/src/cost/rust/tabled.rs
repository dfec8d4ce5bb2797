
    /// A module's conversion with a table, in RAM, for the simulator.
    #[unsafe(no_mangle)]
    static mut FRONT_END_TABLED: MaybeUninit<TabledSupplyModule> = MaybeUninit::uninit();

    /// 0 for a record that was accepted.
    #[unsafe(no_mangle)]
    pub extern "C" fn front_end_tabled_load(module: &mut MaybeUninit<TabledSupplyModule>, record: &[u8; RECORD_BYTES]) -> u8 {
        match INPUT.load::<Module>(record) {
            Ok(loaded) => {
                module.write(loaded.with_table());
                0
            }
            Err(_) => 1,
        }
    }

    #[unsafe(no_mangle)]
    pub extern "C" fn front_end_tabled(count: CountType, module: &TabledSupplyModule) -> u16 {
        reading(module.voltage(Count(count.into())))
    }

    #[unsafe(no_mangle)]
    pub extern "C" fn front_end_tabled_outcome(count: u32, module: &TabledSupplyModule) -> u32 {
        outcome(module.voltage(Count(count)))
    }
