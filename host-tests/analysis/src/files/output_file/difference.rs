//! Where a file first differs from a text, found in a fixed amount of memory.

use std::io::{self, BufRead, BufReader, Read};
use std::path::Path;

use thiserror::Error;

use crate::files::input_file;

/// Bytes of a line that are shown.
const SHOWN: usize = 160;

/// The first line in which a file differs from a text.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("line {line} is {}, to be written is {}", shown(found), shown(ours))]
pub struct Difference {
    /// Line number, from 1.
    pub line: usize,
    /// The file's line, or a part of it; none behind its end.
    pub found: Option<String>,
    /// The text's line, or a part of it; none behind its end.
    pub ours: Option<String>,
}

fn shown(line: &Option<String>) -> String {
    match line {
        Some(line) => format!("`{line}`"),
        None => "missing".to_owned(),
    }
}

/// The first difference between a file and a text; none where both are equal, byte for byte. Line breaks count.
///
/// # Errors
/// The system's; and for anything but a regular file.
pub fn difference(path: &Path, text: &[u8]) -> io::Result<Option<Difference>> {
    let mut file = BufReader::new(input_file::open(path)?);
    let mut same = 0;
    loop {
        let part = file.fill_buf()?;
        let rest = text.get(same..).unwrap_or_default();
        let equal = part
            .iter()
            .zip(rest)
            .take_while(|(one, other)| one == other)
            .count();
        if part.is_empty() && rest.is_empty() {
            return Ok(None);
        }
        same += equal;
        let ended = equal < part.len() || part.is_empty();
        file.consume(equal);
        if ended {
            break;
        }
    }
    let common = text.get(..same).unwrap_or_default();
    let line_start = common
        .iter()
        .rposition(|byte| *byte == b'\n')
        .map_or(0, |at| at + 1);
    // A part of the line from before the difference on, the same in both.
    let start = line_start.max(same.saturating_sub(SHOWN / 2));
    let before = common.get(start..).unwrap_or_default();
    let mut found = before.to_vec();
    file.take((SHOWN / 2) as u64).read_to_end(&mut found)?;
    let ours = text.get(start..).unwrap_or_default();
    let excerpt = |bytes: &[u8]| {
        let line = bytes.split_inclusive(|byte| *byte == b'\n').next()?;
        let line = line.get(..SHOWN).unwrap_or(line);
        let line = String::from_utf8_lossy(line);
        let line = line.trim_end_matches('\n').escape_debug();
        Some(if start == line_start {
            line.to_string()
        } else {
            format!("[from byte {}] {line}", start - line_start + 1)
        })
    };
    Ok(Some(Difference {
        line: common.iter().filter(|byte| **byte == b'\n').count() + 1,
        found: excerpt(&found),
        ours: excerpt(ours),
    }))
}

#[cfg(test)]
mod tests {
    use super::difference;
    use std::fs;

    #[test]
    fn the_first_difference_is_found_at_any_place() -> Result<(), Box<dyn std::error::Error>> {
        let folder = tempfile::tempdir()?;
        let file = folder.path().join("text");
        let long = "x".repeat(100_000);
        let (one, other) = (format!("a\n{long}1\n"), format!("a\n{long}2\n"));
        for (found, ours, line) in [
            ("a\nb\n", "a\nb\nc\n", Some(3)),
            ("a\nb\nc\n", "a\nb\n", Some(3)),
            ("a\nb", "a\nb\n", Some(2)),
            ("", "a\n", Some(1)),
            ("a\r\n", "a\n", Some(1)),
            ("", "", None),
            (&one, &one, None),
            (&one, &other, Some(2)),
        ] {
            fs::write(&file, found)?;
            let difference = difference(&file, ours.as_bytes())?;
            assert!(difference.iter().all(|found| found.to_string().len() < 600));
            assert_eq!(difference.map(|difference| difference.line), line);
        }
        fs::write(&file, [0xFF, b'\n'])?;
        assert!(difference(&file, b"a\n")?.is_some());
        Ok(())
    }
}
