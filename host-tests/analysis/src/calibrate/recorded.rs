//! Records as written, or as read back from a chip: whose, what they do, whether they are sound.
//!
//! ```text
//! bytes    a file: binary, Intel HEX or hexadecimal text  -> bytes at addresses
//! places   bytes                                          -> where records stand, and what lies behind each
//! layout   32 bytes                                       -> what is written in them, read by the table of the layout alone
//! judge    front end, 32 bytes                            -> what the crate loads, swept at every count, with every reason against it
//! ```

pub mod bytes;
pub mod judge;
pub mod layout;
pub mod places;
