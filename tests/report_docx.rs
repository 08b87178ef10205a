//! The word-processor document: its parts are sound XML, what was typed stays text, each picture has its words.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot read its own document has failed")]

#[path = "report_html/made_up.rs"]
mod made_up;

use std::io::{Cursor, Read};

use made_up::document;
use payspread::report::docx::docx;

const HOSTILE: [&str; 5] = [
    "<script>alert(1)</script>",
    "\"/><w:p></w:document>",
    "=cmd()|'/c calc'!A1",
    "line\nbreak\r\nand\u{0}nul\u{1b}[31m\u{7f}",
    "\u{202e}turned\u{202c} &amp; ]]> <!-- \u{fffe}\u{ffff}",
];

fn part(bytes: &[u8], name: &str) -> String {
    let mut archive = zip::ZipArchive::new(Cursor::new(bytes)).unwrap();
    let mut text = String::new();
    archive.by_name(name).unwrap().read_to_string(&mut text).unwrap();
    text
}

#[test]
fn the_same_document_gives_the_same_bytes() {
    let made_up = document("plain", 30);
    assert!(docx(&made_up).unwrap() == docx(&made_up).unwrap());
}

#[test]
fn headings_captions_and_header_rows_are_what_they_are_called() {
    let made_up = document("plain", 30);
    let xml = part(&docx(&made_up).unwrap(), "word/document.xml");
    for level in 1..=4 {
        assert!(xml.contains(&format!("<w:pStyle w:val=\"Heading{level}\" />")), "level {level}");
    }
    // Two tables, and pictures: one on page one, one deep down, three side by side, one after.
    assert_eq!(xml.matches(" SEQ Table ").count(), 2);
    assert_eq!(xml.matches(" SEQ Figure ").count(), 6);
    assert_eq!(xml.matches("<w:tblHeader />").count(), 2);
    assert!(xml.contains(" TOC "));
}

#[test]
fn every_picture_has_its_words_and_a_number_of_its_own() {
    // Six pictures, and a drawing in each of thirty rows.
    let xml = part(&docx(&document("plain", 30)).unwrap(), "word/document.xml");
    assert_eq!(xml.matches("<wp:docPr ").count(), 36);
    for k in 1..=36 {
        assert!(xml.contains(&format!("<wp:docPr id=\"{k}\" name=\"Picture {k}\" descr=\"")), "picture {k}");
    }
    assert!(!xml.contains("descr=\"\""));
}

#[test]
fn addresses_of_the_web_are_links_and_others_are_not() {
    let xml = part(&docx(&document("plain", 3)).unwrap(), "word/document.xml");
    let links: Vec<&str> =
        xml.split(" HYPERLINK ").skip(1).map(|rest| rest.split("</w:").next().unwrap()).collect();
    assert!(!links.is_empty());
    for link in links {
        assert!(link.starts_with("\"https://example.org/a?b=c&amp;d=%22\""), "{link}");
    }
    assert!(xml.contains("javascript:alert(1)"));
}

#[test]
fn links_lead_to_bookmarks_and_each_is_there_once() {
    let xml = part(&docx(&document("plain", 3)).unwrap(), "word/document.xml");
    let anchors: Vec<&str> =
        xml.split("w:anchor=\"").skip(1).map(|rest| rest.split_once('"').unwrap().0).collect();
    assert!(!anchors.is_empty());
    for anchor in anchors {
        let places = xml.matches(&format!("w:name=\"{anchor}\"")).count();
        assert_eq!(places, 1, "{anchor}");
    }
}

#[test]
fn what_was_typed_adds_no_tag_and_breaks_no_part() {
    let tags = |said: &str| {
        let bytes = docx(&document(said, 2)).unwrap();
        for name in ["word/document.xml", "word/footer1.xml", "docProps/core.xml"] {
            let xml = part(&bytes, name);
            let allowed = |c: char| matches!(c, '\t' | '\n' | '\r') || (' '..'\u{fffe}').contains(&c);
            assert!(xml.chars().all(|c| allowed(c) || c > '\u{ffff}'), "{name}: {said:?}");
            resvg::usvg::roxmltree::Document::parse(&xml).unwrap();
        }
        let xml = part(&bytes, "word/document.xml");
        xml.split('<').skip(1).map(|tag| tag.split([' ', '>']).next().unwrap().to_owned()).collect::<Vec<_>>()
    };
    let plain = tags("plain");
    for said in HOSTILE {
        assert!(tags(said) == plain, "{said:?}");
    }
}
