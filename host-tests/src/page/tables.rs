//! Tables of a page.

use maud::{Markup, html};

use super::BREAK;

/// A column's head, and whether it holds numbers.
#[derive(Debug, Clone)]
pub(super) struct Column {
    head: String,
    number: bool,
    /// What it has in common with its neighbours; empty for nothing.
    group: &'static str,
}

impl Column {
    pub(super) fn text(head: impl Into<String>) -> Self {
        Self {
            head: head.into(),
            number: false,
            group: "",
        }
    }

    pub(super) fn number(head: impl Into<String>) -> Self {
        Self {
            head: head.into(),
            number: true,
            group: "",
        }
    }
}

impl Column {
    /// The same under a head that it shares with the columns beside it.
    pub(super) fn of(self, group: &'static str) -> Self {
        Self { group, ..self }
    }
}

/// A table; cells beyond the columns are left out.
pub(super) fn table(
    caption: &str,
    columns: &[Column],
    rows: impl Iterator<Item = Vec<Markup>>,
) -> Markup {
    let class = |column: &Column| column.number.then_some("number");
    html! {
        div.scrolls {
            table {
                caption { (caption) } (BREAK)
                thead {
                    @if columns.iter().any(|column| !column.group.is_empty()) {
                        tr {
                            @for shared in columns.chunk_by(|one, other| one.group == other.group) {
                                th scope="colgroup" colspan=(shared.len()) { (shared.first().map_or("", |column| column.group)) }
                            }
                        }
                        (BREAK)
                    }
                    tr { @for column in columns { th scope="col" class=[class(column)] { (column.head) } } }
                }
                (BREAK)
                tbody {
                    @for row in rows {
                        (BREAK)
                        tr { @for (column, cell) in columns.iter().zip(row) { td class=[class(column)] { (cell) } } }
                    }
                }
            }
        }
        (BREAK)
    }
}

/// Labels and texts.
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

/// A cell of text.
pub(super) fn cell(text: impl Into<String>) -> Markup {
    let text: String = text.into();
    html! { (text) }
}
