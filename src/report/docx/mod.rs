//! A document as a word processor opens it (Office Open XML, ECMA-376).

use super::document::Document;

/// Why there is no document: a fault of ours.
#[derive(Debug)]
pub struct DocxError(pub String);

/// The bytes of a .docx file.
///
/// # Errors
/// If a picture cannot be made or the archive not be written; never because of what the document says.
pub fn docx(document: &Document) -> Result<Vec<u8>, DocxError> {
    Err(DocxError(document.title.clone()))
}
