//! Records as files hold them, and what is said of them.

mod files;
mod judge;
