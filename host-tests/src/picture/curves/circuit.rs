//! A front end as a circuit: which parts there are and what is written at them, and the same in sentences.

use tallyvolt_model::front_end::{
    Converter, FrontEnd, FullScale, SensorLaw, SensorSide, Thermistor, Topology,
};
use tallyvolt_model::rational::in_millivolts;

use super::values::{millivolts, ohms, ohms_drawn, volts};
use crate::words::drawing::{counts, plain};
use crate::words::numbers::{grouped, told};

/// What is drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct Circuit {
    /// The cell's minimum, nominal and maximum in millivolts.
    pub cell_mv: [f64; 3],
    /// Supplies that the converter is specified for, in millivolts, where the cell is its supply and they are stated.
    pub supply_mv: [Option<f64>; 2],
    /// A label of the cell.
    pub chemistry: String,
    /// Emptiest and fullest cell.
    pub cell: [String; 2],
    pub reference: String,
    /// Resistors of a divided input, top and bottom; none where the cell is supply and reference.
    pub divider: Option<[String; 2]>,
    /// Capacitor from the divided input to ground.
    pub filter: Option<String>,
    pub bits: String,
    /// Samples summed in a count, where it is more than one.
    pub sum: Option<String>,
    pub sensor: Option<SensorInput>,
    /// All of it in words: label and text.
    pub parts: Vec<(&'static str, String)>,
}

/// A sensor against a fixed resistor.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SensorInput {
    /// Where the sensor sits.
    pub side: SensorSide,
    pub fixed: String,
    /// The sensor: its resistance where one figure says it, else its kind.
    pub sensor: String,
    /// Sign of its temperature coefficient.
    pub rises: bool,
    /// A feed of its own; none where it is the converter's reference.
    pub feed: Option<String>,
}

impl Circuit {
    pub fn of(front_end: &FrontEnd) -> Self {
        let (cell, converter) = (&front_end.cell, &front_end.converter);
        let divider = front_end.topology.divider();
        Self {
            cell_mv: cell.millivolts(),
            supply_mv: match divider {
                Some(_) => [None; 2],
                None => [converter.supply_min_uv, converter.supply_max_uv]
                    .map(|uv| uv.map(in_millivolts)),
            },
            chemistry: cell.chemistry.clone(),
            cell: [cell.min_uv, cell.max_uv].map(volts),
            reference: volts(front_end.reference.microvolts),
            divider: divider
                .map(|divider| [&divider.top_ohms, &divider.bottom_ohms].map(ohms_drawn)),
            filter: divider
                .and_then(|divider| divider.filter_nf.as_ref())
                .map(|nanofarads| format!("{} nF", plain(nanofarads))),
            bits: format!("{} bit", converter.bits),
            sum: (converter.samples > 1).then(|| format!("sum of {}", converter.samples)),
            sensor: front_end.thermistor.as_ref().map(SensorInput::of),
            parts: parts(front_end),
        }
    }

    /// The drawing in a sentence or two, for those who do not see it.
    pub fn described(&self) -> String {
        let [low, high] = &self.cell;
        let way = match &self.divider {
            Some([top, bottom]) => format!(
                "feeds the converter's input through a divider of {top} above {bottom}; the converter's reference is {}.",
                self.reference
            ),
            None => format!(
                "is the converter's supply and reference; the converter samples a fixed reference of {}.",
                self.reference
            ),
        };
        let sensor = told(self.sensor.as_ref(), "", |sensor| {
            let (kind, side) = (&sensor.sensor, side(sensor.side));
            let fixed = &sensor.fixed;
            format!(" A second input measures a temperature sensor, {kind}, {side}, with {fixed}.")
        });
        format!("A cell of {low} to {high} {way}{sensor}")
    }
}

impl SensorInput {
    fn of(drawn: &Thermistor) -> Self {
        let (sensor, rises) = match &drawn.law {
            SensorLaw::BEquation { r25_ohms, .. } => (ohms_drawn(r25_ohms), false),
            SensorLaw::SteinhartHart { .. } => ("NTC".to_owned(), false),
            SensorLaw::Platinum { r0_ohms } => (ohms_drawn(r0_ohms), true),
            SensorLaw::Table { points, .. } => {
                let ends = points.first().zip(points.last());
                let rises = ends.is_some_and(|((_, cold), (_, hot))| cold < hot);
                (if rises { "PTC" } else { "NTC" }.to_owned(), rises)
            }
        };
        Self {
            side: drawn.side,
            fixed: ohms_drawn(&drawn.fixed_ohms),
            sensor,
            rises,
            feed: drawn.excitation_uv.map(volts),
        }
    }
}

fn parts(front_end: &FrontEnd) -> Vec<(&'static str, String)> {
    let (cell, reference) = (&front_end.cell, &front_end.reference);
    let mut rows = vec![
        (
            "cell",
            format!(
                "{}, {} to {}, nominal {}",
                cell.chemistry,
                volts(cell.min_uv),
                volts(cell.max_uv),
                volts(cell.nominal_uv)
            ),
        ),
        ("converter", converter(&front_end.converter)),
    ];
    match &front_end.topology {
        Topology::DividedInput(divider) => rows.extend([
            ("reference", volts(reference.microvolts)),
            (
                "divider",
                format!(
                    "{} from the cell to the input, {} from the input to ground",
                    ohms(&divider.top_ohms),
                    ohms(&divider.bottom_ohms)
                ),
            ),
        ]),
        Topology::SupplyReference => rows.push((
            "sampled reference",
            format!(
                "{}; the cell is the converter's own supply and reference",
                volts(reference.microvolts)
            ),
        )),
    }
    rows.push((
        "answers",
        format!("in steps of {}", millivolts(front_end.unit_uv)),
    ));
    rows.extend(
        front_end
            .thermistor
            .as_ref()
            .map(|drawn| ("sensor", sensor(drawn))),
    );
    rows
}

fn converter(converter: &Converter) -> String {
    let full_scale = match converter.full_scale {
        FullScale::PowerOfTwo => 1_u64 << converter.bits,
        FullScale::TopCode => (1_u64 << converter.bits) - 1,
    };
    format!(
        "{} bit, full scale {}, {}",
        converter.bits,
        grouped(full_scale),
        counts(converter)
    )
}

fn side(side: SensorSide) -> &'static str {
    match side {
        SensorSide::Low => "to ground",
        SensorSide::High => "to its feed",
    }
}

fn sensor(drawn: &Thermistor) -> String {
    let law = match &drawn.law {
        SensorLaw::BEquation { r25_ohms, b25_85_k } => {
            format!("{} at 25 °C, B25/85 {} K", ohms(r25_ohms), plain(b25_85_k))
        }
        SensorLaw::SteinhartHart { .. } => "NTC by Steinhart and Hart's equation".to_owned(),
        SensorLaw::Table { file, points } => {
            format!("by the maker's table {file} of {} points", points.len())
        }
        SensorLaw::Platinum { r0_ohms } => {
            format!("platinum by IEC 60751, {} at 0 °C", ohms(r0_ohms))
        }
    };
    let side = side(drawn.side);
    let feed = told(drawn.excitation_uv, "the converter's reference", volts);
    format!(
        "{law}; {side}, with {}, fed by {feed}; sum of {} samples",
        ohms(&drawn.fixed_ohms),
        drawn.samples
    )
}
