//! Numbers of a document in the format that the study asks for.
//!
//! Our texts write 1,234.5, and nothing else in them looks like that: a number is rewritten only where it has groups
//! or decimals, so years, dates, versions and hashes stay as they are.

use super::{Block, Cell, Document, Inline, Picture, Section, Table};
use crate::study::NumberStyle;

/// `text`, whose numbers are written as in 1,234.5, with its numbers in `style`.
pub fn styled(text: &str, style: NumberStyle) -> String {
    if style == NumberStyle::CommaPoint {
        return text.to_owned();
    }
    let is_part = |c: char| c.is_ascii_digit() || c == '.' || c == ',';
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(at) = rest.find(|c: char| c.is_ascii_digit()) {
        let (before, from) = rest.split_at(at);
        let length = from.find(|c| !is_part(c)).unwrap_or(from.len());
        let (run, after) = from.split_at(length);
        let written = run.trim_end_matches(['.', ',']);
        out.push_str(before);
        let tail = &run[written.len()..];
        if stands_alone(&out, tail, after) {
            out.push_str(&restyled(written, style));
        } else {
            out.push_str(written);
        }
        out.push_str(tail);
        rest = after;
    }
    out + rest
}

/// Whether what stands before and after lets it be a number: not part of a name, a date, a version, or an exponent.
fn stands_alone(before: &str, tail: &str, after: &str) -> bool {
    let word = |c: Option<char>| c.is_some_and(|c| c.is_alphanumeric() || c == '_');
    let mut back = before.chars().rev();
    let last = back.next();
    let joined = matches!(last, Some('-' | '.' | '/' | ':')) && word(back.next());
    let next = after.chars().next();
    let goes_on = word(next) || (next == Some('-') && tail.is_empty() && word(after.chars().nth(1)));
    !word(last) && !joined && !goes_on
}

/// One number, if it is written as ours are.
fn restyled(number: &str, style: NumberStyle) -> String {
    let (whole, decimals) = number.split_once('.').map_or((number, None), |(whole, d)| (whole, Some(d)));
    let mut groups = whole.split(',');
    let first = groups.next().unwrap_or_default();
    let is_grouped = whole.contains(',');
    let digits = |text: &str| !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
    let right = digits(first)
        && (!is_grouped || first.len() <= 3)
        && groups.all(|group| group.len() == 3 && digits(group))
        && decimals.is_none_or(digits);
    if !right {
        return number.to_owned();
    }
    let (group, point) = match style {
        NumberStyle::CommaPoint => (",", "."),
        NumberStyle::SpacePoint => ("\u{202f}", "."),
        NumberStyle::SpaceComma => ("\u{202f}", ","),
        NumberStyle::PointComma => (".", ","),
        NumberStyle::ApostrophePoint => ("'", "."),
        NumberStyle::PlainPoint => ("", "."),
        NumberStyle::PlainComma => ("", ","),
    };
    let whole = whole.replace(',', group);
    decimals.map_or(whole.clone(), |d| format!("{whole}{point}{d}"))
}

/// Puts all numbers of a document into `style`; what is verbatim stays as it is.
pub fn apply(document: &mut Document, style: NumberStyle) {
    if style == NumberStyle::CommaPoint {
        return;
    }
    document.sections.iter_mut().for_each(|section| in_section(section, style));
    for entry in &mut document.figures {
        for (_, what, value) in &mut entry.figures {
            restyle(what, style);
            restyle(value, style);
        }
        entry.reads.iter_mut().for_each(|(_, _, value)| restyle(value, style));
        restyle(&mut entry.behind, style);
    }
}

fn restyle(text: &mut String, style: NumberStyle) {
    *text = styled(text, style);
}

fn in_section(section: &mut Section, style: NumberStyle) {
    restyle(&mut section.heading, style);
    section.blocks.iter_mut().for_each(|block| in_block(block, style));
    section.sections.iter_mut().for_each(|part| in_section(part, style));
}

fn in_block(block: &mut Block, style: NumberStyle) {
    match block {
        Block::Lead(line) | Block::Paragraph(line) => in_line(line, style),
        Block::List { items, .. } => items.iter_mut().flatten().for_each(|block| in_block(block, style)),
        Block::Table(table) => in_table(table, style),
        Block::Picture(picture) => in_picture(picture, style),
        Block::Pictures(pictures) => pictures.iter_mut().for_each(|picture| in_picture(picture, style)),
        Block::Note { heading, blocks, .. } => {
            restyle(heading, style);
            blocks.iter_mut().for_each(|block| in_block(block, style));
        }
    }
}

fn in_line(line: &mut [Inline], style: NumberStyle) {
    for part in line {
        match part {
            Inline::Text(text) | Inline::Figure { text, .. } | Inline::Link { text, .. } => {
                restyle(text, style);
            }
            Inline::Strong(line) | Inline::Emphasis(line) => in_line(line, style),
            Inline::Verbatim(_) | Inline::Code(_) | Inline::Web { .. } | Inline::Break => {}
        }
    }
}

fn in_table(table: &mut Table, style: NumberStyle) {
    restyle(&mut table.caption, style);
    table.columns.iter_mut().for_each(|column| restyle(&mut column.heading, style));
    table.rows.iter_mut().flat_map(|row| &mut row.cells).for_each(|cell| in_cell(cell, style));
    table.notes.iter_mut().for_each(|note| in_line(note, style));
}

fn in_cell(cell: &mut Cell, style: NumberStyle) {
    in_line(&mut cell.content, style);
    if let Some(drawing) = &mut cell.drawing {
        restyle(&mut drawing.alternative, style);
        drawing.svg = in_svg(&drawing.svg, style);
    }
}

fn in_picture(picture: &mut Picture, style: NumberStyle) {
    restyle(&mut picture.caption, style);
    restyle(&mut picture.alternative, style);
    picture.svg = in_svg(&picture.svg, style);
}

/// What an SVG shows and says as text; its coordinates stay.
fn in_svg(svg: &str, style: NumberStyle) -> String {
    const SAID: [&str; 4] = ["text", "tspan", "title", "desc"];
    let mut out = String::with_capacity(svg.len() + 64);
    let mut rest = svg;
    let mut depth = 0_usize;
    while let Some(at) = rest.find('<') {
        let (words, tag) = rest.split_at(at);
        let end = tag.find('>').map_or(tag.len(), |end| end + 1);
        let said = if depth > 0 { styled(words, style) } else { words.to_owned() };
        out.push_str(&said);
        let name = tag[1..end].trim_start_matches('/');
        let name = name.split(|c: char| !c.is_ascii_alphabetic()).next().unwrap_or_default();
        if SAID.contains(&name) && !tag[..end].ends_with("/>") {
            depth = if tag.starts_with("</") { depth.saturating_sub(1) } else { depth + 1 };
        }
        out.push_str(&tag[..end]);
        rest = &tag[end..];
    }
    // Words of a drawing that breaks off are words all the same.
    out + &if depth > 0 { styled(rest, style) } else { rest.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::study::NUMBER_STYLES;
    use proptest::prelude::*;

    #[test]
    fn every_style_writes_its_own_example() {
        for (example, style) in NUMBER_STYLES {
            let narrow = example.replace(' ', "\u{202f}");
            assert_eq!(styled("1,234.5", style), narrow);
            assert_eq!(styled("about -1,234.5 EUR, or so", style), format!("about -{narrow} EUR, or so"));
        }
    }

    #[test]
    fn numbers_and_what_only_looks_like_one() {
        for (text, changed) in [
            ("12,345,678.25 kWh", "12.345.678,25 kWh"),
            ("0.075 EUR/kWh [0.07, 0.08]", "0,075 EUR/kWh [0,07, 0,08]"),
            ("from 0.5 to 1,000.", "from 0,5 to 1.000."),
            ("(1,234)", "(1.234)"),
            ("0.055\u{2192}0.020", "0,055\u{2192}0,020"),
            ("2.5 %, 97.5 %", "2,5 %, 97,5 %"),
            ("=-3.5", "=-3,5"),
            ("7.", "7."),
        ] {
            assert_eq!(styled(text, NumberStyle::PointComma), changed);
        }
        for kept in [
            "2027",
            "2026-11-28",
            "1.2.3",
            "1e-9",
            "2.00e16",
            "years 2030,2031",
            "1,2",
            "1234,567",
            "v1.5",
            "study-1.5.toml",
            "1.5.toml",
            "3f9.1a",
            "x_1.5",
            "127.0.0.1",
            "1,23.4",
            "12,345,67",
            "28.11.2026",
        ] {
            assert_eq!(styled(kept, NumberStyle::PointComma), kept);
        }
    }

    #[test]
    fn only_the_words_of_a_drawing_change() {
        let svg = "<svg width=\"1.5pt\"><title>At 1.5</title><path d=\"M1.5,2.5\"/><g>9.5</g>\
                   <text x=\"1.25\">2.5 <tspan dy=\"0.5\">1,000</tspan></text></svg>";
        let got = in_svg(svg, NumberStyle::PointComma);
        assert_eq!(
            got,
            "<svg width=\"1.5pt\"><title>At 1,5</title><path d=\"M1.5,2.5\"/><g>9.5</g>\
             <text x=\"1.25\">2,5 <tspan dy=\"0.5\">1.000</tspan></text></svg>"
        );
        assert_eq!(in_svg("<text>1.5", NumberStyle::PointComma), "<text>1,5");
        assert_eq!(in_svg("<text", NumberStyle::PointComma), "<text");
    }

    #[test]
    fn what_is_verbatim_stays() {
        let mut line = vec![
            Inline::Verbatim("1,234.5".into()),
            Inline::Code("0.5 * x".into()),
            Inline::Strong(vec![Inline::Text("1,234.5".into())]),
        ];
        in_line(&mut line, NumberStyle::PlainComma);
        assert_eq!(line[0], Inline::Verbatim("1,234.5".into()));
        assert_eq!(line[1], Inline::Code("0.5 * x".into()));
        assert_eq!(line[2], Inline::Strong(vec![Inline::Text("1234,5".into())]));
    }

    proptest! {
        /// Digits are never lost, whatever the text; a text without groups and decimals stays.
        #[test]
        fn no_digit_is_lost(text in ".{0,60}", place in 0_usize..7) {
            let style = NUMBER_STYLES[place].1;
            let digits = |t: &str| t.chars().filter(char::is_ascii_digit).collect::<String>();
            prop_assert_eq!(digits(&styled(&text, style)), digits(&text));
            let bare: String = text.chars().filter(|c| !matches!(c, '.' | ',')).collect();
            prop_assert_eq!(styled(&bare, style), bare);
        }

        /// The value of a number can be read back from every style.
        #[test]
        fn values_come_back(value in -1e9_f64..1e9, places in 0_i32..5, place in 0_usize..7) {
            let ours = crate::wording::grouped(value, places);
            let style = NUMBER_STYLES[place].1;
            let point = if matches!(style, NumberStyle::SpaceComma | NumberStyle::PointComma | NumberStyle::PlainComma) { ',' } else { '.' };
            let back: String = styled(&ours, style).chars().filter(|c| c.is_ascii_digit() || *c == '-' || *c == point)
                .map(|c| if c == point { '.' } else { c }).collect();
            prop_assert_eq!(back, ours.replace(',', ""));
        }
    }
}
