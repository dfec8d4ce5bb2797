//! The caution that every output carries.

use super::sheet::text_width;
use super::wrapping::wrapped;

/// What every report ends with.
pub const CAUTION: &str = "Lithium cells can burn. These figures describe a measurement, not a protection system: the cell \
maker's data sheet, local codes and qualified people decide what a pack needs.";

/// The same in lines of the page, for text.
pub fn caution() -> String {
    wrapped(CAUTION, 0, text_width())
}
