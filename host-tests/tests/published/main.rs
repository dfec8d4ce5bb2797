//! Published values and worked examples; the source of each stands beside it.

mod conversion;
mod uncertainty;
