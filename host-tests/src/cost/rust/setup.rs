
    pub const fn setup(
        conversion: ConversionType,
        calibrated: bool,
    ) -> Result<ChannelSetup<'static, ConversionType>, ConfigError> {
        Ok(ChannelSetup {
            limits: ChannelLimits { /* LIMITS */..ChannelLimits::NONE },
            plausibility: Plausibility { supply_minimum: /* MINIMUM */, ..Plausibility::NONE },
            thermistor: /* THERMISTOR */,
            conversion,
            calibrated,
        })
    }
