//! Findings that no static budget shows: settling, drain, supply, self-heating. Each with its rule and the rule's source.

use std::f64::consts::LN_2;

use tallyvolt_model::front_end::{Divider, FrontEnd, Topology};
use tallyvolt_model::rational::{float, float_or_zero, in_millivolts};

use super::terms::climates;
use crate::choose::findings::finding::Finding;

const SETTLING: &str = "ST AN2834 rev 3, 3.2.6; Microchip, Minimum Sampling Time";
const COMMON: &str = "common practice, no source";
const SHEET: &str = "the part's data sheet";

/// Time constants until an input has settled to `2^-part` of a step: (bits + part) ln 2.
pub fn time_constants(bits: u32, part: u32) -> f64 {
    f64::from(bits + part) * LN_2
}

/// Highest source resistance in ohms that settles to `2^-part` of a step in `nanoseconds`.
pub fn source_max_ohms(
    nanoseconds: f64,
    picofarads: f64,
    switch_ohms: f64,
    (bits, part): (u32, u32),
) -> f64 {
    // ns / pF = kOhm.
    1000.0 * nanoseconds / (picofarads * time_constants(bits, part)) - switch_ohms
}

/// Resistance that a converter sees: both resistors of the divider in parallel.
pub fn source_ohms(top_ohms: f64, bottom_ohms: f64) -> f64 {
    top_ohms * bottom_ohms / (top_ohms + bottom_ohms)
}

/// Current through a divider in microamperes.
pub fn drain_ua(divider: &Divider, voltage_uv: u32) -> f64 {
    f64::from(voltage_uv) / (float(&divider.top_ohms) + float(&divider.bottom_ohms))
}

/// Microseconds until a reading is settled to half a step: of the sampling capacitor through the source, of the filter
/// behind the divider, or of the sampled reference.
pub fn settling_us(front_end: &FrontEnd) -> Option<f64> {
    let constants = time_constants(front_end.converter.bits, 1);
    let sampling = &front_end.converter.sampling;
    let Topology::DividedInput(divider) = &front_end.topology else {
        return front_end.reference.settling_us.as_ref().map(float);
    };
    let source = source_ohms(float(&divider.top_ohms), float(&divider.bottom_ohms));
    // ohm * nF = 1e-3 us, ohm * pF = 1e-6 us.
    if let Some(nanofarads) = &divider.filter_nf {
        return Some(1e-3 * constants * source * float(nanofarads));
    }
    let ohms = source + float_or_zero(&sampling.switch_ohms);
    Some(1e-6 * constants * ohms * float(sampling.picofarads.as_ref()?))
}

/// Heating of a thermistor in millikelvins at its worst, where it equals the fixed resistor and takes most power.
///
/// The converter's own reference feeds it where no rail is stated: the fixed one, or the fullest cell.
pub fn self_heating_mk(front_end: &FrontEnd) -> Option<f64> {
    let thermistor = front_end.thermistor.as_ref()?;
    let heating = thermistor.self_heating.as_ref()?;
    let own_uv = match &front_end.topology {
        Topology::DividedInput(_) => front_end.reference.microvolts,
        Topology::SupplyReference => front_end.cell.max_uv,
    };
    let volts = 1e-6 * f64::from(thermistor.excitation_uv.unwrap_or(own_uv));
    let microwatts = 1e6 * volts * volts / (4.0 * float(&thermistor.fixed_ohms));
    let on = float(&heating.on_permille) / 1000.0;
    Some(1000.0 * on * microwatts / float(&heating.dissipation_uw_per_k))
}

/// Every check that the file says enough about, and what it would take to make the others.
pub fn checks(front_end: &FrontEnd) -> Vec<Finding> {
    let mut checks = Vec::new();
    input(front_end, &mut checks);
    reference(front_end, &mut checks);
    supply(front_end, &mut checks);
    let thermistor = front_end.thermistor.as_ref();
    let heating = thermistor.and_then(|thermistor| thermistor.self_heating.as_ref());
    if let (Some(heating), Some(found)) = (heating, self_heating_mk(front_end)) {
        let most = float(&heating.max_mk);
        checks.push(Finding {
            what: "thermistor self-heating",
            found: format!("{found:.1} mK"),
            rule: format!(
                "at most {most} mK; power is largest where the thermistor equals the fixed resistor, V^2 / 4R"
            ),
            source: "power matching; dissipation constant from the data sheet",
            holds: Some(found <= most),
        });
    }
    checks
}

fn input(front_end: &FrontEnd, checks: &mut Vec<Finding>) {
    let Topology::DividedInput(divider) = &front_end.topology else {
        return;
    };
    let converter = &front_end.converter;
    let sampling = &converter.sampling;
    let source = source_ohms(float(&divider.top_ohms), float(&divider.bottom_ohms));
    let to_half_step = (converter.bits, 1);
    match (
        &divider.filter_nf,
        &sampling.picofarads,
        &sampling.nanoseconds,
    ) {
        (Some(filter), Some(sampled), _) => {
            let need = float(sampled) * f64::from(1_u32 << (converter.bits + 1)) / 1000.0;
            checks.push(Finding {
                what: "filter capacitor",
                found: format!("{} nF", float(filter)),
                rule: format!(
                    "at least {need:.1} nF, 2^(bits + 1) sampling capacitances, so that sharing charge moves it by less than \
                     half a step"
                ),
                source: "charge sharing, worked out here",
                holds: Some(float(filter) >= need),
            });
        }
        (None, Some(sampled), Some(time)) => {
            let switch = float_or_zero(&sampling.switch_ohms);
            let most = source_max_ohms(float(time), float(sampled), switch, to_half_step);
            checks.push(Finding {
                what: "source resistance",
                found: format!("{source:.0} ohm"),
                rule: format!(
                    "at most {most:.0} ohm to settle to half a step in {} ns: ts / (C ln 2^(bits + 1)) - Rswitch",
                    float(time)
                ),
                source: SETTLING,
                holds: Some(source <= most),
            });
        }
        _ => checks.push(Finding {
            what: "input settling",
            found: format!("source of {source:.0} ohm"),
            rule: format!(
                "{:.3} time constants to half a step; give converter.sampling_pf and sampling_ns",
                time_constants(converter.bits, 1)
            ),
            source: SETTLING,
            holds: None,
        }),
    }
    if let Some(most) = &sampling.source_max_ohms {
        let most = float(most);
        checks.push(Finding {
            what: "source resistance, stated",
            found: format!("{source:.0} ohm"),
            rule: format!("at most {most:.0} ohm, or a filter capacitor"),
            source: SHEET,
            holds: Some(source <= most || divider.filter_nf.is_some()),
        });
    }
    let cell = &front_end.cell;
    let [nominal, full] = [cell.nominal_uv, cell.max_uv].map(|uv| drain_ua(divider, uv));
    let most = divider.drain_max_ua.as_ref().map(float);
    checks.push(Finding {
        what: "divider drain",
        found: format!("{full:.1} uA full, {nominal:.1} uA nominal"),
        rule: match most {
            Some(most) => format!("at most {most} uA from the fullest cell"),
            None => "no limit in the file (divider.drain_max_ua)".to_owned(),
        },
        source: "Ohm's law",
        holds: most.map(|most| full <= most),
    });
}

fn reference(front_end: &FrontEnd, checks: &mut Vec<Finding>) {
    let reference = &front_end.reference;
    if let Some(settling) = reference.settling_us.as_ref().map(float) {
        let wait = reference.wait_us.as_ref().map(float);
        checks.push(Finding {
            what: "reference settling",
            found: match wait {
                Some(wait) => format!("firmware waits {wait} us"),
                None => "firmware's wait is not in the file (reference.wait_us)".to_owned(),
            },
            rule: format!("at least {settling} us"),
            source: SHEET,
            holds: wait.map(|wait| wait >= settling),
        });
    }
    if let Some(least) = reference.sampling_min_ns.as_ref().map(float) {
        let time = front_end.converter.sampling.nanoseconds.as_ref().map(float);
        checks.push(Finding {
            what: "sampling the reference",
            found: match time {
                Some(time) => format!("{time} ns"),
                None => "sampling time is not in the file (converter.sampling_ns)".to_owned(),
            },
            rule: format!("at least {least} ns"),
            source: SHEET,
            holds: time.map(|time| time >= least),
        });
    }
}

fn supply(front_end: &FrontEnd, checks: &mut Vec<Finding>) {
    let cell = &front_end.cell;
    let (converter, reference) = (&front_end.converter, &front_end.reference);
    for (what, found_uv, word, bound_uv) in [
        (
            "converter's supply, emptiest cell",
            cell.min_uv,
            "at least",
            converter.supply_min_uv,
        ),
        (
            "converter's supply, fullest cell",
            cell.max_uv,
            "at most",
            converter.supply_max_uv,
        ),
        (
            "reference's supply, emptiest cell",
            cell.min_uv,
            "at least",
            reference.supply_min_uv,
        ),
    ] {
        let Some(bound_uv) = bound_uv else { continue };
        let least = word == "at least";
        checks.push(Finding {
            what,
            found: format!("{} mV", in_millivolts(found_uv)),
            rule: format!("{word} {} mV", in_millivolts(bound_uv)),
            source: SHEET,
            holds: Some(if least {
                found_uv >= bound_uv
            } else {
                found_uv <= bound_uv
            }),
        });
    }
    // A reference regulates down from what feeds it; in a supply reference the same rule says that it can be read.
    let needs_mv = reference_needs_mv(front_end);
    let emptiest_mv = in_millivolts(cell.min_uv);
    checks.push(Finding {
        what: "reference below the emptiest cell",
        found: format!(
            "{} mV nominal, {needs_mv:.1} mV with tolerance, drift, ageing and dropout",
            in_millivolts(front_end.reference.microvolts)
        ),
        rule: format!("below {emptiest_mv} mV: it needs a supply above itself"),
        source: COMMON,
        holds: Some(needs_mv < emptiest_mv),
    });
}

/// Supply that the reference needs by its own voltage, in millivolts: at its highest, and its dropout above that.
pub(crate) fn reference_needs_mv(front_end: &FrontEnd) -> f64 {
    let reference = &front_end.reference;
    let kelvins = climates(front_end).uncalibrated_range.reference_k.abs();
    let ppm = float_or_zero(&reference.tolerance.ppm)
        + float_or_zero(&reference.tolerance.ppm_per_k) * kelvins
        + float_or_zero(&reference.ageing_ppm);
    let highest_uv = f64::from(reference.microvolts) * (1.0 + 1e-6 * ppm);
    (highest_uv + f64::from(reference.dropout_uv.unwrap_or(0))) / 1000.0
}

/// Lowest supply that converter and reference work from, in millivolts, as far as the file states it.
pub(crate) fn minimum_supply_mv(front_end: &FrontEnd) -> f64 {
    let (converter, reference) = (&front_end.converter, &front_end.reference);
    let stated = [converter.supply_min_uv, reference.supply_min_uv];
    let stated = stated.into_iter().flatten().map(in_millivolts);
    stated.fold(reference_needs_mv(front_end), f64::max)
}
