//! Ways to embed the library: a file each, without `unsafe`.
//!
//! Lithium cells burn: this measures, and protects nothing.
#![cfg_attr(not(test), no_std)]

pub mod cell;
pub mod converter;
pub mod dma_fed;
pub mod either_topology;
pub mod in_static;
pub mod interrupt_fed;
pub mod logged;
pub mod multiplexer;
pub mod stored;
