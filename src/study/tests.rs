//! What the reader reads, where it says it stands, and what it survives.

use proptest::prelude::*;

use super::read::parse;
use super::*;
use crate::diagnostic::{Diagnostic, Span, Spanned, has_errors};

const EVERYTHING: &str = include_str!("../../tests/good/everything.toml");

fn everything() -> Study {
    let (study, found) = parse(EVERYTHING);
    assert_eq!(show(&found, EVERYTHING), "");
    study.unwrap()
}

fn show(found: &[Diagnostic], text: &str) -> String {
    render(found, &Source { name: "study.toml".into(), text: text.into() }, false)
}

/// What stands at a place.
fn at(span: &Span) -> &'static str {
    &EVERYTHING[span.clone()]
}

fn number_stands(number: &Spanned<f64>) {
    assert_eq!(at(&number.span).replace('_', "").parse::<f64>().unwrap(), number.value);
}

fn text_stands(text: &Spanned<String>) {
    assert_eq!(at(&text.span).trim_matches(['"', '\'']), text.value);
}

fn optional_text_stands(text: Option<&Spanned<String>>) {
    if let Some(text) = text {
        text_stands(text);
    }
}

fn distribution_stands(distribution: &DistributionText) {
    text_stands(&distribution.kind);
    let ends = if distribution.kind.value == "mixture" { ['[', ']'] } else { ['{', '}'] };
    assert!(at(&distribution.span).starts_with(ends[0]) && at(&distribution.span).ends_with(ends[1]));
    for (name, parameter) in &distribution.parameters {
        match parameter {
            Parameter::Number(n) => {
                text_stands(name);
                number_stands(n);
            }
            Parameter::Name(n) | Parameter::Text(n) => {
                text_stands(name);
                text_stands(n);
            }
            Parameter::Parts(parts, span) => {
                assert!(at(span).starts_with('[') && at(span).ends_with(']'));
                for part in parts {
                    number_stands(&part.weight);
                    distribution_stands(&part.distribution);
                }
            }
            Parameter::List(values, span) => {
                assert!(at(span).starts_with('[') && at(span).ends_with(']'));
                values.iter().for_each(number_stands);
            }
        }
    }
}

fn either_stands(value: &NumberOrDistribution) {
    match value {
        NumberOrDistribution::Number(n) => number_stands(n),
        NumberOrDistribution::Distribution(d) => distribution_stands(d),
    }
}

#[test]
fn spans_of_the_head_hold_what_was_written() {
    let study = everything();
    text_stands(&study.title);
    text_stands(&study.currency);
    optional_text_stands(study.question.as_ref());
    optional_text_stands(study.headline.as_ref());
    assert_eq!(at(&study.prices.span), "\"real\"");
    assert_eq!(at(&study.first_year.span), "2027");
    assert_eq!(at(&study.years.span), "20");
    let sampling = &study.sampling;
    assert_eq!(at(&sampling.runs.as_ref().unwrap().span), "16_384");
    assert_eq!(sampling.runs.as_ref().unwrap().value, 16_384);
    assert_eq!(at(&sampling.method.as_ref().unwrap().span), "\"latin hypercube\"");
    assert_eq!(at(&sampling.replicates.as_ref().unwrap().span), "8");
    sampling.dimensions.as_ref().unwrap().iter().for_each(text_stands);
    for unit in &study.units {
        text_stands(&unit.name);
        text_stands(&unit.definition);
    }
}

#[test]
fn spans_of_inputs_hold_what_was_written() {
    let study = everything();
    let names: Vec<&str> = study.inputs.iter().map(|i| i.name.value.as_str()).collect();
    assert_eq!(&names[..4], ["people", "litres_each", "month_share", "tank"], "not in file order");
    for input in &study.inputs {
        text_stands(&input.name);
        optional_text_stands(input.unit.as_ref());
        optional_text_stands(input.about.source.as_ref());
        optional_text_stands(input.about.as_of.as_ref());
        match &input.base {
            Some(Base::Number(n)) => number_stands(n),
            Some(Base::Label(l)) => text_stands(l),
            None => {}
        }
        match &input.value {
            InputValue::Known(n) => number_stands(n),
            InputValue::Monthly(values, _) | InputValue::ChoiceOfNumbers(values, _) => {
                values.iter().for_each(number_stands);
            }
            InputValue::Labels { values, weights, .. } => {
                values.iter().for_each(text_stands);
                weights.iter().flatten().for_each(number_stands);
            }
            InputValue::ChoiceOfLabels(values, _) => values.iter().for_each(text_stands),
            InputValue::Distribution(d) => distribution_stands(d),
        }
        if let Some(cut) = &input.truncate {
            cut.min.iter().chain(&cut.max).for_each(number_stands);
        }
    }
    assert!(study.inputs[0].between_homes && !study.inputs[1].between_homes);
}

#[test]
fn spans_of_paths_and_links_hold_what_was_written() {
    let study = everything();
    let gas = &study.paths[0];
    either_stands(gas.start.as_ref().unwrap());
    either_stands(gas.growth.as_ref().unwrap());
    assert_eq!(at(&gas.process.span), "\"mean reverting\"");
    assert_eq!((gas.process.value, gas.drift), (Process::MeanReverting, Drift::Median));
    for number in [&gas.half_life, &gas.volatility, &gas.floor, &gas.ceiling] {
        number_stands(number.as_ref().unwrap());
    }
    for change in &gas.changes {
        number_stands(change.chance.as_ref().unwrap());
        either_stands(&change.year);
        assert_eq!(at(&change.effect.span), change.effect.value.key());
        match &change.by {
            ChangeValue::Number(by) => either_stands(by),
            ChangeValue::Label(label) => text_stands(label),
        }
        assert!(at(&change.span).starts_with("{ chance"));
    }
    either_stands(study.paths[1].start.as_ref().unwrap());
    for link in &study.correlations {
        link.between.iter().for_each(text_stands);
        let (Strength::Rank(n) | Strength::Normal(n)) = &link.strength;
        number_stands(n);
        assert_eq!(at(&link.span), "[[correlations]]");
    }
    let question = &study.break_even[0];
    text_stands(&question.of);
    question.from.iter().chain(&question.to).for_each(number_stands);
}

#[test]
fn the_span_of_a_formula_is_its_text_byte_by_byte() {
    let study = everything();
    let results = study.results.iter().map(|r| &r.working);
    let mut count = 0;
    for working in study.workings.iter().chain(results) {
        assert_eq!(at(&working.formula.span), working.formula.value);
        count += 1;
    }
    for (_, formula) in study.alternatives.iter().flat_map(|a| &a.workings) {
        assert_eq!(at(&formula.span), formula.value);
        count += 1;
    }
    assert_eq!(count, 4);
}

fn study_with_formula(written: &str) -> String {
    format!(
        "title = \"t\"\ncurrency = \"EUR\"\nfirst_year = 2027\nyears = 2\n[results.r]\nformula = {written}\n"
    )
}

#[test]
fn formulas_in_all_kinds_of_quotes_keep_their_places() {
    let cases = [
        ("\"1 + 2\"", Some("1 + 2")),
        ("'1 + 2'", Some("1 + 2")),
        ("\"\"\"1 + 2\"\"\"", Some("1 + 2")),
        ("'''\n1 +\n2'''", Some("1 +\n2")),
        ("'''\r\n1 +\r\n2'''", Some("1 +\r\n2")),
        ("\"\"\"\n1 \\\n + 2\"\"\"", None),
        ("\"1 \\u002B 2\"", None),
        ("\"1 × 2 + a\"", Some("1 × 2 + a")),
    ];
    for (written, expected) in cases {
        let text = study_with_formula(written);
        let (study, found) = parse(&text);
        match expected {
            Some(formula) => {
                let read = study.unwrap().results.remove(0).working.formula;
                assert_eq!(text.get(read.span), Some(formula), "{written}");
                assert_eq!(read.value, formula, "{written}");
            }
            None => assert_eq!((found.len(), found[0].id), (1, "formula-escape"), "{written}"),
        }
    }
}

#[test]
fn numbers_are_read_as_written() {
    let cases = [
        ("0", 0.0),
        ("-0.0", 0.0),
        ("+7", 7.0),
        ("1_000.5", 1000.5),
        ("6.02e23", 6.02e23),
        ("9223372036854775808", 9_223_372_036_854_776_000.0),
        ("0x10", 16.0),
        ("4.9e-324", 4.9e-324),
        ("0e-400", 0.0),
    ];
    for (written, expected) in cases {
        let text = study_with_formula(&format!("\"1\"\nat_least = {written}"));
        let (study, found) = parse(&text);
        assert!(!has_errors(&found), "{}", show(&found, &text));
        assert_eq!(study.unwrap().results[0].at_least.as_ref().unwrap().value, expected, "{written}");
    }
    for written in ["nan", "-inf", "+nan", "1e400", "-1e999", "1e-400", "0xffffffffffffffffff"] {
        let text = study_with_formula(&format!("\"1\"\nat_least = {written}"));
        let found = parse(&text).1;
        assert!(has_errors(&found), "{written}");
    }
}

#[test]
fn whole_numbers_may_have_a_point_or_an_exponent() {
    let text = study_with_formula("\"1\"\n[sampling]\nruns = 1e6\nseed = 9223372036854775807");
    let (study, found) = parse(&text);
    assert!(found.is_empty(), "{}", show(&found, &text));
    let sampling = study.unwrap().sampling;
    assert_eq!(sampling.runs.unwrap().value, 1_000_000);
    assert_eq!(sampling.seed.unwrap().value, i64::MAX as u64);
}

#[test]
fn a_study_beside_small_errors_is_handed_on() {
    let text = EVERYTHING.replace("group     = \"Water\"", "gruop = \"Water\"");
    let (study, found) = parse(&text);
    assert!(study.is_some() && has_errors(&found));
    // An input that could not be read would make every formula that uses it seem wrong.
    let text = EVERYTHING.replace("mean = 36", "maen = 36");
    let (study, found) = parse(&text);
    assert!(study.is_none() && found.len() == 1, "{}", show(&found, &text));
}

#[test]
fn other_line_ends_and_a_byte_order_mark_change_nothing() {
    let text = format!("\u{feff}{}", EVERYTHING.replace('\n', "\r\n"));
    let (study, found) = parse(&text);
    assert!(found.is_empty(), "{}", show(&found, &text));
    let saving = &study.unwrap().workings[0].formula;
    assert_eq!(text.get(saving.span.clone()), Some(saving.value.as_str()));
    let (_, found) = parse(&text.replace("years      = 20", "years      = 0"));
    assert!(show(&found, &text).contains("study.toml:7:14"), "{}", show(&found, &text));
}

#[test]
fn suggestions_come_for_slips_and_not_for_strangers() {
    let known = ["value", "monthly", "triangular", "choice", "sd"];
    for (word, near) in [
        ("vlaue", Some("value")),
        ("Value", Some("value")),
        ("triangle", Some("triangular")),
        ("triangularr", Some("triangular")),
        ("month", Some("monthly")),
        ("sdd", Some("sd")),
        ("colour", None),
        ("", None),
        ("期", None),
    ] {
        assert_eq!(words::nearest(word, &known), near, "{word}");
    }
}

#[test]
fn excerpts_are_clipped_where_the_mistake_is() {
    let text = format!("{}x{}", "é".repeat(5_000), "ü".repeat(5_000));
    let place = text.find('x').unwrap();
    let found = Diagnostic::error("some-id", "here").at(place..place + 1, "this x");
    let shown = show(&[found], &text);
    assert!(shown.contains("study.toml:1:5001"), "{shown}");
    let lines: Vec<&str> = shown.lines().collect();
    let column = |line: &str, c: char| line.chars().position(|k| k == c).unwrap();
    let (excerpt, mark) = (lines[3], lines[4]);
    assert_eq!(column(excerpt, 'x'), column(mark, '^'), "{shown}");
    assert!(excerpt.chars().count() < 140, "{shown}");
}

#[test]
fn spans_outside_the_text_are_no_crash() {
    let text = "é\n";
    for span in [0..100, 50..60, 1..1, 3..3, 1..2] {
        let found = Diagnostic::error("some-id", "here").at(span.clone(), "a").also(span, "b");
        assert!(show(&[found], text).contains("study.toml:"));
    }
}

/// One change that a slip of hand or of a disk might make.
#[derive(Debug, Clone)]
enum Change {
    Delete(usize, usize),
    Insert(usize, String),
    SwapLines(usize, usize),
    Repeat(usize, usize),
}

fn change() -> impl Strategy<Value = Change> {
    let scrap = prop_oneof![
        Just("[".to_owned()),
        Just("]]".to_owned()),
        Just("{".to_owned()),
        Just("\"\"\"".to_owned()),
        Just("'".to_owned()),
        Just("\\".to_owned()),
        Just(" = ".to_owned()),
        Just("\n[inputs.people]\n".to_owned()),
        Just("\n[[paths]]\n".to_owned()),
        Just("nan".to_owned()),
        Just("1e999".to_owned()),
        Just("\u{202e}é".to_owned()),
        Just("\r".to_owned()),
        Just("\u{feff}".to_owned()),
        "[a-z0-9.,\\-\\[\\]{}=\"'# \n]{0,12}",
        "\\PC{0,4}",
    ];
    prop_oneof![
        (any::<usize>(), 1..40_usize).prop_map(|(at, n)| Change::Delete(at, n)),
        (any::<usize>(), scrap).prop_map(|(at, s)| Change::Insert(at, s)),
        (any::<usize>(), any::<usize>()).prop_map(|(a, b)| Change::SwapLines(a, b)),
        (any::<usize>(), 1..80_usize).prop_map(|(at, n)| Change::Repeat(at, n)),
    ]
}

/// The nearest place for a cut at or below `at` (modulo the length).
fn cut(text: &str, at: usize) -> usize {
    let mut at = at % (text.len() + 1);
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

fn apply(text: &mut String, change: &Change) {
    match change {
        Change::Delete(at, n) => {
            let from = cut(text, *at);
            let to = cut(text, (from + n).min(text.len()));
            text.replace_range(from..to.max(from), "");
        }
        Change::Insert(at, scrap) => {
            let at = cut(text, *at);
            text.insert_str(at, scrap);
        }
        Change::SwapLines(a, b) => {
            let mut lines: Vec<&str> = text.split('\n').collect();
            let n = lines.len();
            lines.swap(a % n, b % n);
            *text = lines.join("\n");
        }
        Change::Repeat(at, n) => {
            let from = cut(text, *at);
            let to = cut(text, (from + n).min(text.len())).max(from);
            let piece = text[from..to].to_owned();
            text.insert_str(to, &piece);
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 600, ..ProptestConfig::default() })]

    #[test]
    fn no_change_to_a_study_makes_reading_panic(changes in prop::collection::vec(change(), 1..8)) {
        let mut text = EVERYTHING.to_owned();
        for change in &changes {
            apply(&mut text, change);
        }
        let (study, found) = parse(&text);
        prop_assert!(study.is_some() || has_errors(&found));
        for diagnostic in &found {
            for place in diagnostic.place.iter().chain(&diagnostic.others) {
                prop_assert!(text.get(place.span.clone()).is_some(), "{:?}", diagnostic);
            }
        }
        let shown = show(&found, &text);
        prop_assert!(shown.chars().all(|c| c == '\n' || !c.is_control()), "{}", shown);
        prop_assert!(shown.lines().all(|l| l.chars().count() < 600));
        render(&found, &Source { name: "\u{1b}[2J".into(), text }, true);
    }

    #[test]
    fn no_text_at_all_makes_reading_panic(text in "(\\PC|[\\[\\]{}=\"'.,\n\r\t #a-c0-9_-]){0,200}") {
        let (study, found) = parse(&text);
        prop_assert!(study.is_none() && has_errors(&found));
        show(&found, &text);
    }
}
