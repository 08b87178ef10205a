//! The conversation: a question, a line of answer, again if it was none.

use std::io::{self, BufRead, IsTerminal};

use super::super::failure::Failure;
use super::super::terminal::Terminal;
use crate::report::numbers::clean;
use crate::starting::{Answers, QUESTIONS, Question, Reply, Sort};

/// Longest line that is taken for an answer.
const MOST_BYTES: usize = 4096;

/// What a line means.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Typed {
    /// An answer.
    Answer(Reply),
    /// `?`
    Explain,
    /// `b`
    Back,
}

/// What was typed.
pub(super) fn reply_of(line: &str) -> Typed {
    let text = line.trim();
    match text.to_lowercase().replace('\u{2019}', "'").as_str() {
        "" | "usual" => Typed::Answer(Reply::Usual),
        "d" | "don't know" | "dont know" | "unknown" => Typed::Answer(Reply::Unknown),
        "?" => Typed::Explain,
        "b" | "back" => Typed::Back,
        _ => Typed::Answer(Reply::Typed(text.to_owned())),
    }
}

/// Puts a reply among the answers, or says what would be right.
type Take<'a> = dyn FnMut(usize, Reply, &mut Answers) -> Result<(), String> + 'a;

/// Asks what is not given.
///
/// # Errors
/// When the answers end before the questions do: nothing is written then.
pub(super) fn ask(
    given: &[bool],
    answers: &mut Answers,
    quiet: bool,
    take: &mut Take<'_>,
) -> Result<(), Failure> {
    let input = io::stdin();
    let typing = input.is_terminal();
    // A person at the keyboard must see the questions, however quiet the answer is to be.
    let terminal = Terminal::new(quiet && !typing);
    terminal.note(&greeting(typing));
    let mut lines = input.lock();
    let mut asked: Vec<usize> = Vec::new();
    let mut place = 0;
    while let Some(question) = QUESTIONS.get(place) {
        if given.get(place).copied().unwrap_or(false) || (question.needless)(answers) {
            place += 1;
            continue;
        }
        terminal.note(&heading(place, &asked));
        match answer(question, answers, &mut lines, &terminal, place, take)? {
            Next::Forward => {
                asked.push(place);
                place += 1;
            }
            Next::Back => match asked.pop() {
                Some(earlier) => place = earlier,
                None => terminal.note("     This is the first question.\n"),
            },
        }
    }
    terminal.note("\n");
    Ok(())
}

enum Next {
    Forward,
    Back,
}

/// One question, until it is answered.
fn answer(
    question: &Question,
    answers: &mut Answers,
    lines: &mut dyn BufRead,
    terminal: &Terminal,
    place: usize,
    take: &mut Take<'_>,
) -> Result<Next, Failure> {
    loop {
        terminal.note(&prompt(question, answers));
        let Some(line) = read_line(lines)? else {
            terminal.note("\n");
            return Err(ended(question));
        };
        match reply_of(&line) {
            Typed::Explain => terminal.note(&indented(question.explain)),
            Typed::Back => return Ok(Next::Back),
            Typed::Answer(reply) => match take(place, reply, answers) {
                Ok(()) => return Ok(Next::Forward),
                Err(right) => terminal.note(&indented(&format!("Not understood: {}.", clean(&right)))),
            },
        }
    }
}

fn greeting(typing: bool) -> String {
    let how =
        if typing { "\n" } else { "\nStandard input is no terminal: each of its lines is an answer.\n" };
    format!(
        "Ten questions about your home and the quote in your hand.\n\
         Enter takes the answer in [brackets], with its usual range. d is \"don't know\": the study then takes a wide\n\
         range. ? explains a question, b goes back, Ctrl+D stops and writes nothing.\n{how}"
    )
}

fn heading(place: usize, asked: &[usize]) -> String {
    let Some(question) = QUESTIONS.get(place) else { return String::new() };
    let number = |p: &usize| QUESTIONS.get(*p).map(|q| q.number);
    if asked.last().and_then(number) == Some(question.number) {
        return String::new();
    }
    let first = QUESTIONS.iter().find(|q| q.number == question.number);
    let words = first.and_then(|q| q.heading).map_or_else(String::new, |words| format!("  {words}"));
    format!("\n{} of {}{words}\n", question.number, Question::total())
}

fn prompt(question: &Question, answers: &Answers) -> String {
    let money = matches!(
        question.flag,
        "heat-price"
            | "export-price"
            | "controller"
            | "electrician"
            | "element"
            | "other"
            | "promised-saving"
    );
    let unit = if money { format!(" {}", answers.currency()) } else { String::new() };
    let usual = (question.usual)(answers);
    let unit = if question.sort == Sort::Figure && usual.bytes().any(|b| b.is_ascii_digit()) {
        unit
    } else {
        String::new()
    };
    format!("     {} [{usual}{unit}] ", question.ask)
}

fn indented(text: &str) -> String {
    let mut out = String::from("    ");
    let mut width = 4;
    for word in text.split(' ') {
        if width + word.chars().count() > 92 {
            out.push_str("\n    ");
            width = 4;
        }
        out.push(' ');
        out.push_str(word);
        width += 1 + word.chars().count();
    }
    out + "\n"
}

/// A line; None at the end of the input. A line that never ends is cut, its rest thrown away.
fn read_line(lines: &mut dyn BufRead) -> Result<Option<String>, Failure> {
    let mut kept = Vec::new();
    let mut any = false;
    loop {
        let read = lines.fill_buf().map_err(|e| Failure::Machine(format!("cannot read the answers: {e}")))?;
        if read.is_empty() {
            break;
        }
        any = true;
        let end = read.iter().position(|b| *b == b'\n');
        let (part, used) = end.map_or((read, read.len()), |at| (&read[..at], at + 1));
        kept.extend_from_slice(&part[..part.len().min(MOST_BYTES.saturating_sub(kept.len()))]);
        lines.consume(used);
        if end.is_some() {
            break;
        }
    }
    Ok(any.then(|| String::from_utf8_lossy(&kept).into_owned()))
}

fn ended(question: &Question) -> Failure {
    Failure::Usage {
        message: format!(
            "the answers ended at question {} (--{}); nothing is written",
            question.number, question.flag
        ),
        hint: "answer all ten, or say --rest usual or --rest unknown for what no flag answers".into(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_endless_line_is_cut_and_the_next_one_is_whole() {
        let text = format!("{}\n3\n", "9".repeat(1_000_000));
        let mut lines = io::BufReader::new(text.as_bytes());
        assert_eq!(read_line(&mut lines).map(|l| l.map(|l| l.len())), Ok(Some(MOST_BYTES)));
        assert_eq!(read_line(&mut lines), Ok(Some("3".to_owned())));
        assert_eq!(read_line(&mut lines), Ok(None));
    }

    #[test]
    fn words_of_the_conversation_are_no_answers() {
        assert_eq!(reply_of(" ? \n"), Typed::Explain);
        assert_eq!(reply_of("B"), Typed::Back);
        assert_eq!(reply_of("Don\u{2019}t know"), Typed::Answer(Reply::Unknown));
        assert_eq!(reply_of("\r\n"), Typed::Answer(Reply::Usual));
        assert_eq!(reply_of(" 3 "), Typed::Answer(Reply::Typed("3".into())));
    }
}
