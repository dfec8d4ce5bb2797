
    /// What the temperature is measured with.
    #[cfg(feature = "arch")]
    pub type FittedSensor = SensorFitted;
    #[cfg(not(feature = "arch"))]
    pub type FittedSensor = Thermistor<'static>;

    pub const fn setup(
        conversion: ConversionType,
        calibrated: bool,
    ) -> Result<ChannelSetup<ConversionType, FittedSensor>, ConfigError> {
        Ok(ChannelSetup {
            limits: ChannelLimits { /* LIMITS */..ChannelLimits::NONE },
            plausibility: Plausibility { supply_minimum: /* MINIMUM */, ..Plausibility::NONE },
            thermistor: /* THERMISTOR */,
            conversion,
            calibrated,
        })
    }
