//! Text broken into lines.

use std::fmt::Write as _;

/// Breaks at spaces so that no line passes `width`; lines after the first are indented.
pub(crate) fn wrapped(text: &str, indent: usize, width: usize) -> String {
    let mut out = String::new();
    let mut column = indent;
    for word in text.split(' ') {
        if column > indent && column + 1 + word.len() > width {
            let _ = write!(out, "\n{:indent$}", "");
            column = indent;
        } else if column > indent {
            out.push(' ');
            column += 1;
        }
        out.push_str(word);
        column += word.len();
    }
    out
}
