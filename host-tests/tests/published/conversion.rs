//! Figures that others printed, each with its source, against the library.
//!
//! Where a source prints a slip the corrected value stands here, and the slip is named.

use tallyvolt::{
    Acquisition, BlockSum, CellRange, CodeCentre, ConfigError, Count, DividedConversion,
    DividedDescription, DividedInput, Fault, FullScale, OutputUnit, Sample, SumAndShift,
    SupplyConversion, SupplyDescription, SupplyReference, Voltage,
};

/// A cell that any of the published references can read.
const CELL: CellRange = CellRange {
    min_uv: 100_000,
    max_uv: 100_001,
};

fn acquisition(bits: u8, full_scale: FullScale, code_centre: CodeCentre) -> Acquisition {
    Acquisition {
        full_scale,
        code_centre,
        ..Acquisition::single(bits)
    }
}

/// A pin read through two equal resistances: twice the pin's voltage.
fn doubled(acquisition: Acquisition, reference_uv: u32, unit: OutputUnit) -> DividedConversion<26> {
    DividedInput::new(DividedDescription {
        acquisition,
        reference_uv,
        top_ohms: 10_000,
        bottom_ohms: 10_000,
        cell: CELL,
        unit,
    })
    .and_then(|input| input.conversion())
    .expect("within bounds")
}

fn supply(acquisition: Acquisition, reference_uv: u32, unit: OutputUnit) -> SupplyConversion {
    let cell = CellRange {
        min_uv: reference_uv + 1,
        max_uv: 6_000_000,
    };
    SupplyReference::new(SupplyDescription {
        acquisition,
        reference_uv,
        cell,
        unit,
    })
    .and_then(|supply| supply.conversion())
    .expect("within bounds")
}

// Transfer formulas -----------------------------------------------------------------------------------------------------

/// Code = 4095 * Vin / Vref, rounded: 1 V of 3.3 V is 0x4D9, of 3.34 V 0x4CA; 2 V of 3.3 V is 0x9B2.
/// Source: ST AN2834 rev 3, sections 2.2.1 and 2.1.5.
#[test]
fn st_an2834_rounded_codes_of_full_scale_4095() {
    let rounded = acquisition(12, FullScale::TopCode, CodeCentre::Edge);
    let at_3v3 = doubled(rounded, 3_300_000, OutputUnit::Millivolt);
    // 1241 / 4095 * 6600 = 2000.15; 2482 / 4095 * 6600 = 4000.29.
    assert_eq!(at_3v3.voltage(Count(0x4D9)), Ok(Voltage(2000)));
    assert_eq!(at_3v3.voltage(Count(0x9B2)), Ok(Voltage(4000)));
    // The reference is really 3.34 V: 15 codes fewer, 15 * 1.6117 mV too little at twice the pin.
    assert_eq!(at_3v3.voltage(Count(0x4CA)), Ok(Voltage(1976)));
    let at_3v34 = doubled(rounded, 3_340_000, OutputUnit::Millivolt);
    assert_eq!(at_3v34.voltage(Count(0x4CA)), Ok(Voltage(2000)));
}

/// Code = round(4095 * Vin / Vref) at Vref 3 V: 0 V, 1.5 V and 3 V.
/// Source: two Microchip SAM data sheets, "Single-ended Mode (12-bit)". They print 2047 for 1.5 V; the exact 2047.5
/// rounds to 2048, or is the boundary of both, so both codes must read 1.5 V to within half a step.
#[test]
fn microchip_sam_single_ended_12_bits() {
    let conversion = doubled(
        acquisition(12, FullScale::TopCode, CodeCentre::Edge),
        3_000_000,
        OutputUnit::Millivolt,
    );
    assert_eq!(conversion.voltage(Count(0)), Err(Fault::ZeroCount));
    // 2047 / 4095 * 6000 = 2999.27, 2048 / 4095 * 6000 = 3000.73; a step is 1.465 mV.
    assert_eq!(conversion.voltage(Count(2047)), Ok(Voltage(2999)));
    assert_eq!(conversion.voltage(Count(2048)), Ok(Voltage(3001)));
    assert_eq!(conversion.voltage(Count(4095)), Err(Fault::Rail));
}

/// Code 1 is centred at 1.0 step and code 0x800 at 2048 / 4096 of the reference, if codes are rounded.
/// Source: Microchip, "Transfer Function" (12 bits; first transition at Vref / 8192).
#[test]
fn microchip_code_centres_of_a_rounding_converter() {
    let rounding = acquisition(12, FullScale::PowerOfTwo, CodeCentre::Edge);
    let conversion = doubled(rounding, 2_048_000, OutputUnit::TenthMillivolt);
    // One step is 0.5 mV at the pin, so 1.0 mV at the cell.
    assert_eq!(conversion.voltage(Count(1)), Ok(Voltage(10)));
    assert_eq!(conversion.voltage(Count(0x800)), Ok(Voltage(20_480)));
}

/// Result = Vin * 1024 / Vref (ATmega data sheets, "ADC Conversion Result"), truncated: a code stands for the middle of
/// its interval. Result = 1023 * Vin / Vref (newer 8-bit AVR and megaAVR 0, the same section).
/// The two full scales differ by one code in 1024; taking the wrong one costs 0.1 % at every reading.
#[test]
fn avr_full_scales_1024_and_1023() {
    let truncated = acquisition(10, FullScale::PowerOfTwo, CodeCentre::Half);
    let conversion = doubled(truncated, 1_024_000, OutputUnit::TenthMillivolt);
    // A step is 1 mV at the pin: code 700 holds 700 to 701 mV, middle 700.5, twice that at the cell.
    assert_eq!(conversion.voltage(Count(700)), Ok(Voltage(14_010)));
    let top_code = acquisition(10, FullScale::TopCode, CodeCentre::Edge);
    let conversion = doubled(top_code, 1_023_000, OutputUnit::TenthMillivolt);
    assert_eq!(conversion.voltage(Count(700)), Ok(Voltage(14_000)));
}

/// Code = INT(Vin / Vref * 1024 + 0.5), valid from (code - 0.5) to below (code + 0.5) steps.
/// Source: NEC U18172EJ2 section 9.4.2 and uPD78078 manual section 15.4.2.
#[test]
fn nec_rounded_codes_stand_for_themselves() {
    let rounded = acquisition(10, FullScale::PowerOfTwo, CodeCentre::Edge);
    let conversion = doubled(rounded, 2_500_000, OutputUnit::Millivolt);
    for pin_mv in (10..2400).step_by(7) {
        let code = (pin_mv * 1024 * 2 + 2500) / (2 * 2500);
        let read = conversion
            .voltage(Count(code))
            .expect("between zero and rail");
        // Half a step of 2.441 mV, doubled, and the rounding of the output.
        let error = (i64::from(read.0) - 2 * i64::from(pin_mv)).abs();
        assert!(error <= 2, "{pin_mv} mV, code {code}: {read:?}");
    }
}

/// 8 bits, 3.2 V: code 163 at a reference of 5.00 V, 162 at 5.05 V (163.84 and 162.22, truncated, full scale 256).
/// Source: Ball, "Analog Interfacing to Embedded Microprocessors".
#[test]
fn ball_one_percent_of_reference_is_one_code_of_8_bits() {
    let truncated = acquisition(8, FullScale::PowerOfTwo, CodeCentre::Half);
    for (reference_uv, code) in [(5_000_000, 163), (5_050_000, 162)] {
        let conversion = doubled(truncated, reference_uv, OutputUnit::Millivolt);
        let read = i64::from(conversion.voltage(Count(code)).expect("a voltage").0);
        // Half a step is 9.8 mV at the pin, 19.6 at the cell, and 0.5 of rounding.
        assert!((read - 6400).abs() <= 20, "{read}");
    }
    // The code of the other reference lies outside its own half step.
    let conversion = doubled(truncated, 5_050_000, OutputUnit::Millivolt);
    let read = i64::from(conversion.voltage(Count(163)).expect("a voltage").0);
    assert!((read - 6400).abs() > 20, "{read}");
}

/// 12 bits of 3.3 V: a step is 805.664 uV, half a step 402.8 uV. Source: ST AN2834, "ADC errors".
/// The note's offset example then prints 141.2 uV (0.17 LSB) where 550 - 402.8 is 147.2 uV (0.18 LSB): a slip.
#[test]
fn st_an2834_step_of_12_bits() {
    let conversion = doubled(
        acquisition(12, FullScale::PowerOfTwo, CodeCentre::Half),
        3_300_000,
        OutputUnit::TenthMillivolt,
    );
    // Code 0 would stand at half a step; code 1 stands at 1.5 * 805.664 = 1208.5 uV, 2417 uV at the cell.
    assert_eq!(conversion.voltage(Count(1)), Ok(Voltage(24)));
    // A thousand steps are 805.664 mV, 1611.328 at the cell: 1613.745 mV for code 1001.
    assert_eq!(conversion.voltage(Count(1001)), Ok(Voltage(16_137)));
    let slip_uv = 550.0 - 3_300_000.0 / 4096.0 / 2.0;
    assert!((slip_uv - 147.2_f64).abs() < 0.05, "{slip_uv}");
}

// Supply as reference ---------------------------------------------------------------------------------------------------

/// VDD in mV = (FVR in mV << N) / measured. Source: Microchip, "Measuring the Supply Voltage with the Fixed Voltage
/// Reference" and "Measure VDD without External Components". The formula is theirs, the numbers are its arithmetic.
#[test]
fn microchip_supply_voltage_by_the_fixed_reference() {
    for (reference_mv, bits, code, vdd_mv) in [
        (1024, 10, 318, 3297),
        (1024, 12, 1271, 3300),
        (2048, 10, 419, 5005),
    ] {
        assert_eq!((reference_mv << bits) / code, vdd_mv);
        let exact = acquisition(bits, FullScale::PowerOfTwo, CodeCentre::Edge);
        let conversion = supply(exact, reference_mv * 1000, OutputUnit::Millivolt);
        // None of the three lies in the upper half of a millivolt, so rounding and truncating agree.
        let vdd_mv = u16::try_from(vdd_mv).expect("below 65 536");
        assert_eq!(conversion.voltage(Count(code)), Ok(Voltage(vdd_mv)));
    }
}

/// A step grows with the square of the voltage, dV = V^2 / (Vref * 2^N): at 1.2 V reference and 2.5, 3.0, 3.6, 4.2 V.
/// Derived from the formula above; no publication is claimed for the figures.
#[test]
fn steps_of_a_supply_reference_grow_with_the_square() {
    let steps_mv = [
        (
            10,
            [(2500, 5.09), (3000, 7.32), (3600, 10.55), (4200, 14.36)],
        ),
        (12, [(2500, 1.27), (3000, 1.83), (3600, 2.64), (4200, 3.59)]),
    ];
    for (bits, steps) in steps_mv {
        let described = acquisition(bits, FullScale::PowerOfTwo, CodeCentre::Edge);
        let conversion = supply(described, 1_200_000, OutputUnit::TenthMillivolt);
        for (mv, step_mv) in steps {
            let count = (1200 << bits) / mv;
            // Half the difference across 2 * 8 counts takes out the curvature and most of the rounding.
            let at =
                |count| f64::from(conversion.voltage(Count(count)).expect("a voltage").0) / 10.0;
            let span = if bits == 10 { 4 } else { 16 };
            let measured = (at(count - span) - at(count + span)) / f64::from(2 * span);
            assert!(
                (measured - step_mv).abs() < 0.02 * step_mv,
                "{bits} bits {mv} mV: {measured}"
            );
        }
    }
}

// Oversampling ----------------------------------------------------------------------------------------------------------

/// n extra bits need 4^n samples, and the sum is shifted by n.
/// Source: Atmel AVR121 (doc 8003) and Microchip AN2572 for 10 to 12 bits; Microchip SAM data sheets, "Oversampling and
/// Decimation", for 12 to 13, 14, 15 and 16; Microchip 8-bit AVR family brief, section 5.2.1, for 12 to 17.
#[test]
fn extra_bits_take_four_to_the_n_samples_and_a_shift_by_n() {
    for (from, to, samples, shift) in [
        (10_u32, 12_u32, 16_u32, 2_u32),
        (12, 13, 4, 1),
        (12, 14, 16, 2),
        (12, 15, 64, 3),
        (12, 16, 256, 4),
        (12, 17, 1024, 5),
    ] {
        let extra_bits = u8::try_from(to - from).expect("at most 5");
        assert_eq!(u32::from(extra_bits), shift);
        let top_code = Sample(u16::try_from((1_u32 << from) - 1).expect("16 bits"));
        let mut decimator = SumAndShift::new(extra_bits).expect("at most 5");
        for _ in 1..samples {
            assert_eq!(decimator.push(top_code), None);
        }
        let count = decimator.push(top_code).expect("the last of the samples");
        // The result needs `to` bits, and exactly those: the sum shifted by n, not by 2n.
        assert_eq!(count.0, (u32::from(top_code.0) * samples) >> shift);
        assert_eq!(count.0.ilog2() + 1, to);
        // Described as an acquisition it has the same largest count.
        let acquisition = Acquisition {
            samples: u16::try_from(samples).expect("at most 1024"),
            right_shift: extra_bits,
            shift_rounding: tallyvolt::ShiftRounding::Nearest,
            ..Acquisition::single(u8::try_from(from).expect("at most 16"))
        };
        assert_eq!(
            doubled(acquisition, 2_048_000, OutputUnit::Millivolt)
                .summing()
                .rail(),
            count
        );
    }
}

/// Widths of sums: 4095 * 1024 = 4 193 280 needs 22 bits, 65 535 * 256 = 16 776 960 needs 24. Arithmetic.
#[test]
fn widths_of_sums() {
    for (code, samples, sum, bits) in [
        (4095_u16, 1024_u16, 4_193_280_u32, 22),
        (65_535, 256, 16_776_960, 24),
        (65_535, 1024, 67_107_840, 26),
    ] {
        let mut block = BlockSum::new(samples).expect("a power of two");
        let counts: Vec<Count> = (0..samples)
            .filter_map(|_| block.push(Sample(code)))
            .collect();
        assert_eq!(counts, [Count(sum)]);
        assert_eq!(sum.ilog2() + 1, bits);
    }
    // 4095 * 4096 = 16 773 120 (24 bits) would need more samples than a sum may have, and is refused.
    assert!(matches!(
        BlockSum::new(4096),
        Err(ConfigError::OutOfBounds { .. })
    ));
}

/// A noiseless input gains nothing: every sample is the same, so there are no more different counts than codes.
/// Source: Atmel AVR121 and Microchip AN2777; ST AN2834 section 3.2.4 (noise above half a step is needed).
#[test]
fn a_noiseless_input_gains_nothing() {
    fn decimate(mut samples: impl Iterator<Item = u16>) -> Option<Count> {
        let mut decimator = SumAndShift::new(2).expect("two extra bits");
        samples.find_map(|sample| decimator.push(Sample(sample)))
    }
    // An ideal truncating converter looks at 1600 quarter steps, 400 codes.
    let quarters = 400..2000_u32;
    let code = |quarters: u32| u16::try_from(quarters / 4).expect("below 2^16");
    let still: std::collections::BTreeSet<_> = quarters
        .clone()
        .map(|input| decimate(std::iter::repeat(code(input))))
        .collect();
    assert_eq!(still.len(), 400);
    // The same input with a ramp over one step added, 16 samples a ramp: each quarter step has a count of its own.
    let ramped: std::collections::BTreeSet<_> = quarters
        .map(|input| decimate((0..16).map(|step| code(input + step / 4))))
        .collect();
    assert_eq!(ramped.len(), 1600);
}
