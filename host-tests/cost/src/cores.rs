//! Where images and simulators come from.

use std::path::{Path, PathBuf};

/// The folder of the images' workspace and the runners.
#[must_use]
pub fn cores_folder() -> PathBuf {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    here.parent().unwrap_or(here).join("cores")
}
