//! The study file: schema, and reading with places.

mod schema;

pub use schema::*;
