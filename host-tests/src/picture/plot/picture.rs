//! A picture: axes and what is between them, as plain data, and how it is laid out and drawn as SVG under its legend.

use plotters::coord::cartesian::Cartesian2d;
use plotters::coord::types::RangedCoordf64;
use plotters::drawing::{DrawingArea, IntoDrawingArea};
use plotters::element::{Circle, Cross, DashedPathElement, PathElement, Polygon, Text};
use plotters::prelude::SVGBackend;
use plotters::style::text_anchor::{HPos, VPos};
use plotters::style::{Color, FontTransform};

use super::axis::{Axis, Marks};
use super::legend::{Key, legend};
use super::palette::Ink;
use super::pen::{
    AXIS, BOLD, CROSS, Canvas, DASH, DOT, Drawn, FINE, GAP, LINE, MARKS_MAX, ROW, UNITS, WIDTH,
    named, stroke, text_style, text_width,
};
use super::series::{Series, Shape};

/// What a picture is made of.
pub(super) struct Picture {
    pub(super) x: Axis,
    pub(super) y: Axis,
    /// Later ones cover earlier ones.
    pub(super) series: Vec<Series>,
    /// Between the axes, in pixels.
    pub(super) height: i32,
    /// In a sentence or two, for those who do not see it.
    pub(super) described: String,
}

impl Picture {
    /// Under its legend; `title` is for those who do not see it.
    pub(super) fn svg(&self, title: &str) -> String {
        let (width, height) = (WIDTH * UNITS, self.height * UNITS);
        let legend = legend(&self.series, width);
        let top = legend.last().map_or(0, Key::bottom) + GAP;
        let place = Place {
            left: left_of(self, height),
            top,
            right: width - RIGHT,
            bottom: top + height,
        };
        let size = [width, place.bottom + 2 * LINE + 2 * GAP].map(i32::unsigned_abs);
        let mut text = String::new();
        {
            let backend = SVGBackend::with_string(&mut text, size.into());
            // Writing to a String cannot fail.
            let _ = place.draw(&backend.into_drawing_area(), self, &legend);
        }
        // Shown at its own size, a unit is not a pixel.
        let [width, height] = size;
        let pixels = [width, height].map(|units| units / UNITS.unsigned_abs());
        let units = format!(r#"width="{width}" height="{height}""#);
        let pixels = format!(r#"role="img" width="{}" height="{}""#, pixels[0], pixels[1]);
        named(&text.replacen(&units, &pixels, 1), title, &self.described)
    }
}

/// Right of a plot, for half of the last number.
const RIGHT: i32 = 3 * LINE / 2;

/// Width of the texts and the label left of a plot, and at least of the half number below its left end.
fn left_of(picture: &Picture, height: i32) -> i32 {
    let label = if picture.y.label.is_empty() { 0 } else { LINE };
    let marks = match widest(&picture.y.texts(height / ROW)) {
        0 => 0,
        width => width + GAP,
    };
    (label + marks + GAP).max((widest(&picture.x.texts(MARKS_MAX)) + GAP) / 2)
}

fn widest(texts: &[(f64, String)]) -> i32 {
    let widths = texts.iter().map(|(_, text)| text_width(text));
    widths.max().unwrap_or(0)
}

/// Where a plot lies on the canvas.
struct Place {
    left: i32,
    top: i32,
    right: i32,
    bottom: i32,
}

impl Place {
    fn draw(&self, canvas: &Canvas<'_>, picture: &Picture, legend: &[Key<'_>]) -> Drawn {
        canvas.fill(&Ink::Paper.light())?;
        for key in legend {
            key.draw(canvas)?;
        }
        let (left, right) = (self.left, self.right);
        let (top, bottom) = (self.top, self.bottom);
        let plot = canvas.clone().apply_coord_spec(Cartesian2d::new(
            picture.x.range.clone(),
            picture.y.range.clone(),
            (left..right, bottom..top),
        ));
        self.grid(canvas, &plot, picture)?;
        for series in &picture.series {
            series.draw(&plot)?;
        }
        let frame = vec![(left, top), (left, bottom), (right, bottom)];
        canvas.draw(&PathElement::new(frame, stroke(Ink::Text, AXIS)))?;
        let style = text_style(Ink::Text, HPos::Center, VPos::Top);
        let below = (left + (right - left) / 2, bottom + LINE + GAP);
        canvas.draw_text(&picture.x.label, &style, below)?;
        if !picture.y.label.is_empty() {
            let style = style.transform(FontTransform::Rotate270);
            let beside = (GAP / 2, top + (bottom - top) / 2);
            canvas.draw_text(&picture.y.label, &style, beside)?;
        }
        canvas.present()
    }

    /// Lines and texts of both axes.
    fn grid(&self, canvas: &Canvas<'_>, plot: &Plot<'_>, picture: &Picture) -> Drawn {
        let (right, bottom) = (self.right, self.bottom);
        let most = (right - self.left) / (widest(&picture.x.texts(MARKS_MAX)) + LINE);
        for (value, text) in picture.x.texts(most.clamp(2, MARKS_MAX)) {
            let (x, _) = plot.map_coordinate(&(value, picture.y.range.start));
            let line = vec![(x, self.top), (x, bottom)];
            canvas.draw(&PathElement::new(line, stroke(Ink::Grid, FINE)))?;
            let style = text_style(Ink::Text, HPos::Center, VPos::Top);
            canvas.draw_text(&text, &style, (x, bottom + GAP))?;
        }
        for (value, text) in picture.y.texts((bottom - self.top) / ROW) {
            let (_, y) = plot.map_coordinate(&(picture.x.range.start, value));
            if !matches!(picture.y.marks, Marks::Names(_)) {
                let line = vec![(self.left, y), (right, y)];
                canvas.draw(&PathElement::new(line, stroke(Ink::Grid, FINE)))?;
            }
            let style = text_style(Ink::Text, HPos::Right, VPos::Center);
            canvas.draw_text(&text, &style, (self.left - GAP, y))?;
        }
        Ok(())
    }
}

type Plot<'a> = DrawingArea<SVGBackend<'a>, Cartesian2d<RangedCoordf64, RangedCoordf64>>;

impl Series {
    fn draw(&self, plot: &Plot<'_>) -> Drawn {
        let line = |points, width| plot.draw(&PathElement::new(points, stroke(self.ink, width)));
        match &self.shape {
            Shape::Line(points) => line(points.clone(), BOLD),
            Shape::Dashed(from, to) => plot.draw(&DashedPathElement::new(
                [*from, *to],
                DASH.0,
                DASH.1,
                stroke(self.ink, BOLD),
            )),
            Shape::Area(outline, opacity) => plot.draw(&Polygon::new(
                outline.clone(),
                self.ink.light().mix(*opacity).filled(),
            )),
            Shape::Dots(points) => points.iter().try_for_each(|point| {
                plot.draw(&Circle::new(*point, DOT, self.ink.light().filled()))
            }),
            Shape::Crosses(points) => points.iter().try_for_each(|point| {
                plot.draw(&Cross::new(*point, CROSS, stroke(self.ink, BOLD)))
            }),
            Shape::Upright(intervals) => intervals
                .iter()
                .try_for_each(|&(x, from, to)| line(vec![(x, from), (x, to)], AXIS)),
            Shape::Level(intervals) => intervals
                .iter()
                .try_for_each(|&(from, to, y)| line(vec![(from, y), (to, y)], BOLD)),
            Shape::Label(text, at) => {
                let style = text_style(Ink::Text, HPos::Left, VPos::Center);
                plot.draw(&Text::new(text.clone(), *at, style))
            }
        }
    }
}
