//! A front end as the fit sees it: a straight line in both topologies.
//!
//! A voltage V has a nominal *position* w among the counts, where the drawing alone would put it:
//!
//! ```text
//! divided input      w = V / K      K = Vref * (Rtop + Rbottom) / Rbottom / F
//! supply reference   w = P / V      P = Vref * F
//! ```
//!
//! A module's counts then lie on `x = offset + slope * w`, with gain = 1 / slope in the first and gain = slope in the
//! second topology: the supply reference is linear in 1/V, and there it is fitted. The converter's noise is the same number
//! of counts everywhere, so it weighs every point alike; what the meter contributes is turned into counts by dw/dV, which
//! grows as 1/V^2 there.

use tallyvolt::Fingerprint;
use tallyvolt_model::acquisition::AcquisitionModel;
use tallyvolt_model::front_end::{FrontEnd, Topology};
use tallyvolt_model::rational::{float, in_millivolts, whole};

use crate::describe::firmware::{DescribeError, Firmware};

/// The nominal transfer of a front end, in count units and millivolts.
#[derive(Debug, Clone)]
pub struct Transfer {
    line: Nominal,
    /// Where count 0 stands.
    centre: f64,
    /// Count units of one single-sample step.
    pub per_sample: f64,
    /// Samples in a count.
    pub samples: f64,
    /// The largest count.
    pub largest: u32,
    /// Output unit in millivolts.
    pub unit_mv: f64,
    /// Emptiest, usual and fullest cell in millivolts.
    pub cell_mv: [f64; 3],
    firmware: Firmware,
}

#[derive(Debug, Clone, Copy)]
enum Nominal {
    Divided { mv_per_count: f64 },
    Supply { mv_counts: f64 },
}

impl Transfer {
    /// The transfer of a front end.
    ///
    /// # Errors
    /// [`DescribeError`] when the firmware crate refuses the front end.
    pub fn new(front_end: &FrontEnd) -> Result<Self, DescribeError> {
        let firmware = Firmware::describe(front_end)?;
        let acquisition = AcquisitionModel::new(&front_end.converter);
        let reference_mv = whole(front_end.reference.microvolts) / whole(1000);
        let full_scale = acquisition.full_scale();
        let line = match &front_end.topology {
            Topology::DividedInput(divider) => Nominal::Divided {
                mv_per_count: float(
                    &(reference_mv * (&divider.top_ohms + &divider.bottom_ohms)
                        / &divider.bottom_ohms
                        / full_scale),
                ),
            },
            Topology::SupplyReference => Nominal::Supply {
                mv_counts: float(&(reference_mv * full_scale)),
            },
        };
        Ok(Self {
            line,
            centre: float(&acquisition.centre()),
            per_sample: float(&acquisition.in_count_units(&whole(1))),
            samples: f64::from(front_end.converter.samples),
            largest: acquisition.largest_count(),
            unit_mv: in_millivolts(front_end.unit_uv),
            cell_mv: front_end.cell.millivolts(),
            firmware,
        })
    }

    /// w: where the drawing puts a voltage.
    pub fn position(&self, mv: f64) -> f64 {
        match self.line {
            Nominal::Divided { mv_per_count } => mv / mv_per_count,
            Nominal::Supply { mv_counts } => mv_counts / mv,
        }
    }

    /// The voltage at a position.
    pub fn voltage_mv(&self, position: f64) -> f64 {
        match self.line {
            Nominal::Divided { mv_per_count } => position * mv_per_count,
            Nominal::Supply { mv_counts } => mv_counts / position,
        }
    }

    /// dw/dV in counts a millivolt; negative with a supply reference.
    pub fn counts_per_mv(&self, mv: f64) -> f64 {
        match self.line {
            Nominal::Divided { mv_per_count } => mv_per_count.recip(),
            Nominal::Supply { mv_counts } => -mv_counts / (mv * mv),
        }
    }

    /// x: where a count stands.
    pub fn place(&self, count: u32) -> f64 {
        f64::from(count) + self.centre
    }

    /// The gain of a slope, and the slope of a gain: the same formula both ways.
    pub fn gain(&self, slope: f64) -> f64 {
        match self.line {
            Nominal::Divided { .. } => slope.recip(),
            Nominal::Supply { .. } => slope,
        }
    }

    /// d(gain)/d(slope).
    pub(crate) fn gain_per_slope(&self, slope: f64) -> f64 {
        match self.line {
            Nominal::Divided { .. } => -slope.powi(-2),
            Nominal::Supply { .. } => 1.0,
        }
    }

    /// Positions of the emptiest and the fullest cell, the smaller first.
    pub fn span(&self) -> (f64, f64) {
        let [min, _, max] = self.cell_mv;
        let (one, other) = (self.position(min), self.position(max));
        (one.min(other), one.max(other))
    }

    /// `points` voltages evenly over the cell's range, both ends among them.
    pub fn grid(&self, points: u32) -> impl Iterator<Item = f64> + use<> {
        let [min, _, max] = self.cell_mv;
        (0..points)
            .map(move |point| min + (max - min) * f64::from(point) / f64::from(points.max(2) - 1))
    }

    /// The front end as the firmware crate takes it.
    pub fn firmware(&self) -> &Firmware {
        &self.firmware
    }

    /// The front end's fingerprint, for records.
    pub fn fingerprint(&self) -> Fingerprint {
        self.firmware.fingerprint()
    }
}

#[cfg(test)]
mod tests {
    use super::super::examples;
    use super::*;

    /// Both ends, and even steps between them; of one voltage the lower end.
    #[test]
    fn a_grid_has_both_ends() {
        let transfer = Transfer::new(&examples::divided()).expect("legal");
        let grid = |points| transfer.grid(points).collect::<Vec<_>>();
        assert_eq!(grid(4), [2000.0, 2550.0, 3100.0, 3650.0]);
        assert_eq!(grid(1), [2000.0]);
    }

    /// Both derivatives are what differences of the functions themselves give.
    #[test]
    fn derivatives_are_the_limits_of_differences() {
        for front_end in [examples::divided(), examples::supply()] {
            let transfer = Transfer::new(&front_end).expect("legal");
            let slope = |of: &dyn Fn(f64) -> f64, at: f64| {
                let step = at * 1e-4;
                (of(at + step) - of(at - step)) / (2.0 * step)
            };
            for mv in [2000.0, 2825.0, 3650.0] {
                let (stated, found) = (
                    transfer.counts_per_mv(mv),
                    slope(&|mv| transfer.position(mv), mv),
                );
                assert!((stated / found - 1.0).abs() < 1e-6, "{stated} {found}");
            }
            for at in [0.8, 1.25] {
                let (stated, found) = (
                    transfer.gain_per_slope(at),
                    slope(&|slope| transfer.gain(slope), at),
                );
                assert!((stated / found - 1.0).abs() < 1e-6, "{stated} {found}");
            }
        }
    }
}
