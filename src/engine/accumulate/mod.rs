//! (by stats)
