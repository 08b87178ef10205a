//! Good studies with random changes go through the full check: no panic, no
//! hang, and every place lies inside the text.

#![allow(clippy::unwrap_used, reason = "a test that cannot read its own files has failed")]

use std::fs;
use std::path::Path;
use std::time::{Duration, Instant};

use payspread::diagnostic::Place;
use payspread::model;
use payspread::study::{Source, render};
use proptest::prelude::*;

const PATIENCE: Duration = Duration::from_secs(2);

/// What slips in: signs that mean something to some stage.
const PIECES: &[&str] = &[
    "",
    " ",
    "\n",
    "\"",
    "'",
    "[",
    "]",
    "{",
    "}",
    "(",
    ")",
    ",",
    "=",
    "==",
    ".",
    "-",
    "*",
    "/",
    "^",
    "0",
    "1e308",
    "-1",
    "nan",
    "1e-320",
    "9999999999999",
    "year",
    "month",
    "previous(",
    "sum_years(",
    "if(",
    "people",
    "EUR",
    "%",
    "degC",
    "[yr]",
    "true",
    "é",
    "人",
    "\u{0}",
    "_",
    "#",
    "value",
    "base",
    "truncate",
    "[results.x]\n",
    "[[break_even]]\n",
    "\"a\"",
];

fn seeds() -> Vec<String> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut files: Vec<_> = ["studies", "tests/good"]
        .iter()
        .flat_map(|folder| fs::read_dir(root.join(folder)).unwrap())
        .map(|e| e.unwrap().path())
        .filter(|p| p.extension().is_some_and(|e| e == "toml"))
        .collect();
    files.sort();
    files.iter().map(|p| fs::read_to_string(p).unwrap()).collect()
}

/// Replaces up to `length` bytes at a place by one of the pieces.
fn change(text: &mut String, at: usize, length: usize, piece: usize) {
    let whole = |mut i: usize| {
        while !text.is_char_boundary(i) {
            i -= 1;
        }
        i
    };
    let start = whole(at % (text.len() + 1));
    let end = whole((start + length).min(text.len())).max(start);
    text.replace_range(start..end, PIECES[piece % PIECES.len()]);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 256, ..ProptestConfig::default() })]

    #[test]
    fn no_change_makes_the_check_panic_or_hang(
        seed in any::<prop::sample::Index>(),
        changes in prop::collection::vec((any::<usize>(), 0_usize..12, any::<usize>()), 1..4),
    ) {
        let seeds = seeds();
        let mut text = seed.get(&seeds).clone();
        for (at, length, piece) in changes {
            change(&mut text, at, length, piece);
        }
        let begun = Instant::now();
        let (made, found) = model::read(&text);
        let places = found.iter().flat_map(|d| d.place.iter().chain(&d.others));
        for Place { span, .. } in places {
            prop_assert!(span.start <= span.end && text.get(span.clone()).is_some(), "{span:?} of {}", text.len());
        }
        prop_assert!(made.is_some() != payspread::diagnostic::has_errors(&found));
        let _ = render(&found, &Source { name: "study.toml".to_owned(), text }, false);
        prop_assert!(begun.elapsed() < PATIENCE, "{:?}", begun.elapsed());
    }
}
