//! Columns of f64 and a program over blocks of runs. Knows no units, no TOML
//! and no names of a study.
//!
//! - [`graph`]: every value of every working as a node, equal nodes shared;
//! - [`ops`]: what one node does to its operands, value by value;
//! - [`program`]: the graph put in order, in stages, with registers, which `allocate` gives out;
//! - [`kernels`]: the same operations over columns;
//! - [`block`]: operations that take many columns at once;
//! - [`affine`]: how a node depends on one leaf;
//! - [`run`]: the loop over chunks of runs, in parallel;
//! - [`accumulate`]: statistics that add, merge, save and load.
//!
//! Invariants: the bits of a value depend on its leaves alone, never on the
//! block size, the thread or the processor; `+ - * / sqrt` are plain, other
//! mathematics is our own; no fused multiply-add.

pub mod accumulate;
pub mod affine;
mod allocate;
pub mod block;
pub mod graph;
pub mod kernels;
pub mod ops;
pub mod program;
pub mod run;
