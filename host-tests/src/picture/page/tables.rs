//! Tables of a page. On a small screen a wide one turns: each row becomes a block, each cell a line under its column's name.

use maud::{Markup, html};

use super::frame::BREAK;
use crate::words::sheet::{Column, columns};

/// Columns that fit a small screen side by side, and columns of text among them; a table of more turns there.
const NARROW: (usize, usize) = (4, 2);

/// A table of [`columns`] with these headings; cells beyond them are left out. The first column names the row.
pub(super) fn table(
    caption: &str,
    headings: &str,
    rows: impl Iterator<Item = Vec<Markup>>,
) -> Markup {
    filled(caption, headings, rows.collect())
}

/// The same of rows as a list, so that it is compiled once and not once for each kind of iterator.
fn filled(caption: &str, headings: &str, rows: Vec<Vec<Markup>>) -> Markup {
    let columns = columns(headings);
    let class = |column: &Column| column.figures.then_some("number");
    let texts = columns.iter().filter(|column| !column.figures).count();
    let turns = columns.len() > NARROW.0 || texts > NARROW.1;
    // Turned, its parts are no longer shown as those of a table, but stay such for those who hear it.
    let role = |role: &'static str| turns.then_some(role);
    html! {
        table class=[turns.then_some("turns")] role=[role("table")] {
            caption { (caption) } (BREAK)
            thead role=[role("rowgroup")] {
                tr role=[role("row")] {
                    @for column in &columns { th scope="col" role=[role("columnheader")] class=[class(column)] { (column.head) } }
                }
            }
            (BREAK)
            tbody role=[role("rowgroup")] {
                @for row in rows {
                    (BREAK)
                    tr role=[role("row")] {
                        @for (place, (column, cell)) in columns.iter().zip(row).enumerate() {
                            @if place == 0 {
                                th scope="row" role=[role("rowheader")] class=[class(column)] { (cell) }
                            } @else {
                                td data-head=[turns.then_some(&column.head)] role=[role("cell")] class=[class(column)] { (cell) }
                            }
                        }
                    }
                }
            }
        }
        (BREAK)
    }
}

/// Labels and texts; a label that is indented belongs to the one above.
pub(super) fn facts<'a>(caption: &str, rows: impl Iterator<Item = (&'a str, String)>) -> Markup {
    html! {
        table.facts {
            caption { (caption) } (BREAK)
            tbody {
                @for (label, text) in rows {
                    (BREAK)
                    tr { th scope="row" class=[label.starts_with(' ').then_some("under")] { (label.trim_start()) } td { (text) } }
                }
            }
        }
        (BREAK)
    }
}

pub(super) fn cell(text: impl Into<String>) -> Markup {
    let text: String = text.into();
    html! { (text) }
}
