//! The one writer of every command: a file or folder is there whole or not at all, and nothing is destroyed unasked.
//!
//! An output waits beside its place until [`Staged::commit`] moves it there in one step. Refused are a place where another
//! content stands, unless replacing it was asked for; an input of the same run, always; and anything that is not a regular file.

pub mod difference;
mod refusal;
mod staged;

use std::fs;
use std::io::{self, ErrorKind, Write};
use std::path::{Path, PathBuf};

use crate::files::input_file::in_words;
use difference::difference;
pub use refusal::OutputError;
pub use staged::{Staged, Written, commit_all};
use staged::{Waiting, folder_of};

/// Where an output belongs, and what it may replace.
#[derive(Debug, Clone, Copy)]
pub struct Place<'a> {
    /// Its path.
    pub path: &'a Path,
    /// Whether a file of another content is replaced.
    pub force: bool,
    /// Every file that this run reads.
    pub inputs: &'a [PathBuf],
}

impl<'a> Place<'a> {
    /// A place of a run that reads these files.
    pub fn new(path: &'a Path, force: bool, inputs: &'a [PathBuf]) -> Self {
        Self {
            path,
            force,
            inputs,
        }
    }

    /// Writes a file, whole or not at all.
    ///
    /// # Errors
    /// [`OutputError`].
    pub fn write(&self, bytes: &[u8]) -> Result<Written, OutputError> {
        self.file(bytes)?.commit()
    }

    /// Writes a file beside its place.
    ///
    /// # Errors
    /// [`OutputError`], with nothing left behind.
    pub fn file(&self, bytes: &[u8]) -> Result<Staged, OutputError> {
        let system = |error| self.system(error);
        let nameless = |error| self.nameless(&error);
        self.named()?;
        let standing = self.standing()?;
        if standing.is_some() {
            match difference(self.path, bytes).map_err(system)? {
                None => return Ok(self.staged(Waiting::Nothing)),
                Some(difference) if !self.force => {
                    return Err(OutputError::Different {
                        path: self.path.to_owned(),
                        difference,
                    });
                }
                Some(_) => {}
            }
        }
        let folder = self.checked_folder()?;
        let mut file = builder(0o666).tempfile_in(folder).map_err(nameless)?;
        file.write_all(bytes).map_err(system)?;
        if let Some(standing) = &standing {
            file.as_file()
                .set_permissions(standing.permissions())
                .map_err(system)?;
        }
        file.as_file().sync_all().map_err(system)?;
        Ok(self.staged(Waiting::File {
            file,
            replaces: standing.is_some(),
        }))
    }

    /// Writes a folder of files beside its place, which must be free or hold exactly these.
    ///
    /// # Errors
    /// [`OutputError`], with nothing left behind.
    pub fn folder(&self, files: &[(String, Vec<u8>)]) -> Result<Staged, OutputError> {
        let system = |error| self.system(error);
        let nameless = |error| self.nameless(&error);
        self.named()?;
        match fs::symlink_metadata(self.path) {
            Ok(standing) if standing.is_dir() && holds(self.path, files).map_err(system)? => {
                return Ok(self.staged(Waiting::Nothing));
            }
            Ok(_) => {
                let path = self.path.to_owned();
                return Err(OutputError::Taken { path });
            }
            Err(error) if error.kind() == ErrorKind::NotFound => {}
            Err(error) => return Err(system(error)),
        }
        let folder = self.checked_folder()?;
        let folder = builder(0o777).tempdir_in(folder).map_err(nameless)?;
        for (name, bytes) in files {
            let mut file = fs::File::create_new(folder.path().join(name)).map_err(system)?;
            file.write_all(bytes).map_err(system)?;
            file.sync_all().map_err(system)?;
        }
        Ok(self.staged(Waiting::Folder(folder)))
    }

    /// The regular file that stands at the place, if any.
    fn standing(&self) -> Result<Option<fs::Metadata>, OutputError> {
        let standing = match fs::symlink_metadata(self.path) {
            Ok(standing) => standing,
            Err(error) if error.kind() == ErrorKind::NotFound => return Ok(None),
            Err(error) => return Err(self.system(error)),
        };
        if !standing.is_file() {
            let (path, what) = (self.path.to_owned(), in_words(standing.file_type()));
            return Err(OutputError::NotRegular { path, what });
        }
        for input in self.inputs {
            // Two names of one file are the same device and inode.
            if same_file::is_same_file(self.path, input).map_err(|error| self.system(error))? {
                let (path, input) = (self.path.to_owned(), input.clone());
                return Err(OutputError::Input { path, input });
            }
        }
        Ok(Some(standing))
    }

    fn named(&self) -> Result<(), OutputError> {
        let nameless = || io::Error::new(ErrorKind::InvalidInput, "the path names no file");
        if self.path == Path::new("-") {
            return Err(OutputError::StandardOutput);
        }
        self.path
            .file_name()
            .map(drop)
            .ok_or_else(|| self.system(nameless()))
    }

    fn checked_folder(&self) -> Result<&Path, OutputError> {
        let folder = folder_of(self.path);
        if !folder.is_dir() {
            let (path, folder) = (self.path.to_owned(), folder.to_owned());
            return Err(OutputError::NoFolder { path, folder });
        }
        Ok(folder)
    }

    fn staged(&self, waiting: Waiting) -> Staged {
        let path = self.path.to_owned();
        Staged { path, waiting }
    }

    /// Of a temporary file, whose name tells nobody anything.
    fn nameless(&self, error: &io::Error) -> OutputError {
        self.system(error.kind().into())
    }

    fn system(&self, error: io::Error) -> OutputError {
        let path = self.path.to_owned();
        OutputError::System { path, error }
    }
}

/// Temporary files with the permissions that any new file has: what is not wanted of them, the process's mask takes away.
fn builder(mode: u32) -> tempfile::Builder<'static, 'static> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(".tallyvolt-");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        builder.permissions(fs::Permissions::from_mode(mode));
    }
    #[cfg(not(unix))]
    let _ = mode;
    builder
}

/// Whether a folder holds these files and nothing else.
fn holds(folder: &Path, files: &[(String, Vec<u8>)]) -> io::Result<bool> {
    if fs::read_dir(folder)?.take(files.len() + 1).count() != files.len() {
        return Ok(false);
    }
    for (name, bytes) in files {
        let path = folder.join(name);
        let regular = fs::symlink_metadata(&path).is_ok_and(|standing| standing.is_file());
        if !regular || difference(&path, bytes)?.is_some() {
            return Ok(false);
        }
    }
    Ok(true)
}

#[cfg(test)]
mod tests {
    use super::{OutputError, Place, Written, commit_all};
    use std::fs;
    use std::path::{Path, PathBuf};

    type Tested = Result<(), Box<dyn std::error::Error>>;

    fn write(path: &Path, text: &str, force: bool) -> Result<Written, OutputError> {
        Place::new(path, force, &[]).write(text.as_bytes())
    }

    macro_rules! assert_refused {
        ($outcome:expr, $error:pat $(if $guard:expr)?) => {
            let outcome = $outcome;
            assert!(matches!(&outcome, Err($error) $(if $guard)?), "{outcome:?}");
        };
    }

    #[test]
    fn a_different_file_is_replaced_only_by_force() -> Tested {
        let folder = tempfile::tempdir()?;
        let file = folder.path().join("front_end.h");
        assert_eq!(write(&file, "one\ntwo\n", false)?, Written::Written);
        assert_eq!(write(&file, "one\ntwo\n", false)?, Written::Unchanged);
        assert_refused!(
            write(&file, "one\n2\n", false),
            OutputError::Different { difference, .. } if difference.line == 2
        );
        assert_eq!(fs::read_to_string(&file)?, "one\ntwo\n");
        assert_eq!(write(&file, "one\n2\n", true)?, Written::Written);
        assert_eq!(fs::read_to_string(&file)?, "one\n2\n");
        let left: Vec<_> = fs::read_dir(folder.path())?.collect();
        assert_eq!(left.len(), 1, "no temporary file stays: {left:?}");
        Ok(())
    }

    #[test]
    fn a_folder_that_is_not_there_is_an_error() -> Tested {
        let folder = tempfile::tempdir()?;
        let nowhere = folder.path().join("none/front_end.h");
        assert_refused!(
            write(&nowhere, "text\n", true),
            OutputError::NoFolder { .. }
        );
        assert_refused!(
            write(folder.path(), "text\n", true),
            OutputError::NotRegular { .. }
        );
        Ok(())
    }

    #[cfg(unix)]
    #[test]
    fn inputs_links_and_devices_are_refused_even_by_force() -> Tested {
        let folder = tempfile::tempdir()?;
        let input = folder.path().join("input");
        let other_name = folder.path().join("other-name");
        let link = folder.path().join("link");
        fs::write(&input, "measured\n")?;
        fs::hard_link(&input, &other_name)?;
        std::os::unix::fs::symlink(&input, &link)?;
        let inputs: &[PathBuf] = std::slice::from_ref(&input);
        for path in [&input, &other_name] {
            let written = Place::new(path, true, inputs).write(b"text\n");
            assert_refused!(written, OutputError::Input { .. });
        }
        for path in [&link, Path::new("/dev/full"), Path::new("/dev/null")] {
            assert_refused!(write(path, "text\n", true), OutputError::NotRegular { .. });
        }
        assert_eq!(fs::read_to_string(&input)?, "measured\n");
        assert!(fs::symlink_metadata(&link)?.is_symlink());
        // The control: with no input named and no link, the file is replaced.
        assert_eq!(write(&input, "text\n", true)?, Written::Written);
        Ok(())
    }

    #[test]
    fn a_file_that_appears_meanwhile_stays() -> Tested {
        let folder = tempfile::tempdir()?;
        let path = folder.path().join("late");
        let staged = Place::new(&path, true, &[]).file(b"ours\n")?;
        fs::write(&path, "theirs\n")?;
        assert!(staged.commit().is_err());
        assert_eq!(fs::read_to_string(&path)?, "theirs\n");
        assert_eq!(fs::read_dir(folder.path())?.count(), 1);
        Ok(())
    }

    /// Two names of one place, and with another one as the control.
    #[test]
    fn two_outputs_do_not_share_a_place() -> Tested {
        let folder = tempfile::tempdir()?;
        let [one, same, other] = ["one", "./one", "other"].map(|name| folder.path().join(name));
        let staged = |path: &Path| Place::new(path, true, &[]).file(b"text\n");
        let both = vec![staged(&one)?, staged(&same)?];
        assert_refused!(commit_all(both), OutputError::Twice { .. });
        assert_eq!(fs::read_dir(folder.path())?.count(), 0);
        commit_all(vec![staged(&one)?, staged(&other)?])?;
        assert_eq!(fs::read_dir(folder.path())?.count(), 2);
        Ok(())
    }

    #[test]
    fn a_folder_is_new_or_the_same() -> Tested {
        let folder = tempfile::tempdir()?;
        let path = folder.path().join("records");
        let place = Place::new(&path, true, &[]);
        let mut files = vec![("a.bin".to_owned(), vec![1]), ("b.bin".to_owned(), vec![2])];
        drop(place.folder(&files)?);
        assert_eq!(fs::read_dir(folder.path())?.count(), 0);
        assert_eq!(place.folder(&files)?.commit()?, Written::Written);
        assert_eq!(fs::read(path.join("b.bin"))?, [2]);
        assert_eq!(place.folder(&files)?.commit()?, Written::Unchanged);
        files[1].1 = vec![3];
        assert_refused!(place.folder(&files), OutputError::Taken { .. });
        files.pop();
        assert_refused!(place.folder(&files), OutputError::Taken { .. });
        assert_eq!(fs::read_dir(&path)?.count(), 2);
        Ok(())
    }
}
