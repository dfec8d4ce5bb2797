//! Files that are read: regular ones only, and never more of them than is stated.

use std::fs::{self, File, FileType};
use std::io::{self, ErrorKind, Read};
use std::path::Path;

/// Opens a file for reading.
///
/// # Errors
/// The system's; and for a folder, a device, a pipe or a socket, which might never end and are refused before they are opened.
pub fn open(path: &Path) -> io::Result<File> {
    let kind = fs::metadata(path)?.file_type();
    if !kind.is_file() {
        let why = format!("it is {}, and only regular files are read", in_words(kind));
        return Err(io::Error::new(ErrorKind::Unsupported, why));
    }
    File::open(path)
}

/// An error of opening or reading, and what helps.
pub fn with_fix(error: &io::Error) -> String {
    let fix = match error.kind() {
        ErrorKind::NotFound => "give the path of a file that is there",
        ErrorKind::PermissionDenied => "change its permissions, or give another path",
        ErrorKind::Unsupported => "give the path of a regular file",
        _ => "copy it again, whole",
    };
    format!("{error}; {fix}")
}

/// What is no regular file, in words.
pub fn in_words(kind: FileType) -> &'static str {
    if kind.is_symlink() {
        "a symbolic link"
    } else if kind.is_dir() {
        "a folder"
    } else {
        "a device, a pipe or a socket"
    }
}

/// The whole of a text file of at most `limit` bytes, in lines of at most `line_limit` bytes.
///
/// # Errors
/// As [`open`]; for a longer file or line; for bytes that are not UTF-8.
pub fn text(path: &Path, limit: u64, line_limit: usize) -> io::Result<String> {
    let refuse = |why: String| io::Error::new(ErrorKind::InvalidData, why);
    let mut bytes = Vec::new();
    // One more byte than allowed tells a file that is too long, whatever its length was said to be.
    open(path)?.take(limit + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > limit {
        return Err(refuse(format!(
            "it is longer than {limit} bytes, the most that such a file may have"
        )));
    }
    let lines = (1..).zip(bytes.split(|byte| *byte == b'\n'));
    for (number, line) in lines {
        if line.len() > line_limit {
            return Err(refuse(format!(
                "line {number} has {} bytes, at most {line_limit} are read",
                line.len()
            )));
        }
    }
    String::from_utf8(bytes).map_err(|error| {
        let place = error.utf8_error().valid_up_to();
        refuse(format!(
            "byte {} is not UTF-8: save it as UTF-8 text",
            place + 1
        ))
    })
}

#[cfg(test)]
mod tests {
    use std::io::{Error, ErrorKind};

    use super::{open, text, with_fix};

    #[test]
    fn limits_are_kept_to_the_byte() -> Result<(), Box<dyn std::error::Error>> {
        let folder = tempfile::tempdir()?;
        let path = folder.path().join("text");
        std::fs::write(&path, "1234\n678\n")?;
        assert_eq!(text(&path, 9, 4)?, "1234\n678\n");
        for (limit, line_limit, said) in [(8, 4, "longer than 8"), (9, 3, "line 1 has 4")] {
            let error = text(&path, limit, line_limit)
                .err()
                .ok_or("it was read")?
                .to_string();
            assert!(error.contains(said), "{error}");
        }
        std::fs::write(&path, [b'a', 0xFF])?;
        let error = text(&path, 9, 9).err().ok_or("it was read")?.to_string();
        assert!(error.contains("byte 2 is not UTF-8"), "{error}");
        let error = text(folder.path(), 9, 9).err().ok_or("it was read")?;
        assert!(error.to_string().contains("a folder"), "{error}");
        Ok(())
    }

    #[test]
    fn each_error_has_a_fix() -> Result<(), Box<dyn std::error::Error>> {
        let folder = tempfile::tempdir()?;
        let opened = |path| open(path).err().ok_or("it was opened");
        for (error, fix) in [
            (opened(folder.path())?, "; give the path of a regular file"),
            (
                opened(&folder.path().join("none"))?,
                "; give the path of a file that is there",
            ),
            (
                Error::from(ErrorKind::PermissionDenied),
                "; change its permissions, or give another path",
            ),
            (
                Error::from(ErrorKind::UnexpectedEof),
                "; copy it again, whole",
            ),
        ] {
            let said = with_fix(&error);
            assert!(said.ends_with(fix), "{said}");
        }
        Ok(())
    }
}
