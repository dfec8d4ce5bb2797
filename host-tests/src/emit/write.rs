//! Text to a file: whole or not at all, and never over a different file unasked.

use std::fs;
use std::io::{self, ErrorKind, Write};
use std::path::{Path, PathBuf};

use thiserror::Error;

/// Characters of a line that are shown.
const SHOWN: usize = 160;

/// What became of a text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Written {
    /// The file is new, or was replaced.
    Written,
    /// The file had this content already and was not touched.
    Unchanged,
}

/// Why a file is not as emitted.
#[derive(Debug, Error)]
pub enum WriteError {
    /// Another content stands there.
    #[error("{}: {difference}", file.display())]
    Different {
        /// The file.
        file: PathBuf,
        /// The first line that differs.
        difference: Difference,
    },
    /// Reading or writing failed.
    #[error("{}: {error}", file.display())]
    System {
        /// The file.
        file: PathBuf,
        /// The system's reason.
        error: io::Error,
    },
}

/// The first line in which a file differs from the emitted text.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("line {line} is {}, emitted is {}", shown(found), shown(emitted))]
pub struct Difference {
    /// Line number, from 1.
    pub line: usize,
    /// The file's line; none behind its end.
    pub found: Option<String>,
    /// The emitted line; none behind its end.
    pub emitted: Option<String>,
}

fn shown(line: &Option<String>) -> String {
    match line {
        Some(line) => format!("`{line}`"),
        None => "missing".to_owned(),
    }
}

/// Writes a text: to a temporary file in the same folder, which then takes the file's name and permissions.
///
/// # Errors
/// [`WriteError::Different`] for an existing file of another content, unless `force`; [`WriteError::System`].
pub fn write(file: &Path, text: &str, force: bool) -> Result<Written, WriteError> {
    let system = |error: io::Error| WriteError::System {
        file: file.to_owned(),
        error,
    };
    match difference(file, text) {
        Ok(None) => return Ok(Written::Unchanged),
        Ok(Some(difference)) if !force => {
            return Err(WriteError::Different {
                file: file.to_owned(),
                difference,
            });
        }
        Ok(Some(_)) => {}
        Err(error) if error.kind() == ErrorKind::NotFound => {}
        Err(error) => return Err(system(error)),
    }
    // A link keeps pointing where it points: the file behind it is replaced.
    let target = fs::canonicalize(file).unwrap_or_else(|_| file.to_owned());
    let folder = match target.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    let mut temporary = temporary_in(folder).map_err(system)?;
    temporary.write_all(text.as_bytes()).map_err(system)?;
    if let Ok(existing) = fs::metadata(&target) {
        temporary
            .as_file()
            .set_permissions(existing.permissions())
            .map_err(system)?;
    }
    temporary.as_file().sync_all().map_err(system)?;
    temporary
        .persist(&target)
        .map_err(|error| system(error.error))?;
    Ok(Written::Written)
}

/// A temporary file with the permissions that any new file has.
fn temporary_in(folder: &Path) -> io::Result<tempfile::NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(".tallyvolt-");
    #[cfg(unix)]
    let builder = {
        use std::os::unix::fs::PermissionsExt as _;
        // What is not wanted of it, the process's mask takes away.
        builder.permissions(fs::Permissions::from_mode(0o666))
    };
    builder.tempfile_in(folder)
}

/// The first difference between a file and a text; none where both are equal, byte for byte.
///
/// # Errors
/// The system's, when the file cannot be read.
pub fn difference(file: &Path, text: &str) -> io::Result<Option<Difference>> {
    let bytes = fs::read(file)?;
    if bytes == text.as_bytes() {
        return Ok(None);
    }
    let found = String::from_utf8_lossy(&bytes);
    // Line breaks count, so a line is compared with the break that ends it.
    let mut found = found.split_inclusive('\n');
    let mut emitted = text.split_inclusive('\n');
    let mut line = 1;
    loop {
        let (here, there) = (found.next(), emitted.next());
        if here != there || here.is_none() {
            let same = here.unwrap_or_default().chars();
            let same = same.zip(there.unwrap_or_default().chars());
            let column = same.take_while(|(one, other)| one == other).count();
            let owned = |text: Option<&str>| text.map(|text| excerpt(text, column));
            return Ok(Some(Difference {
                line,
                found: owned(here),
                emitted: owned(there),
            }));
        }
        line += 1;
    }
}

/// A line; of a long one, what lies around a column.
fn excerpt(line: &str, column: usize) -> String {
    let line = line.trim_end_matches('\n');
    if line.chars().count() <= SHOWN {
        return line.escape_debug().to_string();
    }
    let start = column.saturating_sub(SHOWN / 2);
    let part: String = line.chars().skip(start).take(SHOWN).collect();
    format!("[from column {}] {}", start + 1, part.escape_debug())
}

#[cfg(test)]
mod tests {
    use super::{WriteError, Written, difference, write};
    use std::fs;

    #[test]
    fn a_different_file_is_replaced_only_by_force() -> Result<(), Box<dyn std::error::Error>> {
        let folder = tempfile::tempdir()?;
        let file = folder.path().join("front_end.h");
        assert_eq!(write(&file, "one\ntwo\n", false)?, Written::Written);
        assert_eq!(write(&file, "one\ntwo\n", false)?, Written::Unchanged);
        let refused = write(&file, "one\n2\n", false);
        assert!(
            matches!(&refused, Err(WriteError::Different { difference, .. }) if difference.line == 2),
            "{refused:?}"
        );
        assert_eq!(fs::read_to_string(&file)?, "one\ntwo\n");
        assert_eq!(write(&file, "one\n2\n", true)?, Written::Written);
        assert_eq!(fs::read_to_string(&file)?, "one\n2\n");
        let left: Vec<_> = fs::read_dir(folder.path())?.collect();
        assert_eq!(left.len(), 1, "no temporary file stays: {left:?}");
        Ok(())
    }

    #[test]
    fn a_folder_that_is_not_there_is_an_error() -> Result<(), Box<dyn std::error::Error>> {
        let folder = tempfile::tempdir()?;
        let written = write(&folder.path().join("none/front_end.h"), "text\n", true);
        assert!(
            matches!(written, Err(WriteError::System { .. })),
            "{written:?}"
        );
        Ok(())
    }

    #[test]
    fn the_first_difference_is_found_at_any_place() -> Result<(), Box<dyn std::error::Error>> {
        let folder = tempfile::tempdir()?;
        let file = folder.path().join("text");
        for (found, emitted, line) in [
            ("a\nb\n", "a\nb\nc\n", 3),
            ("a\nb", "a\nb\n", 2),
            ("", "a\n", 1),
            ("a\r\n", "a\n", 1),
        ] {
            fs::write(&file, found)?;
            let difference = difference(&file, emitted)?;
            assert_eq!(
                difference.map(|difference| difference.line),
                Some(line),
                "{found:?} {emitted:?}"
            );
        }
        fs::write(&file, [0xFF, b'\n'])?;
        assert!(difference(&file, "a\n")?.is_some());
        Ok(())
    }
}
