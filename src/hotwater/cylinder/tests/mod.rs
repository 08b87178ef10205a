//! What the cylinder promises.
