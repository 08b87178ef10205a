//! The archive: what the writing library cannot say is put into its parts, and nothing in it hangs on when, or how
//! often, documents were made.

use std::io::{Cursor, Read, Write};

use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, DateTime, ZipArchive, ZipWriter};

use super::DocxError;
use super::text::plain;
use crate::report::document::Document;

/// The one date in the file, so that the same document gives the same bytes.
pub(super) const DATE: &str = "2000-01-01T00:00:00Z";
/// Where the library numbers a paragraph, by how many it has made before.
const PARAGRAPH_ID: &str = " w14:paraId=\"";
const PICTURE: &str = "<wp:docPr id=\"1\" name=\"Figure\" />";
const ROW: &str = "<w:trPr><w:cantSplit /></w:trPr>";
const HEAD_STYLE: &str = "<w:pStyle w:val=\"TableHead\" />";

/// The archive `packed`, finished.
///
/// # Errors
/// If it cannot be read or written, or not each picture has its words.
pub(super) fn finished(
    packed: Vec<u8>,
    document: &Document,
    alternatives: &[String],
) -> Result<Vec<u8>, DocxError> {
    let error = |e: &dyn std::fmt::Display| DocxError(e.to_string());
    let mut from = ZipArchive::new(Cursor::new(packed)).map_err(|e| error(&e))?;
    let mut to = ZipWriter::new(Cursor::new(Vec::new()));
    let options = SimpleFileOptions::default().last_modified_time(DateTime::default());
    for k in 0..from.len() {
        let mut part = from.by_index(k).map_err(|e| error(&e))?;
        if part.is_dir() {
            continue;
        }
        let name = part.name().to_owned();
        let mut bytes = Vec::new();
        part.read_to_end(&mut bytes).map_err(|e| error(&e))?;
        if name.ends_with(".xml") {
            let xml = String::from_utf8(bytes).map_err(|e| error(&e))?;
            bytes = changed(&name, xml, document, alternatives)?.into_bytes();
        }
        // A PNG is compressed already.
        let is_picture = name.ends_with(".png");
        let method = if is_picture { CompressionMethod::Stored } else { CompressionMethod::Deflated };
        to.start_file(name, options.compression_method(method)).map_err(|e| error(&e))?;
        to.write_all(&bytes).map_err(|e| error(&e))?;
    }
    Ok(to.finish().map_err(|e| error(&e))?.into_inner())
}

fn changed(
    name: &str,
    xml: String,
    document: &Document,
    alternatives: &[String],
) -> Result<String, DocxError> {
    match name {
        "word/document.xml" => described(&headed(&without_ids(&xml)), alternatives),
        "word/styles.xml" => {
            let end = "</w:rPr></w:rPrDefault>";
            Ok(xml.replacen(end, &format!("<w:lang w:val=\"en-GB\" />{end}"), 1))
        }
        "word/fontTable.xml" => Ok(FONTS.to_owned()),
        "docProps/core.xml" => Ok(properties(document)),
        _ => Ok(without_ids(&xml)),
    }
}

fn without_ids(xml: &str) -> String {
    let mut pieces = xml.split(PARAGRAPH_ID);
    let mut out = pieces.next().unwrap_or("").to_owned();
    for piece in pieces {
        out.push_str(piece.split_once('"').map_or(piece, |(_, rest)| rest));
    }
    out
}

/// Header rows are repeated on each page.
fn headed(xml: &str) -> String {
    let mut pieces = xml.split(ROW);
    let mut out = pieces.next().unwrap_or("").to_owned();
    for piece in pieces {
        let row = piece.split("</w:tr>").next().unwrap_or("");
        let head = "<w:trPr><w:cantSplit /><w:tblHeader /></w:trPr>";
        out.push_str(if row.contains(HEAD_STYLE) { head } else { ROW });
        out.push_str(piece);
    }
    out
}

/// Each picture gets its words and a number of its own.
fn described(xml: &str, alternatives: &[String]) -> Result<String, DocxError> {
    let mut pieces = xml.split(PICTURE);
    let mut out = pieces.next().unwrap_or("").to_owned();
    let mut count = 0;
    for piece in pieces {
        let said = alternatives.get(count).map_or("", String::as_str);
        count += 1;
        out.push_str(&format!(
            "<wp:docPr id=\"{count}\" name=\"Picture {count}\" descr=\"{}\" />{piece}",
            escaped(said)
        ));
    }
    if count == alternatives.len() {
        return Ok(out);
    }
    Err(DocxError(format!("{count} pictures, but words for {}", alternatives.len())))
}

fn properties(document: &Document) -> String {
    let author = document.facts.iter().find(|(what, _)| what == "Author").map_or("", |(_, said)| said);
    format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\" standalone=\"yes\"?>\
         <cp:coreProperties \
         xmlns:cp=\"http://schemas.openxmlformats.org/package/2006/metadata/core-properties\" \
         xmlns:dc=\"http://purl.org/dc/elements/1.1/\" xmlns:dcterms=\"http://purl.org/dc/terms/\" \
         xmlns:xsi=\"http://www.w3.org/2001/XMLSchema-instance\"><dc:title>{}</dc:title>\
         <dc:creator>{}</dc:creator><dc:language>en-GB</dc:language>\
         <dcterms:created xsi:type=\"dcterms:W3CDTF\">{DATE}</dcterms:created>\
         <dcterms:modified xsi:type=\"dcterms:W3CDTF\">{DATE}</dcterms:modified></cp:coreProperties>",
        escaped(&plain(&document.title)),
        escaped(&plain(author)),
    )
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

/// Inter, or what looks most like it.
const FONTS: &str = "<?xml version=\"1.0\" encoding=\"UTF-8\" standalone=\"yes\"?>\
    <w:fonts xmlns:w=\"http://schemas.openxmlformats.org/wordprocessingml/2006/main\">\
    <w:font w:name=\"Inter\"><w:altName w:val=\"Arial\" /><w:family w:val=\"swiss\" />\
    <w:pitch w:val=\"variable\" /></w:font></w:fonts>";
