//! Text within a line.

use std::borrow::Cow;

use maud::{Markup, html};

use super::Page;
use crate::report::document::{FigureNumber, Inline, is_of_the_web};

/// Text without the few characters that no HTML page may hold, and without those that turn the text around them
/// (what a label says must not change how its neighbours read).
pub(super) fn legal(text: &str) -> Cow<'_, str> {
    if text.chars().any(is_barred) {
        Cow::Owned(text.chars().map(|c| if is_barred(c) { ' ' } else { c }).collect())
    } else {
        Cow::Borrowed(text)
    }
}

fn is_barred(c: char) -> bool {
    (c.is_control() && !matches!(c, '\n' | '\t'))
        || matches!(c, '\u{200E}' | '\u{200F}' | '\u{2028}'..='\u{202E}' | '\u{2066}'..='\u{2069}')
        || matches!(u32::from(c) & 0xffff, 0xfffe | 0xffff)
        || matches!(c, '\u{FDD0}'..='\u{FDEF}')
}

impl Page {
    /// Parts of a line. Figures of `row` stand without their number: it is at the end of the row.
    pub(super) fn line(&self, parts: &[Inline], row: Option<u32>) -> Markup {
        html! { @for part in parts { (self.part(part, row)) } }
    }

    fn part(&self, part: &Inline, row: Option<u32>) -> Markup {
        match part {
            Inline::Text(text) => html! { (legal(text)) },
            Inline::Verbatim(text) => html! { bdi { (legal(text)) } },
            Inline::Strong(parts) => html! { strong { (self.line(parts, row)) } },
            Inline::Emphasis(parts) => html! { em { (self.line(parts, row)) } },
            Inline::Code(text) => html! { code { (legal(text)) } },
            Inline::Figure { number, text } => self.figure(*number, text, row),
            Inline::Link { to, text } => match self.ids.target(to) {
                Some(id) => html! { a href={ "#" (id) } { (legal(text)) } },
                None => html! { (legal(text)) },
            },
            Inline::Web { address, text } => web(address, text),
            Inline::Break => html! { br; },
        }
    }

    /// A figure: a button that opens the panel of its row.
    fn figure(&self, number: FigureNumber, text: &str, row: Option<u32>) -> Markup {
        let shown = html! {
            (legal(text))
            @if row != Some(number.row) { sup { (number) } }
        };
        if !self.rows.contains(&number.row) {
            return html! { span.figure { (shown) } };
        }
        html! { button.figure type="button" popovertarget={ "f" (number.row) } { (shown) } }
    }
}

/// A link to the world; what is no such address is only text.
fn web(address: &str, text: &str) -> Markup {
    if !is_of_the_web(address) {
        return html! { (legal(text)) };
    }
    let differs = address != text;
    html! {
        a.told[differs] href=(legal(address)) rel="noreferrer" { (legal(text)) }
    }
}
