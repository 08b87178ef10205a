//! The report's page: what was typed stays text, nothing comes from elsewhere, tables and headings say what they are.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot read its own page has failed")]

#[path = "report_html/made_up.rs"]
mod made_up;

use std::collections::BTreeSet;

use made_up::document;
use payspread::report::html::html;

/// Texts that have broken pages before.
const HOSTILE: [&str; 9] = [
    "<script>alert(1)</script>",
    "\"><img src=x onerror=alert(1)>",
    "' onfocus='alert(1)' autofocus='",
    "</style></title></svg></dialog></table><h1>",
    "=cmd()|'/c calc'!A1",
    "line\nbreak\r\nand\u{0}nul\u{1b}[31m\u{7f}",
    "\u{202e}turned\u{202c} \u{200f}\u{2066}round\u{2029}",
    "&lt;&amp;&quot;&#x41; ]]> --> <!-- {}",
    "\u{fffe}\u{ffff}\u{fdd0} \u{1f600} \u{645}\u{631}\u{62d}\u{628}\u{627}",
];

/// A tag: its name with a stroke if it closes, and its attributes.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Tag {
    name: String,
    attributes: Vec<(String, String)>,
    closes_itself: bool,
}

impl Tag {
    fn get(&self, name: &str) -> Option<&str> {
        self.attributes.iter().find(|(own, _)| own == name).map(|(_, value)| value.as_str())
    }
}

/// Tags of a page in which every attribute stands in double quotation marks or has no value.
fn tags(page: &str) -> Vec<Tag> {
    let mut found = Vec::new();
    let mut rest = page;
    while let Some(start) = rest.find('<') {
        rest = &rest[start + 1..];
        let mut within = false;
        let end = rest.find(|c: char| {
            within ^= c == '"';
            c == '>' && !within
        });
        let (inside, after) = rest.split_at(end.unwrap());
        found.push(tag(inside));
        rest = &after[1..];
        // A style sheet is no markup.
        if inside == "style" {
            rest = &rest[rest.find("</style>").unwrap()..];
        }
    }
    found
}

fn tag(inside: &str) -> Tag {
    let closes_itself = inside.ends_with('/');
    let inside = inside.trim_end_matches('/');
    let (name, mut rest) = inside.split_once(char::is_whitespace).unwrap_or((inside, ""));
    let mut attributes = Vec::new();
    while !rest.trim_start().is_empty() {
        rest = rest.trim_start();
        let name_end = rest.find(|c: char| c == '=' || c.is_whitespace()).unwrap_or(rest.len());
        let (name, after) = rest.split_at(name_end);
        match after.strip_prefix("=\"") {
            Some(value) => {
                let (value, after) = value.split_once('"').unwrap();
                attributes.push((name.to_owned(), value.to_owned()));
                rest = after;
            }
            None => {
                attributes.push((name.to_owned(), String::new()));
                rest = after;
            }
        }
    }
    Tag { name: name.to_owned(), attributes, closes_itself }
}

/// What a browser would do with a page: its tags and what they are told, texts left out.
fn skeleton(page: &str) -> Vec<(String, Vec<(String, String)>)> {
    // Those that hold text, and the policy, which holds a hash of a style sheet that holds the title.
    let texts = ["aria-label", "content"];
    let kept = |mut tag: Tag| {
        // Of a cell whose text has a long word or is short.
        for (_, value) in tag.attributes.iter_mut().filter(|(name, _)| name == "class") {
            *value = value.replace("long", "").replace("short", "").trim().to_owned();
        }
        tag.attributes.retain(|(name, value)| name != "class" || !value.is_empty());
        let attributes = tag.attributes.into_iter().filter(|(name, _)| !texts.contains(&name.as_str()));
        (tag.name, attributes.collect())
    };
    tags(page).into_iter().map(kept).collect()
}

#[test]
fn what_was_typed_changes_no_tag() {
    let plain = skeleton(&html(&document("x", 12)));
    for said in HOSTILE {
        let page = html(&document(said, 12));
        assert!(skeleton(&page) == plain, "{said:?} changes the page");
        let is_barred = |c: char| {
            (c.is_control() && c != '\n')
                || matches!(c, '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
        };
        assert!(!page.contains(is_barred), "{said:?} brings characters that no page may hold");
    }
}

#[test]
fn what_was_typed_is_shown() {
    let page = html(&document(HOSTILE[0], 1));
    assert!(page.contains("<bdi>&lt;script&gt;alert(1)&lt;/script&gt;</bdi>"));
    let page = html(&document(HOSTILE[4], 1));
    assert!(page.contains("=cmd()|'/c calc'!A1"));
}

#[test]
fn a_very_long_text_is_only_long() {
    let long = "long \"<b>\" ".repeat(20_000);
    let page = html(&document(&long, 0));
    assert_eq!(skeleton(&page), skeleton(&html(&document("x", 0))));
}

#[test]
fn nothing_comes_from_elsewhere() {
    let page = html(&document("x", 12));
    let mut web = 0;
    for tag in tags(&page) {
        assert!(!["script", "link", "img", "iframe", "object", "embed", "form"].contains(&tag.name.as_str()));
        for (name, value) in &tag.attributes {
            assert!(
                !name.starts_with("on") && !["src", "srcset", "style", "xlink:href"].contains(&name.as_str())
            );
            if name == "href" && !value.starts_with('#') {
                assert_eq!(value, "https://example.org/a?b=c&amp;d=%22");
                web += 1;
            } else {
                assert!(!value.contains("//"), "{name}={value}");
            }
        }
    }
    assert_eq!(web, 1);
    let style = page.split_once("<style>").unwrap().1.split_once("</style>").unwrap().0;
    let addresses: Vec<&str> = style.split("url(").skip(1).collect();
    assert_eq!(addresses.len(), 2);
    assert!(addresses.iter().all(|address| address.starts_with("data:font/woff2;base64,")));
    assert!(!style.contains("@import") && !style.contains("http"));
}

#[test]
fn every_reference_leads_to_the_one_element_of_its_name() {
    let tags = tags(&html(&document("x", 12)));
    let ids: Vec<&str> = tags.iter().filter_map(|tag| tag.get("id")).collect();
    let once: BTreeSet<&str> = ids.iter().copied().collect();
    assert_eq!(once.len(), ids.len());
    let mut references = 0;
    for tag in &tags {
        for (name, value) in &tag.attributes {
            let to = match name.as_str() {
                "popovertarget" | "aria-labelledby" | "aria-describedby" => value.as_str(),
                "href" if value.starts_with('#') => &value[1..],
                "fill" if value.starts_with("url(#") => &value[5..value.len() - 1],
                _ => continue,
            };
            assert!(once.contains(to), "{name} leads to {to}, which is not there");
            references += 1;
        }
    }
    assert!(references > 60, "{references}");
}

#[test]
fn tags_are_closed_in_order() {
    let void = ["!DOCTYPE", "meta", "br", "col"];
    let mut open: Vec<String> = Vec::new();
    for tag in tags(&html(&document("x", 12))) {
        if let Some(closed) = tag.name.strip_prefix('/') {
            assert_eq!(open.pop().as_deref(), Some(closed));
        } else if !tag.closes_itself && !void.contains(&tag.name.as_str()) {
            open.push(tag.name);
        }
    }
    assert!(open.is_empty(), "{open:?}");
}

#[test]
fn headings_go_down_one_step_at_a_time() {
    let tags = tags(&html(&document("x", 12)));
    let level = |tag: &Tag| tag.name.strip_prefix('h').and_then(|level| level.parse::<u32>().ok());
    let levels: Vec<u32> = tags.iter().filter_map(level).collect();
    assert_eq!(levels, [1, 2, 2, 3, 4, 5, 2, 2, 2]);
}

#[test]
fn tables_say_what_their_cells_belong_to() {
    let page = html(&document("x", 12));
    let tables: Vec<&str> =
        page.split("<table ").skip(1).map(|t| t.split_once("</table>").unwrap().0).collect();
    assert_eq!(tables.len(), 2);
    for table in tables {
        let tags = tags(&format!("<table {table}"));
        let named = |name: &str| tags.iter().filter(|tag| tag.name == name).count();
        assert_eq!((named("caption"), named("thead")), (1, 1));
        for th in tags.iter().filter(|tag| tag.name == "th") {
            assert!(["col", "row", "rowgroup"].contains(&th.get("scope").unwrap()), "{th:?}");
        }
        let columns = named("col");
        for row in table.split("<tr").skip(1) {
            let cells =
                row.matches("<td").count() + row.matches("<th").count() - row.matches("<thead").count();
            let all_over = row.contains(&format!("colspan=\"{columns}\""));
            assert!(cells == columns || (all_over && cells == 1), "{cells} of {columns}: {row}");
        }
    }
}

#[test]
fn every_figure_shows_its_number() {
    let document = document("x", 12);
    let page = html(&document);
    for entry in &document.figures {
        let row = entry.row;
        let opens = format!("popovertarget=\"f{row}\"");
        let at_row_end = page.contains(&format!("{opens}>{row}</button>"));
        for (letter, _, _) in &entry.figures {
            let beside = page.contains(&format!("<sup>{row}{letter}</sup></button>"));
            assert!(at_row_end || beside, "{row}{letter}");
            assert!(page.contains(&format!("<span class=\"kind\">{letter}</span>")));
        }
        assert!(page.contains(&format!("<dialog id=\"f{row}\" popover=\"auto\"")));
    }
}

#[test]
fn pictures_say_what_they_show() {
    let page = html(&document("said", 2));
    let svgs: Vec<Tag> = tags(&page).into_iter().filter(|tag| tag.name == "svg").collect();
    assert_eq!(svgs.len(), 8);
    for svg in svgs {
        assert_eq!(svg.get("role"), Some("img"));
        assert!(svg.get("aria-label").unwrap().contains("said"));
        assert!(svg.get("viewBox").is_some() && svg.get("width").is_some());
    }
    assert!(page.contains("In 6 of 10 runs it pays back. said</desc>"));
}

#[test]
fn the_same_document_is_the_same_page() {
    assert!(html(&document("x", 40)) == html(&document("x", 40)));
}

#[test]
fn an_empty_document_is_a_page() {
    let page = html(&payspread::report::document::Document::default());
    assert!(page.starts_with("<!DOCTYPE html>") && page.ends_with("</html>"));
}
