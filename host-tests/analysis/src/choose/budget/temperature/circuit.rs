//! The measurement model of a temperature: from everything that may be off to the error of a reading.
//!
//! ```text
//! R = R25 (1 + r) * (R(t) / R25)^(1 + b)          the sensor as it is; r and b are the parts that R25 and B are off by
//! x = R / (R + Rfixed) * excitation / reference   (sensor low; Rfixed / (R + Rfixed) high)   + leakage
//! p = (F + gain error) * x + offset + ..          steps of one sample
//! error = law(p / F) - t + tolerance in kelvin + self-heating + table + interpolation + rounding
//! one point: the same, less the law's error at the calibration temperature, plus the thermometer's
//! ```
//!
//! The offset of one point is worked out from the law and a count, not from an answer of firmware: table and output rounding have
//! no part in it.

use num_rational::BigRational;
use tallyvolt_model::acquisition::AcquisitionModel;
use tallyvolt_model::front_end::{Converter, FrontEnd, SensorSide, Thermistor, Topology};
use tallyvolt_model::rational::{float, float_or_zero, in_millivolts};
use tallyvolt_model::thermistor::Law;

use super::super::dynamic::self_heating_mk;
use super::super::reading::{Climate, Climates};
use super::super::terms::climates;

/// Data sheets state resistances at this temperature.
const T25_C: f64 = 25.0;

/// Absolute zero, and hotter than the sensor of any cell: a board that cannot tell its temperature counts as so far off.
const COLDEST_C: f64 = -273.15;
const HOTTEST_C: f64 = 1000.0;

/// What may be off on the board; its place among the inputs.
#[derive(Debug, Clone, Copy)]
pub(super) enum Part {
    R25,
    B,
    Tolerance,
    Fixed,
    FixedDrift,
    Excitation,
    Reference,
    ReferenceDrift,
    ReferenceAgeing,
    Offset,
    Gain,
    Leakage,
    Heating,
    Thermometer,
}

impl Part {
    /// In words, and the unit of its value.
    pub(super) const fn words(self) -> (&'static str, &'static str) {
        match self {
            Self::R25 => ("sensor's R25", "ppm"),
            Self::B => ("sensor's B", "ppm"),
            Self::Tolerance => ("sensor's tolerance", "of limit"),
            Self::Fixed => ("fixed resistor", "ppm"),
            Self::FixedDrift => ("fixed resistor's drift", "ppm/K"),
            Self::Excitation => ("excitation", "ppm"),
            Self::Reference => ("reference tolerance", "ppm"),
            Self::ReferenceDrift => ("reference drift", "ppm/K"),
            Self::ReferenceAgeing => ("reference ageing", "ppm"),
            Self::Offset => ("converter offset", "steps"),
            Self::Gain => ("converter gain error", "steps"),
            Self::Leakage => ("input leakage", "nA"),
            Self::Heating => ("self-heating", "of all"),
            Self::Thermometer => ("calibration thermometer", "K"),
        }
    }
}

/// How many parts there are.
pub(super) const PARTS: usize = 14;

/// What differs from reading to reading; its place after those of the parts.
#[derive(Debug, Clone, Copy)]
pub(super) enum Own {
    Nonlinearity,
    Noise,
    Quantisation,
    Dither,
    Shift,
    Table,
    Interpolation,
    Rounding,
}

impl Own {
    /// In words, and the unit of its value.
    pub(super) const fn words(self) -> (&'static str, &'static str) {
        match self {
            Self::Nonlinearity => ("nonlinearity", "steps"),
            Self::Noise => ("noise", "steps"),
            Self::Quantisation => ("quantisation", "steps"),
            Self::Dither => ("stairs left by dither", "steps"),
            Self::Shift => ("right shift", "steps"),
            Self::Table => ("firmware's table", "K"),
            Self::Interpolation => ("between the maker's points", "K"),
            Self::Rounding => ("output rounding", "K"),
        }
    }
}

/// How many there are in a reading.
pub(super) const OWNS: usize = 8;
/// All inputs: of the board, of the reading, and of the calibration's reading.
pub(super) const SLOTS: usize = PARTS + 2 * OWNS;

/// The sensor's circuit, ready to be evaluated.
pub(super) struct Sensor {
    law: Law,
    side: SensorSide,
    fixed_ohms: f64,
    r25_ohms: f64,
    full_scale: f64,
    /// Excitation over reference, nominal; none where the two are one.
    pub(super) over_reference: Option<f64>,
    excitation_mv: f64,
    tolerance_k: (f64, f64),
    /// Milliwatts over the dissipation in milliwatts a kelvin, at equal resistances.
    pub(super) heating_k: f64,
    climates: Climates,
    pub(super) calibration: Option<Site>,
    sites: Vec<Site>,
}

/// A temperature and the sensor's nominal resistance there.
#[derive(Clone, Copy)]
pub(super) struct Site {
    celsius: f64,
    ohms: f64,
}

impl Sensor {
    pub(super) fn new(
        front_end: &FrontEnd,
        thermistor: &Thermistor,
        sites_c: &[f64],
    ) -> Option<Self> {
        let law = Law::new(&thermistor.law);
        let acquisition = AcquisitionModel::new(&Converter {
            samples: 1,
            right_shift: 0,
            ..front_end.converter.clone()
        });
        let own_mv = match &front_end.topology {
            Topology::DividedInput(_) => in_millivolts(front_end.reference.microvolts),
            // The emptiest cell: leakage weighs most against the lowest voltage.
            Topology::SupplyReference => in_millivolts(front_end.cell.min_uv),
        };
        let excitation_mv = thermistor.excitation_uv.map(in_millivolts);
        let site = |celsius: f64| {
            Some(Site {
                celsius,
                ohms: law.ohms(celsius)?,
            })
        };
        let accuracy = &thermistor.accuracy;
        let milli = |value: &Option<BigRational>| float_or_zero(value) / 1000.0;
        Some(Self {
            side: thermistor.side,
            fixed_ohms: float(&thermistor.fixed_ohms),
            r25_ohms: law.ohms(T25_C)?,
            full_scale: float(&acquisition.full_scale()),
            over_reference: excitation_mv.map(|mv| mv / own_mv),
            excitation_mv: excitation_mv.unwrap_or(own_mv),
            tolerance_k: (
                milli(&accuracy.tolerance_mk),
                milli(&accuracy.tolerance_mk_per_k),
            ),
            heating_k: self_heating_mk(front_end).unwrap_or(0.0) / 1000.0,
            climates: climates(front_end),
            calibration: match &accuracy.calibrated_at_c {
                Some(celsius) => Some(site(float(celsius))?),
                None => None,
            },
            sites: sites_c
                .iter()
                .map(|celsius| site(*celsius))
                .collect::<Option<_>>()?,
            law,
        })
    }

    /// Errors in kelvin: of every site without a calibration, then of every site with one point.
    pub(super) fn errors_k(&self, values: &[f64], errors: &mut [f64]) {
        let range = self.climates.uncalibrated_range;
        let offset = self.offset_k(values);
        let (plain, calibrated) = errors.split_at_mut(self.sites.len());
        for ((site, plain), calibrated) in self.sites.iter().zip(plain).zip(calibrated) {
            *plain = self.error_k(values, *site, range, PARTS);
            let later = self.error_k(values, *site, self.climates.calibrated_range, PARTS);
            *calibrated = later - offset;
        }
    }

    /// The offset that one point finds, in kelvin; 0 without one.
    pub(super) fn offset_k(&self, values: &[f64]) -> f64 {
        self.calibration.map_or(0.0, |bench| {
            self.error_k(values, bench, self.climates.bench, PARTS + OWNS)
                - of(values, Part::Thermometer as usize)
        })
    }

    fn error_k(&self, values: &[f64], site: Site, climate: Climate, first: usize) -> f64 {
        let part = |part: Part| of(values, part as usize);
        let ppm = |which: Part| 1e-6 * part(which);
        let own = |own: Own| of(values, first + own as usize);
        let relative = site.ohms / self.r25_ohms;
        let ohms = self.r25_ohms * (1.0 + ppm(Part::R25)) * relative.powf(1.0 + ppm(Part::B));
        let drift = ppm(Part::FixedDrift) * climate.resistor_k;
        let fixed = self.fixed_ohms * (1.0 + ppm(Part::Fixed) + drift);
        let ratio = match self.side {
            SensorSide::Low => ohms / (ohms + fixed),
            SensorSide::High => fixed / (ohms + fixed),
        };
        // nA * ohm = 1e-6 mV.
        let source = ohms * fixed / (ohms + fixed);
        let leaked = 1e-6 * part(Part::Leakage) * source / self.excitation_mv;
        let reference = ppm(Part::Reference)
            + ppm(Part::ReferenceDrift) * climate.reference_k
            + ppm(Part::ReferenceAgeing);
        let multiple = self.over_reference.unwrap_or(1.0);
        let off = (1.0 + ppm(Part::Excitation)) / (1.0 + reference);
        let steps = (self.full_scale + part(Part::Gain)) * (ratio + leaked) * multiple * off
            + part(Part::Offset)
            + own(Own::Nonlinearity)
            + own(Own::Noise)
            + own(Own::Quantisation)
            + own(Own::Dither)
            + own(Own::Shift);
        let read = (steps / self.full_scale / multiple).clamp(1e-9, 1.0 - 1e-9);
        let read_ohms = match self.side {
            SensorSide::Low => self.fixed_ohms * read / (1.0 - read),
            SensorSide::High => self.fixed_ohms * (1.0 - read) / read,
        };
        let celsius = (self.law.celsius_beyond(read_ohms)).unwrap_or_else(|| self.end_c(read_ohms));
        let (constant, slope) = self.tolerance_k;
        let tolerance = part(Part::Tolerance) * (constant + slope * site.celsius.abs());
        // Power is largest where both resistances are equal; elsewhere it is this part of that.
        let power = 4.0 * ohms * self.fixed_ohms / (ohms + fixed).powi(2);
        celsius - site.celsius
            + tolerance
            + part(Part::Heating) * self.heating_k * power
            + own(Own::Table)
            + own(Own::Interpolation)
            + own(Own::Rounding)
    }

    /// What a resistance counts as that the law has no temperature for, because the converter is at a rail: an end of all temperatures.
    fn end_c(&self, ohms: f64) -> f64 {
        let rises = matches!(self.law, Law::Platinum(_));
        if (ohms > self.r25_ohms) == rises {
            HOTTEST_C
        } else {
            COLDEST_C
        }
    }
}

fn of(values: &[f64], slot: usize) -> f64 {
    values.get(slot).copied().unwrap_or(0.0)
}

#[cfg(test)]
mod tests;
