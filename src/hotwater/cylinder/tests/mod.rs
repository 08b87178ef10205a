//! What the cylinder promises.

mod balance;
mod closed_forms;
mod lanes;
mod made_up;
mod plain;
mod reference;
mod steps;
