//! What is computed of a front end, a batch and a log: tables, budgets, choices, calibrations, replays.

mod budget;
mod choice;
mod fit;
mod replay;
mod table;
