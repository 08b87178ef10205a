//! A document as one self-contained HTML page that prints to A4.

use super::document::Document;

/// The page.
pub fn html(document: &Document) -> String {
    document.title.clone()
}
