//! One function for modules of either topology, loaded from a record or as drawn: limits, a channel's set-up, a load.

use tallyvolt::{
    AlarmRule, ChannelLimits, ChannelSetup, ConfigError, LimitSide, Microvolts, Plausibility,
    RecordError, Recorded, VoltageLimits,
};

const RULE: AlarmRule = AlarmRule {
    readings: 2,
    latching: true,
};

/// A set-up whose limit is worked out on the chip, for the conversion that this module has.
///
/// # Errors
/// [`ConfigError::LimitNotReadable`] when the conversion cannot read 3600 mV.
pub fn set_up<C: VoltageLimits>(
    conversion: C,
    calibrated: bool,
) -> Result<ChannelSetup<C>, ConfigError> {
    let (limit, hysteresis) = (Microvolts::from_mv(3600), Microvolts::from_mv(50));
    let over_voltage = conversion.limit(LimitSide::Over, limit, hysteresis, RULE)?;
    Ok(ChannelSetup {
        conversion,
        calibrated,
        thermistor: None,
        limits: ChannelLimits {
            over_voltage: Some(over_voltage),
            ..ChannelLimits::NONE
        },
        plausibility: Plausibility::NONE,
    })
}

/// The module's own conversion, or the one as drawn with the reason; `bool` tells which.
pub fn load<Input, C: Recorded<Input>>(
    input: &Input,
    record: &[u8],
    as_drawn: C,
) -> (C, Result<(), RecordError>) {
    match C::load(input, record) {
        Ok(own) => (own, Ok(())),
        Err(reason) => (as_drawn, Err(reason)),
    }
}

#[cfg(test)]
mod tests {
    use tallyvolt::{
        Acquisition, BlockChannel, CellRange, OutputUnit, Sensing, SupplyConversion,
        SupplyDescription, SupplyReference, Voltage, proven,
    };

    use super::*;
    use crate::cell::{AS_DRAWN, Cell, INPUT};

    /// The cell is the supply, and a reference of 1.2 V is sampled.
    const REFERENCE: SupplyReference = proven!(SupplyReference::new(SupplyDescription {
        acquisition: Acquisition::summed(12, 16),
        reference_uv: 1_200_000,
        cell: CellRange {
            min_uv: 2_000_000,
            max_uv: 3_650_000,
        },
        unit: OutputUnit::Millivolt,
    }));
    const SUPPLY_AS_DRAWN: SupplyConversion = proven!(REFERENCE.conversion());

    /// Loads, and reads one sample all over the window, twice for the alarm.
    fn voltage_and_alarm<Input, C: Recorded<Input> + VoltageLimits>(
        input: &Input,
        record: &[u8],
        as_drawn: C,
        sample: u16,
    ) -> (Result<(), RecordError>, Voltage, bool) {
        let (conversion, loaded) = load(input, record, as_drawn);
        let setup = set_up(conversion, loaded.is_ok()).expect("3600 mV can be read");
        let mut channel = BlockChannel::<_, 16>::new(&setup).expect("sixteen samples are summed");
        channel.reading(&[sample; 16], Sensing::default());
        let reading = channel.reading(&[sample; 16], Sensing::default());
        assert_eq!(reading.calibrated, loaded.is_ok());
        let voltage = reading.voltage.expect("a cell's voltage");
        (loaded, voltage, reading.alarms.over_voltage)
    }

    #[test]
    fn one_function_reads_modules_of_either_topology() {
        let divided = INPUT.record::<Cell>(&AS_DRAWN, 1).encode();
        let supply = REFERENCE.record(&SUPPLY_AS_DRAWN, 1).encode();
        // 3500.5 / 4096 of 4275.25 mV, and 1200 mV * 4096 / 1350.5, are 3653.697 and 3639.541 mV.
        assert_eq!(
            voltage_and_alarm(&INPUT, &divided, AS_DRAWN, 3500),
            (Ok(()), Voltage(3654), true)
        );
        assert_eq!(
            voltage_and_alarm(&REFERENCE, &supply, SUPPLY_AS_DRAWN, 1350),
            (Ok(()), Voltage(3640), true)
        );
        // 1200 mV * 4096 / 1400.5 = 3509.604 mV: no alarm, and nothing is stored.
        assert_eq!(
            voltage_and_alarm(&REFERENCE, &[0xFF; 32], SUPPLY_AS_DRAWN, 1400),
            (Err(RecordError::Blank), Voltage(3510), false)
        );
        // The control: the other topology's record is refused.
        let (_, loaded) = load(&INPUT, &supply, AS_DRAWN);
        assert!(matches!(loaded, Err(RecordError::OtherFrontEnd { .. })));
    }
}
