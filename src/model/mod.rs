//! A checked study: names resolved, workings in order, base case, trace of a figure.

pub mod order;
