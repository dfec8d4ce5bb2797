//! Where images and simulators come from.

use std::path::{Path, PathBuf};

use super::error::CostError;

/// The folder of the images' workspace and the runners.
#[must_use]
pub fn cores_folder() -> PathBuf {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    here.parent().unwrap_or(here).join("cores")
}

/// Whether there is something to measure.
///
/// # Errors
/// [`CostError::Away`] when the folder is not there: a program that was installed measures nothing.
pub fn require(folder: &Path) -> Result<(), CostError> {
    if folder.is_dir() {
        Ok(())
    } else {
        Err(CostError::Away(folder.display().to_string()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn measuring_away_from_the_source_says_what_to_do() {
        assert!(require(&cores_folder()).is_ok());
        let error = require(Path::new("no-such-folder")).map_err(|error| error.to_string());
        let said = error.expect_err("there is no such folder");
        assert!(said.contains("no-such-folder"), "{said}");
        assert!(said.contains("--recorded"), "{said}");
    }
}
