//! What a report says: answers and study in, one [`Document`] out. A file for each part.

use super::document::Document;
use super::material::Material;

/// The report.
pub fn document(material: &Material<'_>) -> Document {
    Document { title: material.answers.study.title.clone(), ..Document::default() }
}
