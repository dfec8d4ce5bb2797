//! The numbers behind plots, the plots, and the page that holds them.

pub mod curves;
pub mod page;
pub mod plot;
