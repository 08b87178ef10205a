use super::{Chart, ChartError};
use crate::analysis::Answers;
pub(super) fn draw(_: &Answers) -> Result<Option<Chart>, ChartError> { Ok(None) }
pub(super) fn draw_all(_: &Answers) -> Result<Vec<Chart>, ChartError> { Ok(vec![]) }
