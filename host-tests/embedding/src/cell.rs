//! One cell of the hut's lighting bank: drawing, conversion, limits. All of it is computed by the compiler.

use tallyvolt::{
    Acquisition, AlarmRule, CellRange, Channel, ChannelLimits, ChannelSetup, ConfigError,
    DividedConversion, DividedDescription, DividedInput, Limit, LimitSide, Microvolts, OutputUnit,
    Plausibility, proven,
};

/// Samples in a reading.
pub const WINDOW: usize = 16;

/// 24.9 kOhm over 10 kOhm, 1.225 V, 12 bits, sixteen samples summed.
pub const INPUT: DividedInput = proven!(DividedInput::new(DividedDescription {
    acquisition: Acquisition::summed(12, 16),
    reference_uv: 1_225_000,
    top_ohms: 24_900,
    bottom_ohms: 10_000,
    cell: CellRange {
        min_uv: 2_000_000,
        max_uv: 3_650_000,
    },
    unit: OutputUnit::Millivolt,
}));

/// What converts its counts, which have 16 bits.
pub type Cell = DividedConversion<16>;

/// As drawn.
pub const AS_DRAWN: Cell = proven!(INPUT.conversion());

/// What samples go through.
pub type CellChannel = Channel<'static, Cell, WINDOW>;

const RULE: AlarmRule = AlarmRule {
    readings: 2,
    latching: false,
};

/// The limit of 3600 mV, as counts of a conversion.
///
/// # Errors
/// [`ConfigError::LimitNotReadable`] when the conversion cannot read it.
pub const fn over_voltage(conversion: &Cell) -> Result<Limit, ConfigError> {
    let (limit, hysteresis) = (Microvolts::from_mv(3600), Microvolts::from_mv(50));
    conversion.limit(LimitSide::Over, limit, hysteresis, RULE)
}

/// The channel's constants, in flash.
pub static SETUP: ChannelSetup<Cell> = ChannelSetup {
    conversion: AS_DRAWN,
    calibrated: false,
    thermistor: None,
    limits: ChannelLimits {
        over_voltage: Some(proven!(over_voltage(&AS_DRAWN))),
        ..ChannelLimits::NONE
    },
    plausibility: Plausibility::NONE,
};
