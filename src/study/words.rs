//! Names, and the nearest word to a misspelt one.

use crate::diagnostic::{Diagnostic, Span};

/// Words that a formula understands by itself, so that nothing may be called so.
pub(crate) const RESERVED: [&str; 10] =
    ["year", "month", "calendar_year", "days_in_month", "and", "or", "not", "yes", "no", "if"];

/// Longest name; more than this is a paste gone wrong.
const MAX_NAME_BYTES: usize = 64;

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

/// The word of `known` that is nearest to `word`, if one is near enough: one
/// slip in three letters, or the one holds the other. Ties go by name.
pub(crate) fn nearest<'k>(word: &str, known: &[&'k str]) -> Option<&'k str> {
    if word.len() > MAX_NAME_BYTES {
        return None;
    }
    let lower = word.to_ascii_lowercase().replace('-', "_");
    let mut ranked: Vec<(usize, &str)> =
        known.iter().filter_map(|k| Some((slips_if_near(&lower, k)?, *k))).collect();
    ranked.sort_unstable();
    ranked.first().map(|(_, k)| *k)
}

fn slips_if_near(word: &str, known: &str) -> Option<usize> {
    let slips = slips(word, &known.to_ascii_lowercase());
    let allowed = (known.len().min(word.len()) / 3).max(1);
    let holds = word.len() >= 4 && known.len() >= 4 && (known.contains(word) || word.contains(known));
    (slips <= allowed || holds).then_some(slips)
}

/// Insertions, deletions, replacements and swaps of neighbours that turn `a`
/// into `b` (optimal string alignment; Damerau 1964).
fn slips(a: &str, b: &str) -> usize {
    let (a, b): (Vec<char>, Vec<char>) = (a.chars().collect(), b.chars().collect());
    let mut before_last: Vec<usize> = vec![0; b.len() + 1];
    let mut last: Vec<usize> = (0..=b.len()).collect();
    for (i, &ca) in a.iter().enumerate() {
        let mut row = vec![i + 1];
        for (j, &cb) in b.iter().enumerate() {
            let changed = last[j] + usize::from(ca != cb);
            let mut best = changed.min(last[j + 1] + 1).min(row[j] + 1);
            if i > 0 && j > 0 && ca == b[j - 1] && a[i - 1] == cb {
                best = best.min(before_last[j - 1] + 1);
            }
            row.push(best);
        }
        before_last = std::mem::replace(&mut last, row);
    }
    last[b.len()]
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
