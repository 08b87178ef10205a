//! Studies to start from for the consultant and the researcher: whole studies with places to fill in.

/// A consultant's study, by the month.
pub const CONSULTANT: &str = include_str!("templates/consultant.toml");

/// A researcher's study, of many homes.
pub const RESEARCHER: &str = include_str!("templates/researcher.toml");
