//! The optional tables that `budget`, `compare` and `divider` read: how modules are calibrated, and what they must hold.

use num_rational::BigRational;
use num_traits::Zero;
use tallyvolt::bounds::CELL_UV;
use tallyvolt_model::front_end::{CalibrationPlan, FrontEnd, Measured, Meter, SelfHeating};
use tallyvolt_model::rational::in_millivolts;

use super::reader::TableReader;

/// Two calibration points closer than this tell nothing about a gain.
const APART_UV: u32 = 100_000;

/// Rules between values that only these tables have.
pub(super) fn rules(root: &TableReader<'_>, front_end: &FrontEnd) {
    let (low, high) = front_end.calibration_points_uv();
    let plan = &front_end.calibration;
    let key = match (plan.low_uv, plan.high_uv, plan.points) {
        (Some(_), ..) => "low_mv",
        (None, Some(_), _) => "high_mv",
        (None, None, 2) => "points",
        // Nobody calibrates at two points.
        _ => return,
    };
    if high < low.saturating_add(APART_UV) {
        let others = [
            ("calibration", "high_mv"),
            ("cell", "min_mv"),
            ("cell", "max_mv"),
        ];
        let others: Vec<_> = others.into_iter().filter(|other| other.1 != key).collect();
        root.report_at(
            ("calibration", key),
            &others,
            format!(
                "the two calibration points are {} and {} mV: the upper one must lie at least 100 mV above the lower",
                in_millivolts(low),
                in_millivolts(high)
            ),
            "calibrate near the cell's minimum and maximum, or at one point where its range is narrower".to_owned(),
        );
    }
}

pub(super) fn meter(mut table: TableReader<'_>) -> Option<Meter> {
    let reading_ppm = table.decimal("reading_ppm", 0..=100_000, " ppm");
    let range_ppm = table.optional_decimal("range_ppm", 0..=100_000, " ppm");
    let range_mv = table.decimal_if(range_ppm.is_some(), "range_mv", 1..=1_000_000, " mV");
    let digits = table.optional_decimal("digits", 0..=1000, " digits");
    let resolution_mv = table.decimal_if(digits.is_some(), "resolution_mv", 0..=1000, " mV");
    table.finish();
    Some(Meter {
        reading_ppm: reading_ppm?.value,
        range_ppm: range_ppm.unwrap_or_else(BigRational::zero),
        range_mv: range_mv?,
        digits: digits.unwrap_or_else(BigRational::zero),
        resolution_mv: resolution_mv?,
    })
}

pub(super) fn calibration(mut table: TableReader<'_>) -> Option<CalibrationPlan> {
    let points = table.whole("points", 0..=2, 1, "");
    let millivolts = CELL_UV.min / 1000..=CELL_UV.max / 1000;
    let mut at = |key| table.optional_whole(key, millivolts.clone(), 1000, " mV");
    let (at_uv, low_uv, high_uv) = (at("at_mv"), at("low_mv"), at("high_mv"));
    let readings = table.optional_whole("readings", 1..=1_000_000, 1, "");
    table.finish();
    Some(CalibrationPlan {
        points: points?.value,
        at_uv,
        low_uv,
        high_uv,
        readings,
    })
}

/// The keys of `[thermistor]` that tell what its measurement heats; all or none of the two without a default.
pub(super) fn self_heating(table: &mut TableReader<'_>) -> Option<Option<SelfHeating>> {
    let any = ["dissipation_uw_per_k", "self_heating_max_mk"]
        .iter()
        .any(|key| table.has(key));
    let on_permille = table.optional_decimal("on_permille", 0..=1000, " parts in a thousand");
    if !any {
        table.expect("dissipation_uw_per_k");
        table.expect("self_heating_max_mk");
        return Some(None);
    }
    let dissipation_uw_per_k = table.decimal("dissipation_uw_per_k", 1..=1_000_000, " uW/K");
    let max_mk = table.decimal("self_heating_max_mk", 1..=100_000, " mK");
    Some(Some(SelfHeating {
        dissipation_uw_per_k: dissipation_uw_per_k?.value,
        on_permille: on_permille.unwrap_or_else(|| BigRational::from_integer(1000.into())),
        max_mk: max_mk?.value,
    }))
}

pub(super) fn measured(mut table: TableReader<'_>) -> Option<Measured> {
    let core = table.text("core");
    let cycles = table.optional_whole("cycles", 1..=100_000_000, 1, " cycles");
    let flash_bytes = table.optional_whole("flash_bytes", 1..=100_000_000, 1, " bytes");
    table.finish();
    Some(Measured {
        core: core?.value,
        cycles,
        flash_bytes,
    })
}
