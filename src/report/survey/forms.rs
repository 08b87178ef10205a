//! The form as text of 80 columns and as HTML for A4.

use maud::{DOCTYPE, Markup, PreEscaped, html as markup};

use super::{Line, Page};
use crate::wording::shortened;

/// Columns of a page of text.
pub const WIDTH: usize = 80;
/// Most lines of a page of text.
pub const LINES: usize = 66;

/// As text, page after page.
pub fn text(heading: &str, pages: &[Page]) -> Vec<String> {
    let total = pages.len();
    pages.iter().enumerate().map(|(at, page)| text_page(heading, page, at + 1, total)).collect()
}

fn text_page(heading: &str, page: &Page, number: usize, total: usize) -> String {
    let mut out = String::new();
    let right = format!("Page {number} of {total}");
    let left = shortened(&format!("{heading}: {}", page.title), WIDTH - right.len() - 2);
    let gap = WIDTH.saturating_sub(left.chars().count() + right.len());
    push(&mut out, &format!("{left}{}{right}", " ".repeat(gap)));
    if number == 1 {
        push(&mut out, "Site _____________________  Visitor _____________  Date and hour _____________");
    }
    lists(&mut out, &page.first);
    for (heading, lines) in &page.parts {
        push(
            &mut out,
            &format!("-- {heading} {}", "-".repeat(WIDTH.saturating_sub(heading.chars().count() + 4))),
        );
        for line in lines {
            text_line(&mut out, line);
        }
    }
    lists(&mut out, &page.last);
    out
}

fn lists(out: &mut String, lists: &[(String, Vec<String>)]) {
    for (heading, lines) in lists {
        push(out, &format!("-- {heading} {}", "-".repeat(WIDTH.saturating_sub(heading.chars().count() + 4))));
        for line in lines {
            wrapped(out, "- ", "  ", line);
        }
    }
}

fn text_line(out: &mut String, line: &Line) {
    let what = shortened(&line.what, 45);
    let pad = 46_usize.saturating_sub(what.chars().count());
    push(
        out,
        &format!("{what}{}{:<11}____________ {}", " ".repeat(pad), line.error, shortened(&line.unit, 10)),
    );
    let room = WIDTH.saturating_sub(9 + line.goes_to.chars().count());
    if room >= SHORTEST || line.how.chars().count() <= room {
        push(out, &format!("     {} -> {}", shortened(&line.how, room), line.goes_to));
    } else {
        wrapped(out, "     ", "       ", &format!("{} -> {}", shortened(&line.how, WIDTH / 2), line.goes_to));
    }
}

/// Words over as many lines as they take.
fn wrapped(out: &mut String, first: &str, further: &str, text: &str) {
    let mut line = String::new();
    let mut start = first;
    for word in text.split(' ') {
        let width = start.len() + line.chars().count() + 1 + word.chars().count();
        if width > WIDTH && !line.is_empty() {
            push(out, &format!("{start}{line}"));
            line.clear();
            start = further;
        }
        if !line.is_empty() {
            line.push(' ');
        }
        line.push_str(word);
    }
    push(out, &format!("{start}{line}"));
}

fn push(out: &mut String, line: &str) {
    out.push_str(shortened(line, WIDTH).trim_end());
    out.push('\n');
}

/// Fewest columns in which a way of reading can still be told.
const SHORTEST: usize = 44;

const STYLE: &str = "\
@page{size:A4;margin:11mm 12mm}\
*{box-sizing:border-box}\
body{margin:0 auto;max-width:186mm;font:8.6pt/1.28 system-ui,-apple-system,'Segoe UI',Roboto,'Liberation Sans',sans-serif;color:#111;background:#fff}\
section{break-after:page;padding:2mm 0}section:last-of-type{break-after:auto}\
header{display:flex;justify-content:space-between;align-items:baseline;border-bottom:1.5pt solid #111;margin-bottom:1.5mm}\
h1,h2{font-size:12pt;margin:0}h3{font-size:9.2pt;margin:2.2mm 0 .6mm}\
.who{display:flex;gap:5mm;margin:2mm 0}.who span{flex:1;border-bottom:.6pt solid #111;padding-top:3mm}\
table{border-collapse:collapse;width:100%;table-layout:fixed}\
th,td{border:.5pt solid #777;padding:.45mm 1mm;text-align:left;vertical-align:middle;overflow-wrap:anywhere}\
thead th{background:#eee;font-weight:600;font-size:7.6pt}tbody th{font-weight:600}\
.figure{text-align:right;color:#444;font-size:7.4pt}.to{font:7.4pt ui-monospace,'Liberation Mono',monospace}\
ul{margin:0;padding-left:4.5mm}.safety{border:1.2pt solid #111;padding:.8mm 1.5mm}\
.safety h3{margin-top:0}";

/// As one HTML document.
pub fn html(heading: &str, pages: &[Page]) -> String {
    let total = pages.len();
    let document = markup! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (heading) }
                style { (PreEscaped(STYLE)) }
            }
            body {
                main {
                    @for (at, page) in pages.iter().enumerate() { (html_page(heading, page, at + 1, total)) }
                }
            }
        }
    };
    document.into_string() + "\n"
}

fn html_page(heading: &str, page: &Page, number: usize, total: usize) -> Markup {
    markup! {
        section {
            header {
                @if number == 1 { h1 { (heading) ": " (page.title) } } @else { h2 { (heading) ": " (page.title) } }
                span { "Page " (number) " of " (total) }
            }
            @if number == 1 { div.who { span { "Site" } span { "Visitor" } span { "Date and hour" } } }
            @for (heading, lines) in &page.first { div.safety { (html_list(heading, lines)) } }
            @for (heading, lines) in &page.parts {
                h3 { (heading) }
                (html_table(lines))
            }
            @for (heading, lines) in &page.last { (html_list(heading, lines)) }
        }
    }
}

fn html_list(heading: &str, lines: &[String]) -> Markup {
    markup! {
        h3 { (heading) }
        ul { @for line in lines { li { (line) } } }
    }
}

/// A study's own form tells what is known now, the general one with what error it can be had.
fn heads(lines: &[Line]) -> [&'static str; 5] {
    let known = lines.iter().any(|line| line.error.starts_with("now "));
    if known {
        ["What", "Source now", "Now", "Figure", "Goes to"]
    } else {
        ["What", "How", "Error", "Figure", "Goes to"]
    }
}

fn html_table(lines: &[Line]) -> Markup {
    markup! {
        table {
            colgroup {
                col style="width:29%"; col style="width:28%"; col style="width:9%"; col style="width:17%"; col style="width:17%";
            }
            thead {
                tr {
                    @for head in heads(lines) { th scope="col" { (head) } }
                }
            }
            tbody {
                @for line in lines {
                    tr {
                        th scope="row" { (line.what) }
                        td { (line.how) }
                        // The heading says "now" already.
                        td { (line.error.strip_prefix("now ").unwrap_or(&line.error)) }
                        td.figure { (line.unit) }
                        td.to { (line.goes_to) }
                    }
                }
            }
        }
    }
}
