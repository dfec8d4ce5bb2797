//! Tables that fit the page: as they are where they can, else with broken headings and text, else turned or parted.

use std::io::stdout;
use std::ops::Range;
use std::sync::OnceLock;

use comfy_table::{CellAlignment, Table, TableStyle, presets};

use super::wrapping::wrapped;

/// Columns of the page where standard output is no terminal, and of running text everywhere.
pub(crate) const PAGE: usize = 100;
/// A terminal narrower than this is written to as if it had so many.
const NARROWEST: usize = 60;

/// Columns of the terminal.
static TERMINAL: OnceLock<usize> = OnceLock::new();

/// Columns of running text: those of the page, or of a narrower terminal.
pub(crate) fn text_width() -> usize {
    table_width().min(PAGE)
}

/// Columns of a table: those of the page, or of the terminal where the program looked.
fn table_width() -> usize {
    TERMINAL.get().copied().unwrap_or(PAGE)
}

/// Looks how wide the terminal is, if standard output is one; the library by itself writes for the page.
pub(crate) fn look_at_terminal() {
    if let Some((width, _)) = terminal_size::terminal_size_of(stdout()) {
        // Looked at before: it is the same terminal.
        let _ = TERMINAL.set(usize::from(width.0).max(NARROWEST));
    }
}

/// A column's heading, and whether it holds figures: those are aligned to the right and never broken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Column {
    pub(crate) head: String,
    pub(crate) figures: bool,
}

/// Columns from their headings, parted by ` | `; `>` before one marks figures.
pub(crate) fn columns(headings: &str) -> Vec<Column> {
    let column = |heading: &str| Column {
        head: heading.trim_start_matches('>').to_owned(),
        figures: heading.starts_with('>'),
    };
    headings.split(" | ").map(column).collect()
}

/// A table before it is laid out.
#[derive(Debug, Clone, Default)]
pub(crate) struct Sheet {
    columns: Vec<Column>,
    rows: Vec<Vec<String>>,
    /// Leading columns that say what a row is about; each part of a parted table has them.
    keys: usize,
}

impl Sheet {
    /// A table with [`columns`] of these headings, of which the first `keys` say what a row is about.
    pub(crate) fn new(headings: &str, keys: usize) -> Self {
        Self::of(columns(headings), keys)
    }

    fn of(columns: Vec<Column>, keys: usize) -> Self {
        Self {
            columns,
            rows: Vec::new(),
            keys,
        }
    }

    /// Adds a row.
    pub(crate) fn row(&mut self, row: impl IntoIterator<Item = String>) {
        let row: Vec<String> = row.into_iter().collect();
        debug_assert_eq!(row.len(), self.columns.len(), "a cell for each heading");
        self.rows.push(row);
    }

    /// The table, ending in a line break, no wider than the page unless a single word is.
    pub(crate) fn fitted(&self) -> String {
        self.fitted_to(table_width())
    }

    /// The table as Markdown, as wide as it is and without a line break at its end.
    pub(crate) fn markdown(&self) -> String {
        self.table(presets::ASCII_MARKDOWN, &self.natural())
            .to_string()
    }

    /// The same with rows as columns, whatever its width.
    pub(crate) fn turned(&self) -> String {
        self.turned_in_parts(table_width()).concat()
    }

    fn fitted_to(&self, limit: usize) -> String {
        if let Some(table) = self.broken(limit, true) {
            return table;
        }
        let turned = self.turned_in_parts(limit);
        if let [whole] = &turned[..] {
            return whole.clone();
        }
        // Text stays whole where that costs no further part.
        let parted = [false, true].map(|text| self.parted(limit, text));
        let fewest = parted.into_iter().min_by_key(Vec::len).unwrap_or_default();
        let texts = [fewest.concat(), turned.concat()].into_iter();
        let shortest = texts.min_by_key(|text| text.lines().count());
        shortest.unwrap_or_default()
    }

    /// The table with headings and, where it must be and may be, text broken at spaces; none where that is not enough.
    fn broken(&self, limit: usize, text: bool) -> Option<String> {
        let mut widths = self.natural();
        if total(&widths) > limit {
            widths = self.widths(longest_line, longest_word);
        }
        let least = self.widths(longest_word, longest_word);
        while total(&widths) > limit {
            let breakable = (self.columns.iter().zip(&widths).zip(&least))
                .enumerate()
                .filter(|(_, ((column, width), least))| text && !column.figures && width > least)
                .map(|(at, ((_, width), _))| (*width, at))
                .max()?;
            *widths.get_mut(breakable.1)? -= 1;
        }
        Some(self.rendered(&widths))
    }

    fn rendered(&self, widths: &[usize]) -> String {
        let table = self.table(presets::ASCII_BORDERS_ONLY_CONDENSED, widths);
        format!("{table}\n")
    }

    fn table(&self, style: TableStyle, widths: &[usize]) -> Table {
        let mut table = Table::new();
        table.load_style(style);
        let broken = |row: &[String]| -> Vec<String> {
            let cells = row.iter().zip(widths);
            cells.map(|(cell, width)| within(cell, *width)).collect()
        };
        table.set_header(broken(&self.heads()));
        for row in &self.rows {
            table.add_row(broken(row));
        }
        for (column, laid_out) in self.columns.iter().zip(table.column_iter_mut()) {
            if column.figures {
                laid_out.set_cell_alignment(CellAlignment::Right);
            }
        }
        table
    }

    /// Rows as columns, as many in a part as fit.
    fn turned_in_parts(&self, limit: usize) -> Vec<String> {
        let labels = self.heads();
        let label_width = labels.iter().map(|label| label.chars().count()).max();
        let room = limit.saturating_sub(label_width.unwrap_or(0) + 7).max(1);
        let part = |rows: Range<usize>| {
            let rows = self.rows.get(rows).unwrap_or_default();
            let names = rows
                .iter()
                .map(|row| row.first().cloned().unwrap_or_default());
            let mut part = Self::of(columns(labels.first().map_or("", String::as_str)), 1);
            part.columns.extend(names.map(|head| Column {
                head,
                figures: true,
            }));
            for (at, label) in labels.iter().enumerate().skip(1) {
                let cells = rows.iter().map(|row| {
                    let cell = row.get(at).map_or("", String::as_str);
                    within(cell, room)
                });
                part.row(std::iter::once(label.clone()).chain(cells));
            }
            part
        };
        let fits = |rows| total(&part(rows).natural()) <= limit;
        let parts = runs(0..self.rows.len(), fits).into_iter().map(part);
        parts.map(|part| part.rendered(&part.natural())).collect()
    }

    /// The key columns with as many of the others as fit, part by part.
    fn parted(&self, limit: usize, text: bool) -> Vec<String> {
        let part = |columns: Range<usize>| {
            let kept = || (0..self.keys).chain(columns.clone());
            let columns = kept().filter_map(|at| self.columns.get(at).cloned());
            let mut part = Self::of(columns.collect(), self.keys);
            let of = |row: &Vec<String>| kept().filter_map(|at| row.get(at).cloned()).collect();
            part.rows = self.rows.iter().map(of).collect();
            part
        };
        let fits = |columns| part(columns).broken(limit, text).is_some();
        let parts = runs(self.keys..self.columns.len(), fits)
            .into_iter()
            .map(part);
        parts
            .map(|part| {
                part.broken(limit, text)
                    .or_else(|| part.broken(limit, true))
                    .unwrap_or_else(|| part.rendered(&part.natural()))
            })
            .collect()
    }

    /// Widths that break nothing.
    fn natural(&self) -> Vec<usize> {
        self.widths(longest_line, longest_line)
    }

    /// Widths by what of a cell and of a heading is not broken.
    fn widths(&self, cell: fn(&str) -> usize, head: fn(&str) -> usize) -> Vec<usize> {
        let columns = self.columns.iter().enumerate();
        columns
            .map(|(at, column)| {
                let cells = self.rows.iter().filter_map(|row| row.get(at));
                let widths = cells.map(|text| cell(text));
                widths.chain([head(&column.head)]).max().unwrap_or(0)
            })
            .collect()
    }

    fn heads(&self) -> Vec<String> {
        let heads = self.columns.iter().map(|column| column.head.clone());
        heads.collect()
    }
}

/// A range cut into the longest runs that fit, each of one at least.
fn runs(range: Range<usize>, fits: impl Fn(Range<usize>) -> bool) -> Vec<Range<usize>> {
    let mut runs = Vec::new();
    let mut from = range.start;
    while from < range.end {
        let ends = (from + 1..=range.end).take_while(|to| fits(from..*to));
        let to = ends.last().unwrap_or(from + 1);
        runs.push(from..to);
        from = to;
    }
    runs
}

/// A cell broken at spaces; breaks that it has stay.
fn within(cell: &str, width: usize) -> String {
    let lines: Vec<String> = cell.lines().map(|line| wrapped(line, 0, width)).collect();
    lines.join("\n")
}

/// Width of a table with its borders.
fn total(widths: &[usize]) -> usize {
    widths.iter().sum::<usize>() + 3 * widths.len() + 1
}

fn longest_line(cell: &str) -> usize {
    let lines = cell.lines().map(|line| line.chars().count());
    lines.max().unwrap_or(0)
}

fn longest_word(cell: &str) -> usize {
    let words = cell.split_whitespace().map(|word| word.chars().count());
    words.max().unwrap_or(0)
}

/// The table of some rows, laid out.
pub(crate) fn table(
    headings: &str,
    keys: usize,
    rows: impl IntoIterator<Item = impl IntoIterator<Item = String>>,
) -> String {
    let mut sheet = Sheet::new(headings, keys);
    for row in rows {
        sheet.row(row);
    }
    sheet.fitted()
}

/// Labels and texts, a line each; a long text goes on below itself.
pub(crate) fn labelled<'a>(rows: impl IntoIterator<Item = (&'a str, String)>) -> String {
    rows.into_iter()
        .map(|(label, text)| {
            let text = wrapped(&text, 30, text_width());
            format!("  {label:<27} {text}\n")
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::{Sheet, longest_line};

    fn sheet(rows: usize, columns: usize) -> Sheet {
        let heads: Vec<String> = (0..columns).map(|at| format!("a heading {at}")).collect();
        let mut sheet = Sheet::new(&heads.join(" | >"), 1);
        for row in 0..rows {
            let figures = (1..columns).map(|at| format!("{row}.{at}"));
            sheet.row(std::iter::once(format!("row {row}")).chain(figures));
        }
        sheet
    }

    #[test]
    fn every_figure_is_there_and_no_line_is_too_long() {
        for (rows, columns) in [(1, 3), (3, 30), (30, 3), (20, 20), (1, 1), (0, 4)] {
            for limit in [60, 100, 1000] {
                let sheet = sheet(rows, columns);
                let text = sheet.fitted_to(limit);
                assert!(longest_line(&text) <= limit, "{limit}\n{text}");
                for row in 0..rows {
                    for at in 1..columns {
                        assert!(
                            text.contains(&format!(" {row}.{at} ")),
                            "{row}.{at}\n{text}"
                        );
                    }
                }
            }
        }
    }

    #[test]
    fn a_table_that_fits_is_left_whole_and_few_rows_are_turned() {
        assert_eq!(sheet(2, 4).fitted_to(100).matches("row 0").count(), 1);
        let turned = sheet(2, 30).fitted_to(100);
        assert_eq!(turned.lines().count(), 30 + 3, "{turned}");
        let parted = sheet(40, 12).fitted_to(60);
        assert!(parted.matches("row 0").count() > 1, "{parted}");
    }

    #[test]
    fn text_is_broken_at_spaces_only() {
        let mut sheet = Sheet::new("what | why", 1);
        sheet.row(["a".to_owned(), "ten letters ".repeat(20)]);
        let text = sheet.fitted_to(60);
        assert!(
            longest_line(&text) <= 60 && text.matches("letters").count() == 20,
            "{text}"
        );
    }
}
