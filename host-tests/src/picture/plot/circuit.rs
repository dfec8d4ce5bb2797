//! The front end as a circuit: an own drawing with the plain symbols of IEC 60617 (from memory): resistor, cell, earth, voltage
//! source, capacitor, resistor that depends on temperature, converter.
//!
//! ```text
//!   y = 60   the cell's rail          x = 40    cell
//!   y = 170  the converter's inputs   x = 185   divider, or the sampled reference
//!   y = 300  ground                   x = 315 to 445   converter      x = 505   sensor
//! ```

use tallyvolt_model::front_end::SensorSide;

use super::palette::Ink;
use super::pen::named;
use crate::picture::curves::circuit::{Circuit, SensorInput};

const WIDTH: i32 = 640;
const HEIGHT: i32 = 340;
const TEXT: i32 = 18;
const RAIL: i32 = 60;
const INPUT: i32 = 170;
const GROUND: i32 = 300;
const CELL: i32 = 40;
const MEASURED: i32 = 185;
const CONVERTER: (i32, i32) = (315, 445);
const SENSOR: i32 = 505;
/// Half of a resistor's rectangle.
const RESISTOR: (i32, i32) = (11, 30);

/// The drawing.
pub(super) fn svg(circuit: &Circuit, title: &str) -> String {
    let mut drawing = Drawing(format!(
        "<svg role=\"img\" width=\"{WIDTH}\" height=\"{HEIGHT}\" viewBox=\"0 0 {WIDTH} {HEIGHT}\" \
         xmlns=\"http://www.w3.org/2000/svg\">\n\
         <rect x=\"0\" y=\"0\" width=\"{WIDTH}\" height=\"{HEIGHT}\" fill=\"{}\"/>\n",
        Ink::Paper.hex()
    ));
    // Where the converter, or its reference, stands on ground.
    let pin = if circuit.divider.is_some() { 350 } else { 380 };
    drawing.cell(circuit);
    drawing.converter(circuit);
    match &circuit.divider {
        Some(resistors) => drawing.divided_input(resistors, circuit),
        None => drawing.supply_reference(circuit),
    }
    if let Some(sensor) = &circuit.sensor {
        drawing.sensor(sensor, circuit.divider.is_some());
    }
    match &circuit.sensor {
        Some(_) => {
            drawing.wire(&[(CELL, GROUND), (SENSOR, GROUND)]);
            drawing.dot(pin, GROUND);
        }
        None => drawing.wire(&[(CELL, GROUND), (pin, GROUND)]),
    }
    drawing.earth(110);
    drawing.0 += "</svg>\n";
    named(&drawing.0, title, &circuit.described())
}

/// The SVG so far.
struct Drawing(String);

impl Drawing {
    fn cell(&mut self, circuit: &Circuit) {
        self.wire(&[(CELL, RAIL), (CELL, 166)]);
        self.line(&[(CELL - 20, 166), (CELL + 20, 166)], 2);
        self.line(&[(CELL - 10, 176), (CELL + 10, 176)], 5);
        self.wire(&[(CELL, 176), (CELL, GROUND)]);
        let [low, high] = &circuit.cell;
        self.text("cell", (CELL + 24, 140), "start");
        self.text(low, (CELL + 24, 200), "start");
        self.text(&format!("to {high}"), (CELL + 24, 222), "start");
    }

    fn converter(&mut self, circuit: &Circuit) {
        let (left, right) = CONVERTER;
        let middle = (left + right) / 2;
        self.block((left, 115), (right, 225));
        let lines = [
            Some("\u{2229} / #"),
            Some(circuit.bits.as_str()),
            circuit.sum.as_deref(),
        ];
        let lines: Vec<&str> = lines.into_iter().flatten().collect();
        let first = INPUT - 13 * (i32::try_from(lines.len()).unwrap_or(1) - 1);
        for (line, y) in lines.iter().zip((first..).step_by(26)) {
            self.text(line, (middle, y), "middle");
        }
        // Counts leave at the top.
        self.wire(&[(415, 115), (415, 84)]);
        self.line(&[(410, 94), (415, 82), (420, 94)], 2);
        self.text("count", (427, 96), "start");
    }

    fn divided_input(&mut self, [top, bottom]: &[String; 2], circuit: &Circuit) {
        self.wire(&[(CELL, RAIL), (MEASURED, RAIL), (MEASURED, GROUND)]);
        self.resistor(MEASURED, 115, top);
        self.resistor(MEASURED, 230, bottom);
        self.wire(&[(MEASURED, INPUT), (CONVERTER.0, INPUT)]);
        self.dot(MEASURED, INPUT);
        if let Some(filter) = &circuit.filter {
            self.capacitor(298, filter);
        }
        self.source(350, 262);
        self.wire(&[(350, 225), (350, 244)]);
        self.wire(&[(350, 280), (350, GROUND)]);
        self.text("reference", (375, 252), "start");
        self.text(&circuit.reference, (375, 274), "start");
        self.dot(MEASURED, GROUND);
    }

    fn supply_reference(&mut self, circuit: &Circuit) {
        self.wire(&[(CELL, RAIL), (345, RAIL), (345, 115)]);
        self.text("supply and reference", (205, RAIL - 20), "middle");
        self.wire(&[(CONVERTER.0, INPUT), (MEASURED, INPUT), (MEASURED, 217)]);
        self.source(MEASURED, 235);
        self.wire(&[(MEASURED, 253), (MEASURED, GROUND)]);
        self.text("reference", (MEASURED + 26, 225), "start");
        self.text(&circuit.reference, (MEASURED + 26, 247), "start");
        self.wire(&[(380, 225), (380, GROUND)]);
        self.dot(MEASURED, GROUND);
    }

    fn sensor(&mut self, sensor: &SensorInput, divided: bool) {
        let fed = match (&sensor.feed, divided) {
            (Some(feed), _) => Some(feed.as_str()),
            (None, true) => Some("reference"),
            (None, false) => None,
        };
        match fed {
            Some(fed) => {
                self.circle(SENSOR, RAIL, 5, Ink::Paper);
                self.text(fed, (SENSOR - 14, RAIL), "end");
            }
            None => {
                self.dot(345, RAIL);
                self.wire(&[(345, RAIL), (SENSOR, RAIL)]);
            }
        }
        self.wire(&[(SENSOR, RAIL), (SENSOR, GROUND)]);
        let (fixed, depends) = match sensor.side {
            SensorSide::Low => (115, 230),
            SensorSide::High => (230, 115),
        };
        self.resistor(SENSOR, fixed, &sensor.fixed);
        self.resistor(SENSOR, depends, &sensor.sensor);
        self.wire(&[
            (SENSOR - 28, depends + 34),
            (SENSOR - 18, depends + 34),
            (SENSOR + 18, depends - 34),
        ]);
        let sign = if sensor.rises {
            "+\u{3d1}"
        } else {
            "\u{2212}\u{3d1}"
        };
        self.text(sign, (SENSOR + 16, depends + 26), "start");
        self.wire(&[(CONVERTER.1, INPUT), (SENSOR, INPUT)]);
        self.dot(SENSOR, INPUT);
    }

    fn resistor(&mut self, x: i32, y: i32, label: &str) {
        let (half_width, half_height) = RESISTOR;
        self.block(
            (x - half_width, y - half_height),
            (x + half_width, y + half_height),
        );
        self.text(label, (x + half_width + 5, y), "start");
    }

    fn capacitor(&mut self, x: i32, label: &str) {
        self.wire(&[(x, INPUT), (x, 264)]);
        self.line(&[(x - 13, 264), (x + 13, 264)], 3);
        self.line(&[(x - 13, 272), (x + 13, 272)], 3);
        self.wire(&[(x, 272), (x, GROUND)]);
        self.text(label, (x - 18, 282), "end");
        self.dot(x, INPUT);
        self.dot(x, GROUND);
    }

    /// An ideal voltage source: the connection passes through its circle.
    fn source(&mut self, x: i32, y: i32) {
        self.circle(x, y, 18, Ink::Paper);
        self.wire(&[(x, y - 18), (x, y + 18)]);
    }

    fn earth(&mut self, x: i32) {
        self.wire(&[(x, GROUND), (x, GROUND + 14)]);
        for (half, y) in [(15, 14), (9, 20), (3, 26)] {
            self.line(&[(x - half, GROUND + y), (x + half, GROUND + y)], 2);
        }
        self.dot(x, GROUND);
    }

    fn block(&mut self, (left, top): (i32, i32), (right, bottom): (i32, i32)) {
        let (width, height) = (right - left, bottom - top);
        self.0 += &format!(
            "<rect x=\"{left}\" y=\"{top}\" width=\"{width}\" height=\"{height}\" fill=\"{}\" stroke=\"{}\" stroke-width=\"2\"/>\n",
            Ink::Paper.hex(),
            Ink::Text.hex()
        );
    }

    fn dot(&mut self, x: i32, y: i32) {
        self.circle(x, y, 4, Ink::Text);
    }

    fn circle(&mut self, x: i32, y: i32, radius: i32, fill: Ink) {
        self.0 += &format!(
            "<circle cx=\"{x}\" cy=\"{y}\" r=\"{radius}\" fill=\"{}\" stroke=\"{}\" stroke-width=\"2\"/>\n",
            fill.hex(),
            Ink::Text.hex()
        );
    }

    fn wire(&mut self, points: &[(i32, i32)]) {
        self.line(points, 2);
    }

    fn line(&mut self, points: &[(i32, i32)], width: i32) {
        let points: Vec<String> = points.iter().map(|(x, y)| format!("{x},{y}")).collect();
        self.0 += &format!(
            "<polyline fill=\"none\" stroke=\"{}\" stroke-width=\"{width}\" points=\"{}\"/>\n",
            Ink::Text.hex(),
            points.join(" ")
        );
    }

    /// A text that starts or ends at a point, or has its middle there: `start`, `end` or `middle`.
    fn text(&mut self, text: &str, (x, y): (i32, i32), anchor: &str) {
        let shown = maud::html! { (text) }.into_string();
        self.0 += &format!(
            "<text x=\"{x}\" y=\"{y}\" dy=\"0.5ex\" text-anchor=\"{anchor}\" font-family=\"sans-serif\" font-size=\"{TEXT}\" \
             fill=\"{}\">\n{shown}\n</text>\n",
            Ink::Text.hex()
        );
    }
}
