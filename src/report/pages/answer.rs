//! Page one: the answer in plain words, for who reads nothing else.

use super::book::{Book, bullets, said, text, verbatim};
use crate::analysis::Lever;
use crate::report::document::{Block, Inline, NoteKind, Picture, Section};
use crate::report::terminal::flip;
use crate::report::words::{Touches, cautions_in_short, sentences};
use crate::report::{choosing, words};
use crate::wording::{clean, figure, in_sentence, with_unit};

/// Bars that are told.
const TOLD: usize = 4;
/// Charts of page one, each the first of these that there is and that does not stand there already.
const CHARTS: [&[&str]; 4] = [
    &["hundred"],
    &["payback", "cash", "result"],
    &["tornado", "result"],
    &["break-even", "alternatives", "result", "cash"],
];

pub(super) fn section(book: &mut Book<'_>) -> Section {
    let answers = book.material.answers;
    let mut blocks: Vec<Block> =
        sentences(answers).into_iter().map(|sentence| Block::Lead(vec![text(sentence)])).collect();
    blocks.extend(book.words("answer"));
    blocks.extend(odds(book));
    blocks.extend(pictures(book));
    blocks.extend(hangs_on(book));
    blocks.extend(would_change(book));
    blocks.extend(promised(book));
    blocks.push(Block::Note {
        kind: NoteKind::Caution,
        heading: "Mind".into(),
        blocks: vec![Block::Paragraph(vec![
            text(cautions_in_short(Touches::of(answers))),
            text(" All of it: "),
            Inline::Link { to: "cautions".into(), text: "Cautions".into() },
            text("."),
        ])],
    });
    Section { id: "answer".into(), heading: "The answer".into(), blocks, ..Section::default() }
}

/// The odds of the headline, with their interval and their number.
fn odds(book: &mut Book<'_>) -> Option<Block> {
    let answers = book.material.answers;
    let headline =
        answers.results.iter().find(|r| r.name == answers.study.headline).or(answers.results.first())?;
    let row = book.row_of(headline);
    let mut line = vec![Inline::Strong(vec![text("The odds: ")])];
    if let Some(success) = &headline.success {
        let share = book.share(row, 'k', &format!("share of runs: {}", clean(&success.rule)), &success.share);
        line.extend([
            text(format!("{} {} in ", words::subject(&headline.label), clean(&success.rule))),
            share,
        ]);
    } else if let Some(never) = &headline.never {
        let share = book.share(row, 'l', "share of runs: never", never);
        line.extend([text(format!("{} never in ", words::subject(&headline.label))), share]);
    } else {
        return None;
    }
    line.push(text(
        " of the futures tried, as a part of 1; in brackets, how far that share is known. The base case, every input at its \
         base value, gives ",
    ));
    let base = base_of(book, headline);
    line.extend([base, text(".")]);
    Some(Block::Paragraph(line))
}

/// The base case in words.
fn base_of(book: &mut Book<'_>, result: &crate::analysis::Summary) -> Inline {
    use crate::analysis::{Figure, ResultKind};
    let row = book.row_of(result);
    if result.kind == ResultKind::YesNo
        && let Figure::Number(x) = result.base
    {
        return book.given(row, 'a', "base case", if x == 0.0 { "no" } else { "yes" }, "");
    }
    let short = figure(result.base, None, &result.unit, book.currency());
    let told = if result.base.number().is_some() { with_unit(&short, &result.unit) } else { short };
    book.given(row, 'a', "base case", &told, "")
}

/// A hundred futures and three charts, two beside two.
fn pictures(book: &mut Book<'_>) -> Option<Block> {
    let mut pictures: Vec<Picture> = Vec::new();
    for names in CHARTS {
        let new = |picture: &Picture| pictures.iter().all(|shown| shown.id != picture.id);
        let found = names.iter().find_map(|name| book.small_picture(name).filter(new));
        pictures.extend(found);
    }
    if pictures.iter().any(|picture| picture.id == "small-hundred") {
        book.leave_out("hundred");
    }
    (!pictures.is_empty()).then_some(Block::Pictures(pictures))
}

/// What it hangs on: the longest bars.
fn hangs_on(book: &mut Book<'_>) -> Vec<Block> {
    let answers = book.material.answers;
    let Some(tornado) = &answers.tornado else { return Vec::new() };
    let rows = tornado.rows.iter().filter(|row| row.span > 0.0 || row.span_is_lower_bound);
    let mut items = Vec::new();
    for row in rows.take(TOLD) {
        let number = super::tables_shown::tornado_row(book, tornado, row);
        let low = book.exact(number, 'a', "result at its low value", row.low, &tornado.unit);
        let high = book.exact(number, 'b', "result at its high value", row.high, &tornado.unit);
        items.push(vec![
            verbatim(&said(&row.label)),
            text(": from "),
            low,
            text(format!(" at {} to ", clean(&row.low_input))),
            high,
            text(format!(" at {}", clean(&row.high_input))),
        ]);
    }
    if items.is_empty() {
        return Vec::new();
    }
    let unit = if tornado.unit.is_empty() { String::new() } else { format!(", in {}", clean(&tornado.unit)) };
    vec![head(&format!("What it hangs on ({}{unit})", in_sentence(&said(&tornado.label)))), bullets(items)]
}

/// Where the answer flips, and what it is worth to find out more.
fn would_change(book: &mut Book<'_>) -> Vec<Block> {
    let answers = book.material.answers;
    let mut told: Vec<(&str, &str)> = Vec::new();
    let mut items = Vec::new();
    for b in &answers.break_even {
        if told.contains(&(&b.of, &b.result)) || told.len() == 3 {
            continue;
        }
        told.push((&b.of, &b.result));
        let said = flip(answers, b);
        let Lever::At(x) = b.base else {
            items.push(vec![text(said)]);
            continue;
        };
        let row = super::tables_shown::break_even_row(book, b);
        let short = figure(crate::analysis::Figure::Number(x), None, &b.of_unit, book.currency());
        let told = with_unit(&short, &b.of_unit);
        let numbered = book.given(row, 'a', "break-even of the base case", &told, "");
        in_words(book, row, &said);
        // Where the sentence has the figure already, it gets its number there.
        let line = match said.split_once(&told) {
            Some((before, after)) => vec![text(before), numbered, text(after)],
            None => vec![text(said), text(" Base case: "), numbered, text(".")],
        };
        items.push(line);
    }
    if let Some(found) = &answers.knowing {
        let said = choosing::knowing_sentences(answers, found);
        if let Some(first) = said.first() {
            let more = said.get(1).map_or_else(String::new, |more| format!(" {more}"));
            items.push(vec![text(format!("Worth of knowing before choosing. {first}{more}"))]);
        }
    }
    if items.is_empty() {
        return Vec::new();
    }
    vec![head("What would change it"), bullets(items)]
}

/// What the seller promised against what is likely.
fn promised(book: &mut Book<'_>) -> Vec<Block> {
    let Some(claim) = &book.material.answers.claim else { return Vec::new() };
    let mut items = Vec::new();
    for promise in &claim.promises {
        let row = super::tables_shown::promise_row(book, promise);
        let share = book.share(row, 'a', "share of runs that keep it", &promise.kept);
        let said = clean(&promise.words);
        in_words(book, row, &said);
        let said = said.trim_end_matches('.');
        items.push(vec![text(format!("{said}; share kept: ")), share, text(".")]);
    }
    items.push(vec![text(clean(&claim.words))]);
    vec![head("What the seller promised, against what is likely"), bullets(items)]
}

/// The whole sentence under the number of a figure in it, since it tells others too.
fn in_words(book: &mut Book<'_>, row: u32, said: &str) {
    book.figures.figure(row, 'z', "In words", said, "");
}

fn head(words: &str) -> Block {
    Block::Paragraph(vec![Inline::Strong(vec![text(words)])])
}
