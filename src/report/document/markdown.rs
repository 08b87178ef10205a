//! The study's own words, Markdown (CommonMark), as blocks.

use super::Block;

/// Blocks of a Markdown text. What a report has no form for is shown as the text it is.
pub fn blocks(text: &str) -> Vec<Block> {
    vec![Block::text(text)]
}
