//! What the reader reads, and where.

use super::read::parse;
use super::*;


const EVERYTHING: &str = include_str!("../../tests/good/everything.toml");

fn show(text: &str) -> String {
    let (_, found) = parse(text);
    render(&found, &Source { name: "study.toml".into(), text: text.into() }, false)
}

#[test]
fn everything_reads_without_a_word() {
    assert_eq!(show(EVERYTHING), "");
}
