//! A picture that leaves without a page: with the caution below it.

use super::palette::Ink;
use super::pen::text_needs;
use crate::words::cautions::CAUTION;
use crate::words::wrapping::wrapped;

/// Size of the caution's text, from one of its lines to the next, and its distance from the edges, in pixels.
const TEXT: usize = 13;
const LINE: usize = 18;
const EDGE: usize = 9;

/// The picture on a larger paper, its caution below. The picture itself is as on a page.
pub fn alone(picture: &str) -> String {
    let size = |name: &str| -> usize {
        let text = picture
            .split_once(&format!(" {name}=\""))
            .map_or("", |(_, rest)| rest);
        let digits = text.split('"').next().unwrap_or("");
        digits.parse().unwrap_or(0)
    };
    let (width, height) = (size("width"), size("height"));
    let characters = (width - 2 * EDGE) / text_needs(TEXT);
    let caution = wrapped(&CAUTION.replace('\n', " "), 0, characters);
    let lines = caution.lines().count();
    let all = height + lines * LINE + 2 * EDGE;
    let (paper, ink) = (Ink::Paper.hex(), Ink::Text.hex());
    let mut text = format!(
        "<svg width=\"{width}\" height=\"{all}\" viewBox=\"0 0 {width} {all}\" xmlns=\"http://www.w3.org/2000/svg\">\n\
         <rect x=\"0\" y=\"0\" width=\"{width}\" height=\"{all}\" fill=\"{paper}\"/>\n{picture}"
    );
    for (place, line) in caution.lines().enumerate() {
        let line = line.replace('\'', "&#39;");
        let y = height + EDGE + place * LINE;
        text += &format!(
            "<text x=\"{EDGE}\" y=\"{y}\" dy=\"0.76em\" text-anchor=\"start\" font-family=\"sans-serif\" font-size=\"{TEXT}\" \
             fill=\"{ink}\">\n{line}\n</text>\n"
        );
    }
    text + "</svg>\n"
}
