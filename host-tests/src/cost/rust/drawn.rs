
    struct Drawing;

    impl Drawn<COUNT_BITS> for Drawing {
        const CONVERSION: DividedConversion<COUNT_BITS> = AS_DRAWN;
    }

    #[unsafe(no_mangle)]
    pub extern "C" fn front_end_drawn(count: CountType) -> u16 {
        reading(AsDrawn::<COUNT_BITS, Drawing>::NEW.voltage(Count(count.into())))
    }

    #[unsafe(no_mangle)]
    pub extern "C" fn front_end_drawn_outcome(count: u32) -> u32 {
        outcome(AsDrawn::<COUNT_BITS, Drawing>::NEW.voltage(Count(count)))
    }
