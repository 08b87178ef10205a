//! The panel of each row of figures: what they are and where they come from.

use maud::{Markup, html};

use super::text::legal;
use crate::report::document::FigureEntry;

/// All panels; each is shown when a figure of its row is chosen.
pub(super) fn panels(entries: &[FigureEntry]) -> Markup {
    html! { @for entry in entries { (panel(entry)) } }
}

fn panel(entry: &FigureEntry) -> Markup {
    let id = format!("f{}", entry.row);
    html! {
        dialog id=(id) popover="auto" aria-labelledby={ (id) "t" } {
            button type="button" popovertarget=(id) popovertargetaction="hide" { "Close" }
            p id={ (id) "t" } { span.kind { (entry.row) } " " strong { (legal(&entry.what)) } }
            @if !entry.figures.is_empty() {
                ul.all {
                    @for (letter, what, full) in &entry.figures {
                        li { span.kind { (letter) } " " (legal(what)) ": " strong { (legal(full)) } }
                    }
                }
            }
            dl {
                (line("Called", entry.name.as_deref(), true))
                (line("Formula", entry.formula.as_deref(), true))
                (reads(entry))
                (line("Source", entry.source.as_deref(), false))
                (line("Behind it", (!entry.behind.is_empty()).then_some(&entry.behind), false))
            }
        }
    }
}

fn line(what: &str, text: Option<&str>, code: bool) -> Markup {
    html! {
        @if let Some(text) = text {
            dt { (what) }
            dd { @if code { code { (legal(text)) } } @else { bdi { (legal(text)) } } }
        }
    }
}

fn reads(entry: &FigureEntry) -> Markup {
    html! {
        @if !entry.reads.is_empty() {
            dt { "Reads" }
            dd {
                ul {
                    @for (name, plain, value) in &entry.reads {
                        li { code { (legal(name)) } " " bdi { (legal(plain)) } ": " (legal(value)) }
                    }
                }
            }
        }
    }
}
