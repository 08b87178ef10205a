//! The study as a workbook whose base case is live formulas (Office Open XML, ECMA-376).

pub mod layout;

use super::material::Material;

/// Why there is no workbook: a fault of ours.
#[derive(Debug)]
pub struct WorkbookError(pub String);

/// The bytes of an .xlsx file.
///
/// # Errors
/// If the archive cannot be written; never because of what the study says.
pub fn workbook(material: &Material<'_>) -> Result<Vec<u8>, WorkbookError> {
    Err(WorkbookError(material.study_file.to_owned()))
}
