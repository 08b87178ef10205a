//! Distributions to draw from, any distribution at all, and tests of fit.
#![allow(dead_code, reason = "each of the tests that share it uses a part")]

pub(crate) mod any;
pub(crate) mod cases;
pub(crate) mod fit;
pub(crate) mod given;
