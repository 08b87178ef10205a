//! Names, and words in lists.

use crate::diagnostic::{Diagnostic, Span, suggestion};

/// Words that a formula understands by itself, so that nothing may be called so.
pub(crate) const RESERVED: [&str; 10] =
    ["year", "month", "calendar_year", "days_in_month", "and", "or", "not", "yes", "no", "if"];

/// Longest name; more than this is a paste gone wrong.
pub(super) const MAX_NAME_BYTES: usize = 64;

/// What is wrong with `name` as the name of something that formulas speak of.
pub(crate) fn check_name(name: &str, span: Span) -> Option<Diagnostic> {
    if is_name(name) {
        if name.len() > MAX_NAME_BYTES {
            return Some(
                Diagnostic::error("bad-name", format!("a name has at most {MAX_NAME_BYTES} characters"))
                    .at(span, format!("has {}", name.len()))
                    .hint("keep the name short and say the rest in `label`"),
            );
        }
        if RESERVED.contains(&name) {
            return Some(
                Diagnostic::error(
                    "reserved-word",
                    format!("`{name}` is a word of the formulas and cannot be a name"),
                )
                .at(span, "")
                .hint(format!("call it `{name}_given`, say")),
            );
        }
        return None;
    }
    let rule = "a name is a letter a to z or A to Z, then letters, digits and _";
    let bad = Diagnostic::error("bad-name", format!("`{name}` cannot be a name"));
    if let Some(c) = name.chars().find(|c| !c.is_ascii()) {
        return Some(
            bad.at(span, format!("`{c}` is not a letter a to z"))
                .hint(rule)
                .hint("any script may stand in `label`, which is what the reader sees"),
        );
    }
    let bad = bad.at(span, "").hint(rule);
    let mended = mend(name);
    Some(if is_name(&mended) { bad.hint(format!("`{mended}` would do")) } else { bad })
}

/// Whether `name` is an ASCII letter followed by letters, digits and underscores.
pub(crate) fn is_name(name: &str) -> bool {
    let mut bytes = name.bytes();
    bytes.next().is_some_and(|b| b.is_ascii_alphabetic())
        && bytes.all(|b| b.is_ascii_alphanumeric() || b == b'_')
}

/// The name somebody probably meant.
fn mend(name: &str) -> String {
    let kept: String = name.trim().chars().map(|c| if c.is_ascii_alphanumeric() { c } else { '_' }).collect();
    kept.trim_start_matches(|c: char| !c.is_ascii_alphabetic()).trim_end_matches('_').to_owned()
}

/// The word of `known` that `word` may be a slip of.
pub(crate) fn nearest<'k>(word: &str, known: &[&'k str]) -> Option<&'k str> {
    suggestion::nearest(word, known.iter().copied())
}

/// `a, b and c`, each in backquotes.
pub(crate) fn listed(words: &[&str], last_link: &str) -> String {
    let quoted: Vec<String> = words.iter().map(|w| format!("`{w}`")).collect();
    match quoted.split_last() {
        None => String::new(),
        Some((only, [])) => only.clone(),
        Some((last, rest)) => format!("{} {last_link} {last}", rest.join(", ")),
    }
}
