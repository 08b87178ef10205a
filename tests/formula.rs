//! Units and formulas, tested as data: the files under `tests/formula` say what each text must give.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // a test stops where it fails

use std::collections::BTreeMap;
use std::fmt::Write;

use payspread::diagnostic::Diagnostic;
use payspread::formula::ast::{BinaryOp, Expr, Node, UnaryOp};
use payspread::formula::functions;
use payspread::formula::types::{Kind, Shape, Type, Typed, TypedNode};
use payspread::formula::{Names, RESERVED, check, check_declared, parse, print, reference, references, sign};
use payspread::units::{Dimension, UnitTable};

/// Formulas of the tests begin at this byte of their imagined study.
const OFFSET: usize = 7;

#[derive(Default)]
struct Known {
    types: BTreeMap<String, Type>,
    drawn: Vec<String>,
    inflation: bool,
}

impl Names for Known {
    fn type_of(&self, name: &str) -> Option<Type> {
        self.types.get(name).cloned()
    }
    fn suggestions(&self) -> Vec<String> {
        self.types.keys().cloned().collect()
    }
    fn years(&self) -> usize {
        5
    }
    fn has_inflation(&self) -> bool {
        self.inflation
    }
    fn is_drawn(&self, name: &str) -> bool {
        self.drawn.iter().any(|d| d == name)
    }
}

fn tree(expr: &Expr) -> String {
    match &expr.node {
        Node::Number { value, unit: None } => format!("{value}"),
        Node::Number { value, unit: Some((unit, _)) } => format!("{value}[{unit}]"),
        Node::Label(text) => format!("\"{text}\""),
        Node::YesNo(yes) => if *yes { "yes" } else { "no" }.to_owned(),
        Node::Name(name) => name.clone(),
        Node::Unary(UnaryOp::Negate, x) => format!("(neg {})", tree(x)),
        Node::Unary(UnaryOp::Not, x) => format!("(not {})", tree(x)),
        Node::Binary(op, a, b) => format!("({} {} {})", sign(*op), tree(a), tree(b)),
        Node::Call { function, args, .. } => {
            let mut out = format!("(call {function}");
            for arg in args {
                write!(out, " {}", tree(arg)).unwrap();
            }
            out + ")"
        }
    }
}

fn excerpt<'a>(source: &'a str, d: &Diagnostic) -> &'a str {
    let span = &d.place.as_ref().expect("a place").span;
    &source[span.start - OFFSET..span.end - OFFSET]
}

fn type_text(ty: &Type, units: &UnitTable) -> String {
    let kind = match &ty.kind {
        Kind::Number { dimension, .. } if dimension.is_none() => "plain".to_owned(),
        Kind::Number { dimension, point } => units.unit_for(dimension, *point).text,
        Kind::YesNo => "yes/no".to_owned(),
        Kind::Label(labels) => format!("label {}", labels.join("|")),
        Kind::Years => "years".to_owned(),
    };
    match ty.shape {
        Shape::Single => kind,
        shape => format!("{kind} {}", shape.words()),
    }
}

fn read_type(text: &str, units: &UnitTable) -> Type {
    let (kind, shape) = match text {
        t if t.ends_with(" by month and year") => {
            (t.trim_end_matches(" by month and year"), Shape::MonthlyByYearly)
        }
        t if t.ends_with(" by month") => (t.trim_end_matches(" by month"), Shape::Monthly),
        t if t.ends_with(" by year") => (t.trim_end_matches(" by year"), Shape::Yearly),
        t => (t, Shape::Single),
    };
    let kind = match kind {
        "plain" => Kind::Number { dimension: Dimension::NONE, point: false },
        "yes/no" => Kind::YesNo,
        "years" => Kind::Years,
        k if k.starts_with("label ") => Kind::Label(k[6..].split('|').map(str::to_owned).collect()),
        k => {
            let unit = units.parse(k).unwrap();
            Kind::Number { dimension: unit.dimension, point: unit.point }
        }
    };
    Type { kind, shape }
}

/// Shape and kind of the first call of `in_service` in a checked formula.
fn inner(typed: &Typed) -> Option<&Type> {
    match &typed.node {
        TypedNode::Call { function, .. } if function.name == "in_service" => Some(&typed.ty),
        TypedNode::Call { args, .. } => args.iter().find_map(inner),
        TypedNode::Unary(_, x) => inner(x),
        TypedNode::Binary(_, a, b) => inner(a).or_else(|| inner(b)),
        TypedNode::Constant(_) | TypedNode::Name(_) => None,
    }
}

/// All that can be said about a formula, a line each, in the words of the test files. What the case does not
/// ask for is left out (`asked`), except errors, which must be named in full.
fn said(source: &str, known: Option<&Known>, asked: &[&str]) -> Vec<String> {
    let units = UnitTable::new("EUR");
    let (expr, mut diagnostics) = parse(source, OFFSET);
    let mut out = Vec::new();
    let wants = |key: &str| asked.iter().any(|line| line.starts_with(key));
    if let Some(expr) = &expr {
        if let Some(known) = known {
            if let Some(typed) = check(expr, known, &units, &mut diagnostics) {
                out.push(format!("type {}", type_text(&typed.ty, &units)));
                if let Some(ty) = inner(&typed).filter(|_| wants("inner ")) {
                    out.push(format!("inner {}", type_text(ty, &units)));
                }
            }
        } else {
            out.push(format!("tree {}", tree(expr)));
            let printed = print(expr);
            if printed != source || wants("print ") {
                out.push(format!("print {printed}"));
            }
        }
    }
    for d in &diagnostics {
        out.push(format!("error {} [{}] {}", d.id, excerpt(source, d), d.message));
        let label = format!("label {}", d.place.as_ref().map_or("", |p| &p.label));
        out.extend(asked.contains(&label.as_str()).then_some(label));
        let hints = d.hints.iter().map(|h| format!("hint {h}"));
        out.extend(hints.filter(|h| asked.contains(&h.as_str())));
    }
    out
}

fn run_file(text: &str, with_names: bool) {
    let units = UnitTable::new("EUR");
    let mut known = Known::default();
    let mut cases: Vec<(&str, Vec<&str>)> = Vec::new();
    for line in text.lines().filter(|l| !l.is_empty() && !l.starts_with('#')) {
        if let Some(rest) = line.strip_prefix("let ") {
            let (name, ty) = rest.split_once(" : ").unwrap();
            let (ty, drawn) = ty.strip_suffix(" drawn").map_or((ty, false), |t| (t, true));
            known.types.insert(name.to_owned(), read_type(ty, &units));
            known.drawn.extend(drawn.then(|| name.to_owned()));
        } else if let Some(source) = line.strip_prefix("| ") {
            cases.push((source, Vec::new()));
        } else {
            cases.last_mut().expect("a formula first").1.push(line);
        }
    }
    assert!(cases.len() > 40);
    let mut wrong = String::new();
    for (source, expected) in &cases {
        let got = said(source, with_names.then_some(&known), expected);
        if got != *expected {
            writeln!(wrong, "| {source}\n  expected {expected:#?}\n  got {got:#?}").unwrap();
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}

#[test]
fn trees_and_syntax_errors() {
    run_file(include_str!("formula/parse.txt"), false);
}

#[test]
fn types_and_their_errors() {
    run_file(include_str!("formula/check.txt"), true);
}

fn amount(text: &str, units: &UnitTable) -> (f64, Dimension) {
    let (number, unit) = text.split_once(' ').unwrap();
    let unit = units.parse(unit).unwrap_or_else(|e| panic!("{unit}: {e:?}"));
    (unit.to_base(number.parse().unwrap()), unit.dimension)
}

#[test]
fn the_table_of_units() {
    let mut units = UnitTable::new("EUR");
    for line in include_str!("formula/units.txt").lines().filter(|l| !l.is_empty() && !l.starts_with('#')) {
        if let Some(rest) = line.strip_prefix("define ") {
            let (name, definition) = rest.split_once(" = ").unwrap();
            units.define(name, definition).unwrap();
        } else if let Some((text, rest)) = line.split_once(" ! ") {
            let error = units.parse(text).expect_err(line);
            let got = format!("{} [{}] {}", error.id, &text[error.range.clone()], error.hint);
            assert_eq!(got, rest, "{line}: {}", error.message);
        } else if let Some((text, dimension)) = line.split_once(" : ") {
            assert_eq!(units.parse(text).unwrap().dimension.to_string(), dimension, "{line}");
        } else {
            let (left, right) = line.split_once(" = ").unwrap();
            let ((a, d), (b, e)) = (amount(left, &units), amount(right, &units));
            assert_eq!(d, e, "{line}");
            // One rounding on each side at most.
            assert!((a - b).abs() <= 2.0 * f64::EPSILON * a.abs(), "{line}: {a} and {b}");
        }
    }
}

#[test]
fn own_units_that_cannot_be() {
    let mut units = UnitTable::new("EUR");
    for (name, definition, id) in [
        ("kWh", "1 MJ", "unit-name"),
        ("tank2", "1 L", "unit-name"),
        ("citerne_à_eau", "1 L", "unit-name"),
        ("", "1 L", "unit-name"),
        ("tank", "big", "unit-size"),
        ("tank", "0 L", "unit-size"),
        ("tank", "-3 L", "unit-size"),
        ("tank", "", "unit-size"),
        ("tank", "250 litres", "unit-unknown"),
        ("tank", "250 tank", "unit-unknown"),
        ("tank", "2 degC", "unit-temperature"),
        ("tank", "1 GBP", "unit-currency"),
    ] {
        let error = match units.define(name, definition).expect_err(definition) {
            payspread::units::DefineError::Name(e) | payspread::units::DefineError::Definition(e) => e,
        };
        assert_eq!(error.id, id, "{name} = {definition}");
    }
    let Err(payspread::units::DefineError::Definition(error)) = units.define("tank", "250 litres") else {
        panic!()
    };
    assert_eq!(&"250 litres"[error.range], "litres");
}

#[test]
fn scales_are_rounded_once() {
    let units = UnitTable::new("EUR");
    for (text, scale) in [
        ("L", 1.0 / 1000.0),
        ("kJ/kg/K", 1.0 / 3600.0),
        ("EUR/L", 1000.0),
        ("ct/kWh", 1.0 / 100.0),
        ("W", 8.76),
        ("L/day", 0.365),
        ("min", 1.0 / 525_600.0),
        ("EUR/ct", 100.0),
    ] {
        assert_eq!(units.parse(text).unwrap().scale.to_bits(), f64::to_bits(scale), "{text}");
    }
    assert!(UnitTable::new("CHF").parse("ct").is_err());
    assert_eq!(UnitTable::new("GBP").parse("p").unwrap().scale, 0.01);
}

#[test]
fn numbers_reach_the_checker_in_base_units() {
    let units = UnitTable::new("EUR");
    for (source, value) in [
        ("12 [ct/kWh]", 0.12),
        ("-5 [degC]", -5.0),
        ("250 [L]", 0.25),
        ("2 [kW]", 17_520.0),
        ("no", 0.0),
        ("5 [%]", 0.05),
    ] {
        let (expr, diagnostics) = parse(source, 0);
        assert!(diagnostics.is_empty());
        let typed = check(&expr.unwrap(), &Known::default(), &units, &mut Vec::new()).unwrap();
        assert!(matches!(typed.node, TypedNode::Constant(got) if got == value), "{source}: {typed:?}");
    }
}

#[test]
fn declared_units() {
    let units = UnitTable::new("EUR");
    let mut known = Known::default();
    for (name, ty) in [
        ("heat", "kWh by month"),
        ("cold", "degC"),
        ("paid", "years"),
        ("kit", "label a|b"),
        ("sunny", "yes/no"),
    ] {
        known.types.insert(name.to_owned(), read_type(ty, &units));
    }
    for (source, unit, message) in [
        ("heat", Some("MJ"), None),
        ("heat", Some("EUR"), Some("the formula gives kWh, the declared unit is EUR")),
        ("heat", None, Some("the formula gives kWh, but no unit is declared")),
        ("5", Some("%"), None),
        ("5", None, None),
        ("5", Some("EUR"), Some("the formula gives a plain number, the declared unit is EUR")),
        ("cold", Some("degC"), None),
        ("cold", Some("K"), Some("the formula gives degC, the declared unit is K")),
        ("cold - 5 [degC]", Some("degC"), Some("the formula gives K, the declared unit is degC")),
        ("paid", Some("yr"), None),
        ("paid", Some("month"), None),
        ("paid", None, None),
        ("paid", Some("EUR"), Some("the formula gives years or never, the declared unit is EUR")),
        ("sunny", None, None),
        ("sunny", Some("kWh"), Some("the formula gives yes or no, the declared unit is kWh")),
        ("kit", Some("kWh"), Some("the formula gives a label, the declared unit is kWh")),
    ] {
        let mut diagnostics = Vec::new();
        let typed = check(&parse(source, 0).0.unwrap(), &known, &units, &mut diagnostics).unwrap();
        let unit = unit.map(|u| units.parse(u).unwrap());
        check_declared(&typed, unit.as_ref(), &(40..43), &units, &mut diagnostics);
        let got = diagnostics.first().map(|d| d.message.as_str());
        assert_eq!(got, message, "{source}");
        assert!(diagnostics.iter().all(|d| d.id == "unit-mismatch"));
    }
}

#[test]
fn references_of_a_formula() {
    let (expr, _) = parse("previous(level, start) * growth(rate) ^ year + a.b", OFFSET);
    let got: Vec<_> = references(&expr.unwrap())
        .into_iter()
        .map(|r| (r.name, r.span.start - OFFSET, r.last_year))
        .collect();
    let want = [("level", 9, true), ("start", 16, false), ("rate", 32, false), ("a.b", 47, false)];
    assert_eq!(got, want.map(|(n, at, last)| (n.to_owned(), at, last)));
}

/// Every example of the table must be a formula that checks without a fault; its value is tested by the model.
#[test]
fn examples_of_functions_check() {
    let units = UnitTable::new("EUR");
    let mut known = Known { inflation: true, ..Known::default() };
    known.types.insert("example_life".to_owned(), Type::number(Dimension::TIME, Shape::Single));
    known.drawn.push("example_life".to_owned());
    let mut names = std::collections::BTreeSet::new();
    for f in functions::all() {
        let (expr, mut diagnostics) = parse(f.example, 0);
        let typed = check(&expr.unwrap(), &known, &units, &mut diagnostics);
        assert!(diagnostics.is_empty() && typed.is_some(), "{}: {diagnostics:?}", f.name);
        assert!(f.example.contains(&format!("{}(", f.name)), "{}: not in its example", f.name);
        assert!(f.signature.starts_with(&format!("{}(", f.name)), "{}: not in its signature", f.name);
        assert!(f.summary.ends_with('.') && !f.expected.is_empty() && f.least <= f.parameters.len());
        assert!(names.insert(f.name), "{} stands twice", f.name);
        let expected = typed.unwrap().ty;
        match f.expected {
            "yes" | "no" => assert_eq!(expected.kind, Kind::YesNo),
            number => assert!(number.parse::<f64>().is_ok() && expected.shape == Shape::Single, "{}", f.name),
        }
    }
    // All names of DESIGN section 3.
    for name in "abs min max clamp floor round sqrt exp ln if sum_months mean_months min_months max_months sum_years \
                 mean_years min_years max_years cumulative at_year previous months years seasonal water_heat in_service \
                 failures growth npv payback first_payback discounted_payback pays_back is_never rates_of_return annuity inflate deflate"
        .split_whitespace()
    {
        assert!(names.contains(name), "{name} is missing");
    }
    assert_eq!(names.len(), 38);
}

#[test]
fn reference_pages_hold_every_entry() {
    let units = UnitTable::new("EUR");
    for page in [reference::functions_text(), reference::functions_markdown()] {
        assert!(functions::all().all(|f| page.contains(f.signature) && page.contains(f.example)));
    }
    for page in [reference::units_text(&units), reference::units_markdown(&units)] {
        assert!(units.names().all(|name| page.contains(name)));
    }
}

/// A study may name nothing by these words, because a formula would not read them as names.
#[test]
fn reserved_words_are_no_names() {
    for word in RESERVED {
        let (expr, diagnostics) = parse(word, 0);
        let name = expr.is_some_and(|e| matches!(e.node, Node::Name(_)));
        let clock = payspread::formula::clock_type(word).is_some();
        assert_eq!(name && diagnostics.is_empty(), clock, "{word}");
    }
}

/// Each hostile text must come back with errors, quickly, and on the small stack of a test thread.
#[test]
fn hostile_formulas() {
    let deep = 10_000;
    for (text, id) in [
        ("(".repeat(deep) + "1" + &")".repeat(deep), "formula-too-deep"),
        ("-".repeat(deep) + "1", "formula-too-deep"),
        ("not ".repeat(deep) + "yes", "formula-too-deep"),
        ("2^".repeat(deep) + "2", "formula-too-deep"),
        ("abs(".repeat(deep) + "1" + &")".repeat(deep), "formula-too-deep"),
        ("1+".repeat(deep) + "1", "formula-too-deep"),
        ("1 ".repeat(deep), "formula-syntax"),
        ("+".repeat(deep), "formula-syntax"),
        (")".repeat(deep), "formula-syntax"),
        ("$".repeat(deep), "formula-syntax"),
        (",".repeat(deep), "formula-syntax"),
        ("(1 ".repeat(deep), "formula-syntax"),
        ("f(,".repeat(deep), "formula-syntax"),
        ("[".repeat(deep), "formula-syntax"),
        ("\"".repeat(deep + 1), "formula-syntax"),
        ("a".repeat(70_000), "formula-too-long"),
    ] {
        let (expr, diagnostics) = parse(&text, 0);
        let start: String = text.chars().take(6).collect();
        assert!(expr.is_none() && diagnostics.iter().any(|d| d.id == id), "{start}: {diagnostics:?}");
        assert!(diagnostics.len() <= 20, "{start}");
    }
}

#[test]
fn depths_that_are_allowed() {
    let nested = "(".repeat(60) + "1" + &")".repeat(60);
    let chain = "1 + ".repeat(450) + "1";
    let list = format!("max({}1)", "1, ".repeat(20_000));
    for text in [nested, chain, list] {
        let (expr, mut diagnostics) = parse(&text, 0);
        let units = UnitTable::new("EUR");
        check(&expr.unwrap(), &Known::default(), &units, &mut diagnostics).unwrap();
        assert!(diagnostics.is_empty());
    }
}

#[test]
fn units_multiplied_without_end_are_refused() {
    let units = UnitTable::new("EUR");
    let mut known = Known::default();
    let huge = Dimension::MONEY.pow(900, 1).unwrap();
    known.types.insert("huge".to_owned(), Type::number(huge, Shape::Single));
    let mut diagnostics = Vec::new();
    assert!(check(&parse("huge * huge", 0).0.unwrap(), &known, &units, &mut diagnostics).is_none());
    assert_eq!(diagnostics.first().map(|d| d.id), Some("unit-exponent"));
}

/// The tree keeps the place of each part.
#[test]
fn places() {
    let text = "a + min(bb, 2 [kWh])";
    let expr = parse(text, OFFSET).0.unwrap();
    assert_eq!(expr.span, OFFSET..OFFSET + text.len());
    let Node::Binary(BinaryOp::Add, _, right) = expr.node else { panic!() };
    let Node::Call { function_span, args, .. } = right.node else { panic!() };
    assert_eq!(&text[function_span.start - OFFSET..function_span.end - OFFSET], "min");
    let Node::Number { unit: Some((unit, span)), .. } = &args[1].node else { panic!() };
    assert_eq!((unit.as_str(), &text[span.start - OFFSET..span.end - OFFSET]), ("kWh", "kWh"));
}
