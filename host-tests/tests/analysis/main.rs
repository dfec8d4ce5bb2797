//! What is computed of a front end, a batch and a log: tables, proofs, budgets, choices, calibrations, replays.

mod budget;
mod choice;
mod fit;
mod prove;
mod recorded;
mod replay;
mod replay_rules;
mod table;
