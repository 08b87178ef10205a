//! Cases and tests of fit for `distribution_draws.rs`.

pub(crate) mod cases;
pub(crate) mod fit;
