//! Settings of the simulation: a front end, a bench, and modules with known truths.
//!
//! Everything here is written out from the meaning of the quantities; nothing is taken from the fit.

use rand_chacha::ChaCha8Rng;
use tallyvolt_analysis::calibrate::fit::Settings;
use tallyvolt_analysis::calibrate::fit::meter::Meter;
use tallyvolt_analysis::calibrate::fit::readings::{ModuleReadings, Reading, Readings};
use tallyvolt_analysis::describe::front_end_file;
use tallyvolt_harness::simulated::{self, Truth, count, even};
use tallyvolt_model::front_end::FrontEnd;

/// What the meter may be off in every reading alike: 50 ppm.
const METER_PPM: f64 = 50.0;
/// A bench supply is set by hand, within so many millivolts.
const SET_WITHIN_MV: f64 = 25.0;
/// A supply that dithers moves so many millivolts to either side from row to row.
const DITHER_MV: f64 = 2.0;
/// Around each of these voltages, set or looked at, a board's nonlinearity is one: neighbouring codes share it, and codes a
/// tenth of a volt apart share none.
const PLACES_MV: [f64; 8] = [
    2000.0, 2100.0, 2600.0, 3100.0, 3200.0, 3300.0, 3550.0, 3650.0,
];

/// What one board really is.
#[derive(Debug, Clone, Copy)]
pub struct Board {
    pub truth: Truth,
    /// Nonlinearity around each of [`PLACES_MV`], in steps of one sample.
    bend: [f64; PLACES_MV.len()],
}

impl Board {
    /// The count that it gives.
    pub fn count(&self, front_end: &FrontEnd, mv: f64, random: &mut ChaCha8Rng) -> u32 {
        let distance = |place: &(&f64, &f64)| (place.0 - mv).abs();
        let nearest = PLACES_MV
            .iter()
            .zip(&self.bend)
            .min_by(|one, other| distance(one).total_cmp(&distance(other)));
        let bent = Truth {
            offset: self.truth.offset + nearest.map_or(0.0, |(_, bend)| *bend),
            ..self.truth
        };
        count(front_end, &bent, mv, random)
    }
}

/// One setting.
#[derive(Debug, Clone, Copy)]
pub struct Setting {
    pub bits: u32,
    /// Topology A, else B.
    pub divided: bool,
    pub voltages: usize,
    pub repeats: usize,
    pub display_mv: f64,
    pub dithers: bool,
    /// Noise of one sample in steps, rms.
    pub noise: f64,
    /// Whether the front-end file states it.
    pub noise_stated: bool,
    /// Limit of the converter's nonlinearity in steps, as the file states it; 0 states none.
    pub inl: f64,
    /// Output step in microvolts.
    pub unit_uv: u32,
    /// Modules that are fitted together.
    pub batch: usize,
}

impl Setting {
    /// The converter's offset limit in steps: the same few millivolts at every resolution, as far as steps are fine enough.
    pub fn offset_limit(&self) -> f64 {
        match self.bits {
            8 => 0.5,
            10 => 1.0,
            12 => 2.0,
            _ => 8.0,
        }
    }

    fn gain_limit(&self) -> f64 {
        if self.divided { 0.005 } else { 0.008 }
    }

    /// The file a maker would write, with the noise where it is stated.
    pub fn text(&self) -> String {
        let (topology, microvolts, ppm, divider) = if self.divided {
            (
                "divided-input",
                1_225_000,
                5000,
                "[divider]\ntop_ohms = 24900\nbottom_ohms = 10000\ntolerance_ppm = 1000\n",
            )
        } else {
            ("supply-reference", 1_200_000, 10_000, "")
        };
        let mut noise = String::new();
        if self.noise_stated {
            noise += &format!("noise_rms_lsb = {}\n", self.noise);
        }
        if self.inl > 0.0 {
            noise += &format!("inl_lsb = {}\n", self.inl);
        }
        format!(
            "name = \"simulated\"\ntopology = \"{topology}\"\n\
             [cell]\nchemistry = \"LFP\"\nmin_mv = 2000\nnominal_mv = 3200\nmax_mv = 3650\n\
             [converter]\nbits = {bits}\nfull_scale = \"2^n\"\ncode_centre = \"half\"\nsupply_min_mv = 1800\n\
             offset_lsb = {offset}\n{noise}\
             [reference]\nmicrovolts = {microvolts}\ntolerance_ppm = {ppm}\n{divider}[output]\nunit_uv = {unit_uv}\n",
            bits = self.bits,
            offset = self.offset_limit(),
            unit_uv = self.unit_uv,
        )
    }

    pub fn front_end(&self) -> FrontEnd {
        parsed(&self.text())
    }

    pub fn settings(&self) -> Settings {
        Settings {
            meter: Meter {
                ppm_reading: METER_PPM,
                resolution_mv: self.display_mv,
                ..Meter::default()
            },
            ..Settings::default()
        }
    }

    fn set_mv(&self) -> &'static [f64] {
        match self.voltages {
            1 => &[3300.0],
            2 => &[2100.0, 3550.0],
            _ => &[2100.0, 2600.0, 3100.0, 3550.0],
        }
    }

    /// A board within the limits of the file.
    pub fn board(&self, random: &mut ChaCha8Rng) -> Board {
        let truth = Truth {
            gain: 1.0 + self.gain_limit() * even(random),
            offset: self.offset_limit() * even(random),
            noise: self.noise,
        };
        let mut bend = [0.0; PLACES_MV.len()];
        if self.inl > 0.0 {
            bend = bend.map(|_| self.inl * even(random));
        }
        Board { truth, bend }
    }

    /// Its rows: every module meets a meter of its own, so that intervals are independent.
    pub fn rows(
        &self,
        front_end: &FrontEnd,
        board: &Board,
        name: String,
        random: &mut ChaCha8Rng,
    ) -> ModuleReadings {
        let meter_error = 1.0 + METER_PPM * 1e-6 * even(random);
        let mut readings = Vec::with_capacity(self.voltages * self.repeats);
        for set in self.set_mv() {
            let steady = set + SET_WITHIN_MV * even(random);
            for _ in 0..self.repeats {
                let mv = steady
                    + if self.dithers {
                        DITHER_MV * even(random)
                    } else {
                        0.0
                    };
                readings.push(Reading {
                    line: readings.len() as u64 + 2,
                    meter_mv: self.shown(mv * meter_error),
                    count: board.count(front_end, mv, random),
                    temp_c: None,
                });
            }
        }
        ModuleReadings {
            name,
            readings,
            bad_lines: Vec::new(),
        }
    }

    /// What the display shows.
    pub fn shown(&self, mv: f64) -> f64 {
        (mv / self.display_mv).round() * self.display_mv
    }

    /// `modules` modules: the boards as they are, and their rows.
    pub fn modules(&self, modules: usize, random: &mut ChaCha8Rng) -> (Vec<Board>, Readings) {
        let front_end = self.front_end();
        let mut readings = Readings::default();
        let boards = (0..modules)
            .map(|module| {
                let board = self.board(random);
                let rows = self.rows(&front_end, &board, format!("m{module:05}"), random);
                readings.rows += rows.readings.len() as u64;
                readings.modules.push(rows);
                board
            })
            .collect();
        (boards, readings)
    }

    /// One line of a table.
    pub fn words(&self) -> String {
        format!(
            "{:>2} bits {} {} voltages x {:>2} rows, display {:<4} mV {}, noise {:<4} {}, INL {}, {} uV, batch of {}",
            self.bits,
            if self.divided { "divided" } else { "supply " },
            self.voltages,
            self.repeats,
            self.display_mv,
            if self.dithers {
                "dithering"
            } else {
                "steady   "
            },
            self.noise,
            if self.noise_stated {
                "stated  "
            } else {
                "unstated"
            },
            self.inl,
            self.unit_uv,
            self.batch,
        )
    }
}

/// A front-end file's text.
pub fn parsed(text: &str) -> FrontEnd {
    front_end_file::parse(&simulated::front_end_path("simulated"), text).expect("legal")
}
