//! Pictures and drawings set into the page.

use std::borrow::Cow;

use maud::{Markup, PreEscaped, html};

use super::Page;
use super::ids::Place;
use super::text::legal;
use crate::report::document::{Drawing, Picture};

/// Widest picture that stands beside another.
const SMALL_POINTS: f64 = 400.0;

impl Page {
    pub(super) fn picture(&mut self, picture: &Picture) -> Markup {
        let id = self.ids.claim(Place::Picture, &picture.id);
        let label = format!("Picture: {}", legal(&picture.caption));
        let svg = self.inlined(&picture.svg, &picture.caption, Some(&picture.alternative));
        html! {
            figure.small[is_small(&picture.svg)] id=(id) {
                div.scroll role="group" tabindex="0" aria-label=(label) { (PreEscaped(svg)) }
                figcaption {
                    span { (legal(&picture.caption)) }
                    @if let Some(number) = picture.number { " " (self.row_number(number)) }
                }
            }
        }
    }

    pub(super) fn drawing(&mut self, drawing: &Drawing) -> Markup {
        let svg = self.inlined(&drawing.svg, &drawing.alternative, None);
        html! { span.drawing { (PreEscaped(svg)) } }
    }

    /// The picture with a name and a description of its own and ids that no other picture has.
    fn inlined(&mut self, svg: &str, name: &str, description: Option<&str>) -> String {
        self.drawings += 1;
        let prefix = format!("d{}", self.drawings);
        let Some((root, body)) = svg.find("<svg").and_then(|start| svg[start + 4..].split_once('>')) else {
            return String::new();
        };
        let root = without(
            root,
            &["role", "xmlns", "aria-label", "aria-hidden", "aria-labelledby", "aria-describedby"],
        );
        // What nobody has named is an ornament.
        let named = match name {
            "" => " aria-hidden=\"true\"".to_owned(),
            name => format!(" role=\"img\"{}", attribute("aria-label", name)),
        };
        let (described, desc) = match description.filter(|text| !text.is_empty()) {
            Some(text) => (
                format!(" aria-describedby=\"{prefix}d\""),
                html! { desc id={ (prefix) "d" } { (legal(text)) } }.into_string(),
            ),
            None => (String::new(), String::new()),
        };
        let body = shorter(told_elsewhere(body));
        let body = own_ids(&body, &prefix);
        format!("<svg{named}{described}{root}>{desc}{body}")
    }
}

/// Whether the picture can be read at half the width of the page.
fn is_small(svg: &str) -> bool {
    let root = svg.split('>').find(|tag| tag.contains("<svg")).unwrap_or("");
    let width = root.split_once(" width=\"").map(|(_, rest)| rest.trim_start());
    let points = width.and_then(|rest| rest.split(|c: char| !c.is_ascii_digit() && c != '.').next());
    points.and_then(|points| points.parse::<f64>().ok()).is_some_and(|points| points <= SMALL_POINTS)
}

fn attribute(name: &str, value: &str) -> String {
    format!(" {name}=\"{}\"", html! { (legal(value)) }.into_string())
}

/// The root's attributes without those of these names.
fn without(root: &str, names: &[&str]) -> String {
    let mut kept = root.to_owned();
    for name in names {
        let start = format!(" {name}=\"");
        while let Some(at) = kept.find(&start) {
            let value = at + start.len();
            let end = kept[value..].find('"').map_or(kept.len(), |end| value + end + 1);
            kept.replace_range(at..end, "");
        }
    }
    kept
}

/// What follows the title and description at the head of the picture: the page says both itself.
fn told_elsewhere(body: &str) -> &str {
    let mut rest = body.trim_start();
    for (start, end) in [("<title", "</title>"), ("<desc", "</desc>")] {
        if rest.starts_with(start) {
            rest = rest.split_once(end).map_or(rest, |(_, after)| after).trim_start();
        }
    }
    rest
}

/// Without what is said for every mark and goes without saying here: the typeface is the page's.
fn shorter(body: &str) -> String {
    let spared = [" font-family=\"Inter, Helvetica, Arial, sans-serif\"", " opacity=\"1\""];
    let mut out = body.to_owned();
    for spared in spared {
        out = in_tags(&out, |tag| tag.replace(spared, "").into());
    }
    out
}

/// Ids, and what refers to them, with a prefix.
fn own_ids(body: &str, prefix: &str) -> String {
    if !body.contains(" id=\"") {
        return body.to_owned();
    }
    in_tags(body, |tag| {
        let mut tag = Cow::Borrowed(tag);
        for refers in [" id=\"", "url(#", "href=\"#", "labelledby=\"", "describedby=\""] {
            if tag.contains(refers) {
                tag = tag.replace(refers, &format!("{refers}{prefix}")).into();
            }
        }
        tag
    })
}

/// The text with each of its tags changed and all between them as it is.
fn in_tags<'a>(body: &'a str, change: impl Fn(&'a str) -> Cow<'a, str>) -> String {
    let mut out = String::with_capacity(body.len());
    let mut rest = body;
    while let Some(start) = rest.find('<') {
        let (between, tag) = rest.split_at(start);
        out.push_str(between);
        let (tag, after) = tag.split_at(tag_end(tag));
        out.push_str(&change(tag));
        rest = after;
    }
    out.push_str(rest);
    out
}

/// Where the tag at the start of the text ends; a `>` in quotation marks does not end it.
fn tag_end(text: &str) -> usize {
    let mut quote = None;
    for (at, byte) in text.bytes().enumerate() {
        match (quote, byte) {
            (None, b'>') => return at + 1,
            (None, b'"' | b'\'') => quote = Some(byte),
            (Some(open), _) if open == byte => quote = None,
            _ => {}
        }
    }
    text.len()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ids_change_in_tags_and_nowhere_else() {
        let body = "<g id=\"a\"/><path fill=\"url(#a)\" d=\"M0 0\"/><use href=\"#a\"/><text> id=\"a\" url(#a)</text>";
        let own = "<g id=\"d7a\"/><path fill=\"url(#d7a)\" d=\"M0 0\"/><use href=\"#d7a\"/><text> id=\"a\" url(#a)</text>";
        assert_eq!(own_ids(body, "d7"), own);
    }

    #[test]
    fn a_tag_ends_outside_of_quotation_marks() {
        assert_eq!(tag_end("<a b=\">\" c='>\"'>x>"), 16);
        assert_eq!(in_tags("<a b=\">\">t</a>", |tag| tag.replace('a', "z").into()), "<z b=\">\">t</z>");
        assert_eq!(in_tags("1 < 2", Into::into), "1 < 2");
    }

    #[test]
    fn only_small_pictures_stand_side_by_side() {
        assert!(is_small("<svg width=\"320pt\" height=\"1pt\"><g/></svg>"));
        assert!(!is_small("<svg width=\"640pt\" height=\"1pt\"><g width=\"3\"/></svg>"));
        assert!(!is_small("<svg viewBox=\"0 0 1 1\"><g width=\"3\"/></svg>"));
    }

    #[test]
    fn the_root_keeps_its_size() {
        let root = " width=\"640pt\" role=\"img\" xmlns=\"x\" viewBox=\"0 0 1 1\"";
        assert_eq!(without(root, &["role", "xmlns"]), " width=\"640pt\" viewBox=\"0 0 1 1\"");
    }
}
