//! A maker's table of resistances, as CSV: `#` lines and a header, then temperature in degC and resistance in ohms.

use std::path::Path;

use num_rational::BigRational;
use num_traits::Signed;

use super::decimal;
use super::reader::LINE_BYTES_MAX;
use crate::files::input_file;
use crate::files::rows::problem::quoted;

/// A table longer than this is refused; makers print one to two hundred lines.
const BYTES_MAX: u64 = 1 << 16;

/// The points by rising temperature. Resistances must all rise or all fall, and be above zero.
///
/// # Errors
/// A sentence that says file, line and rule.
pub(super) fn read(path: &Path) -> Result<Vec<(BigRational, BigRational)>, String> {
    let file = path.display();
    let text = input_file::text(path, BYTES_MAX, LINE_BYTES_MAX)
        .map_err(|error| format!("{file} cannot be read: {error}"))?;
    points(&text).map_err(|(line, rule)| format!("{file}:{line}: {rule}"))
}

/// The same of the file's text.
///
/// # Errors
/// Line, from 1, and rule.
pub fn points(text: &str) -> Result<Vec<(BigRational, BigRational)>, (usize, String)> {
    let mut points: Vec<(BigRational, BigRational)> = Vec::new();
    let rows = (1..)
        .zip(text.lines())
        .filter(|(_, line)| !line.trim().is_empty() && !line.starts_with('#'))
        .skip(1);
    for (line, row) in rows {
        let mut cells = row.split(',').map(str::trim);
        let mut number = |what: &str| {
            let cell = cells.next().ok_or((line, format!("{what} is missing")))?;
            decimal::exact(cell).map_err(|rule| {
                let cell = quoted(cell.as_bytes());
                (line, format!("{what} {cell}: {rule}"))
            })
        };
        let (celsius, ohms) = (number("temperature")?, number("resistance")?);
        if !ohms.is_positive() {
            return Err((line, "a resistance must be above zero".to_owned()));
        }
        if let Some((before, _)) = points.last()
            && celsius <= *before
        {
            return Err((line, "temperatures must rise from line to line".to_owned()));
        }
        if let [.., (_, before), (_, last)] = &points[..]
            && (last > before) != (ohms > *last)
        {
            return Err((line, "resistances must all rise or all fall".to_owned()));
        }
        if let [(_, first)] = &points[..]
            && *first == ohms
        {
            return Err((line, "resistances must differ".to_owned()));
        }
        points.push((celsius, ohms));
    }
    if points.len() < 2 {
        return Err((1, "a table needs two points at least".to_owned()));
    }
    Ok(points)
}

#[cfg(test)]
mod tests {
    use super::points;

    #[test]
    fn tables_are_read_or_refused_by_line() {
        let good = points("# source\ntemp_degC,r_ohm\n-40,195652\n25,10000.5\n").expect("good");
        assert_eq!(good.len(), 2);
        for (text, line) in [
            ("t,r\n1,2\n1,3\n", 3),
            ("t,r\n1,2\n2,3\n3,2\n", 4),
            ("t,r\n1,0\n", 2),
            ("t,r\n1\n", 2),
            ("t,r\n1,x\n", 2),
            ("t,r\n1,5\n2,5\n", 3),
            ("t,r\n1,5\n", 1),
            ("", 1),
        ] {
            assert_eq!(points(text).expect_err(text).0, line, "{text}");
        }
    }
}
