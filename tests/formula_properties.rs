//! Laws that units and formulas obey whatever they are made of.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)] // a test stops where it fails

use payspread::formula::ast::{BinaryOp, Expr, Node, UnaryOp};
use payspread::formula::suggestion::{distance, nearest};
use payspread::formula::types::Type;
use payspread::formula::{Names, check, parse, print};
use payspread::units::{Base, Dimension, UnitTable};
use proptest::prelude::*;

fn dimension() -> impl Strategy<Value = Dimension> {
    proptest::collection::vec((-6_i64..=6, 1_i64..=4), 8).prop_map(|exponents| {
        Base::ALL.iter().zip(exponents).fold(Dimension::NONE, |d, (&base, (num, den))| {
            d.mul(&Dimension::of(base).pow(num, den).unwrap())
        })
    })
}

const NAMES: [&str; 20] = [
    "EUR", "ct", "kWh", "MWh", "kJ", "W", "kW", "kWp", "L", "m3", "m", "kg", "t", "K", "yr", "month", "day",
    "h", "person", "%",
];

/// A unit as a user might write it: products above the line, quotients after it, powers, parentheses.
fn unit_text() -> impl Strategy<Value = String> {
    let name = proptest::sample::select(NAMES.to_vec());
    let factor = (name, prop_oneof![Just(""), Just("^2"), Just("^-1"), Just("^(1/2)")])
        // m3^2 would read as m to the power of 3 and then an unexpected `^`.
        .prop_map(
            |(name, power)| if power.is_empty() { name.to_owned() } else { format!("({name}){power}") },
        );
    let factors = |n| proptest::collection::vec(factor.clone(), n);
    (factors(1..3), factors(0..3), any::<bool>()).prop_map(|(above, below, grouped)| {
        let top = above.join(" ");
        match (below.as_slice(), grouped) {
            ([], _) => top,
            (below, true) => format!("{top}/({})", below.join(" ")),
            (below, false) => format!("{top}/{}", below.join("/")),
        }
    })
}

proptest! {
    #[test]
    fn dimensions_form_a_commutative_group(a in dimension(), b in dimension(), c in dimension()) {
        prop_assert_eq!(a.mul(&b), b.mul(&a));
        prop_assert_eq!(a.mul(&b).mul(&c), a.mul(&b.mul(&c)));
        prop_assert_eq!(a.mul(&Dimension::NONE), a);
        prop_assert_eq!(a.div(&a), Dimension::NONE);
        prop_assert_eq!(a.div(&b).mul(&b), a);
        prop_assert_eq!(a.div(&b), a.mul(&b.pow(-1, 1).unwrap()));
    }

    #[test]
    fn powers_of_dimensions(a in dimension(), b in dimension(), n in -5_i64..=5, m in 1_i64..=5) {
        let power = |d: &Dimension, n, m| d.pow(n, m).unwrap();
        prop_assert_eq!(power(&a, 1, 1), a);
        prop_assert_eq!(power(&a, 0, m), Dimension::NONE);
        prop_assert_eq!(power(&power(&a, n, 1), 1, m), power(&a, n, m));
        prop_assert_eq!(power(&power(&a, m, 1), 1, m), a);
        prop_assert_eq!(power(&a.mul(&b), n, m), power(&a, n, m).mul(&power(&b, n, m)));
        prop_assert_eq!(power(&a, n, m).mul(&power(&a, m, n.abs() + 1)),
            // n/m + m/(|n|+1) over one denominator
            power(&a, n * (n.abs() + 1) + m * m, m * (n.abs() + 1)));
        prop_assert_eq!(power(&a, 2 * n, 2 * m), power(&a, n, m));
        prop_assert!(a.pow(n, 0).is_none());
    }

    #[test]
    fn a_unit_for_every_dimension_reads_back(a in dimension()) {
        let units = UnitTable::new("EUR");
        let unit = units.unit_for(&a, false);
        if unit.text.is_empty() {
            prop_assert!(a.is_none());
        } else {
            prop_assert_eq!(units.parse(&unit.text).unwrap(), unit.clone());
        }
        prop_assert_eq!(unit.dimension, a);
    }

    #[test]
    fn units_read_back_and_convert_there_and_back(text in unit_text(), value in -1e9_f64..1e9) {
        let units = UnitTable::new("EUR");
        let unit = units.parse(&text).unwrap();
        prop_assert_eq!(units.parse(&unit.text).unwrap(), unit.clone());
        let back = unit.from_base(unit.to_base(value));
        // Four roundings.
        prop_assert!((back - value).abs() <= 4.0 * f64::EPSILON * value.abs(), "{} became {}", value, back);
        let near = unit.to_base(value) - value * unit.scale;
        prop_assert!(near.abs() <= 4.0 * f64::EPSILON * (value * unit.scale).abs());
    }

    #[test]
    fn texts_multiply_as_their_dimensions_do(a in unit_text(), b in unit_text()) {
        let units = UnitTable::new("EUR");
        let (x, y) = (units.parse(&a).unwrap(), units.parse(&b).unwrap());
        let product = units.parse(&format!("({a})*({b})")).unwrap();
        let quotient = units.parse(&format!("({a})/({b})")).unwrap();
        prop_assert_eq!(product.dimension, x.dimension.mul(&y.dimension));
        prop_assert_eq!(quotient.dimension, x.dimension.div(&y.dimension));
        let close = |a: f64, b: f64| (a - b).abs() <= 8.0 * f64::EPSILON * b.abs();
        prop_assert!(close(product.scale, x.scale * y.scale));
        prop_assert!(close(quotient.scale, x.scale / y.scale));
    }

    #[test]
    fn any_text_of_a_unit_is_read_or_refused_in_place(text in "[ -~€²°µ]{0,40}") {
        let units = UnitTable::new("EUR");
        if let Err(error) = units.parse(&text) {
            prop_assert!(text.get(error.range.clone()).is_some(), "{:?}", error);
            prop_assert!(!error.message.is_empty());
        }
        let _ = UnitTable::new("EUR").define(&text, &text);
    }

    #[test]
    fn suggestions_are_a_distance(a in "[xy]{0,7}", b in "[xyz]{0,7}", c in "[xyz]{0,7}") {
        prop_assert_eq!(distance(&a, &b), distance(&b, &a));
        prop_assert_eq!(distance(&a, &a), 0);
        prop_assert!(distance(&a, &b) <= a.len().max(b.len()));
        prop_assert!(distance(&a, &b) >= a.len().abs_diff(b.len()));
        let forth = nearest(&a, [b.as_str(), c.as_str()]);
        prop_assert_eq!(forth, nearest(&a, [c.as_str(), b.as_str()]), "order must not matter");
    }
}

fn made(node: Node) -> Expr {
    Expr { node, span: 0..0 }
}

fn number() -> impl Strategy<Value = f64> {
    prop_oneof![
        (0_u32..1000).prop_map(f64::from),
        any::<f64>().prop_filter("numbers are finite and not negative", |x| x.is_finite()).prop_map(f64::abs),
        Just(5e-324),
        Just(f64::MAX),
        Just(1e16),
        Just(1e-5),
    ]
}

fn leaf() -> impl Strategy<Value = Expr> {
    let unit = proptest::option::of(proptest::sample::select(vec!["kWh", "EUR/kWh", "kJ/kg/K", "%"]));
    prop_oneof![
        (number(), unit).prop_map(|(value, unit)| {
            Node::Number { value, unit: unit.map(|text| (text.to_owned(), 0..0)) }
        }),
        "[a-z]{1,3}_[a-zA-Z0-9_]{0,4}(\\.[a-z]{1,4}x)?".prop_map(Node::Name),
        "[a-z '-]{0,6}".prop_map(Node::Label),
        "[a-z \"-]{0,6}".prop_map(Node::Label),
        any::<bool>().prop_map(Node::YesNo),
    ]
    .prop_map(made)
}

fn operator() -> impl Strategy<Value = BinaryOp> {
    use BinaryOp::{
        Add, And, Divide, Equal, Greater, GreaterEqual, Less, LessEqual, Multiply, NotEqual, Or, Power,
        Subtract,
    };
    proptest::sample::select(vec![
        Or,
        And,
        Equal,
        NotEqual,
        Less,
        LessEqual,
        Greater,
        GreaterEqual,
        Add,
        Subtract,
        Multiply,
        Divide,
        Power,
    ])
}

fn tree() -> impl Strategy<Value = Expr> {
    leaf().prop_recursive(8, 96, 4, |inner| {
        let boxed = inner.clone().prop_map(Box::new);
        let function = proptest::sample::select(vec!["if", "max", "npv", "f"]);
        prop_oneof![
            4 => (operator(), boxed.clone(), boxed.clone()).prop_map(|(op, a, b)| Node::Binary(op, a, b)),
            1 => boxed.clone().prop_map(|a| Node::Unary(UnaryOp::Negate, a)),
            1 => boxed.prop_map(|a| Node::Unary(UnaryOp::Not, a)),
            1 => (function, proptest::collection::vec(inner, 0..4)).prop_map(|(function, args)| Node::Call {
                function: function.to_owned(),
                function_span: 0..0,
                args,
            }),
        ]
        .prop_map(made)
    })
}

/// The same tree without places.
fn bare(expr: Expr) -> Expr {
    let boxed = |e: Box<Expr>| Box::new(bare(*e));
    made(match expr.node {
        Node::Number { value, unit } => Node::Number { value, unit: unit.map(|(text, _)| (text, 0..0)) },
        Node::Unary(op, a) => Node::Unary(op, boxed(a)),
        Node::Binary(op, a, b) => Node::Binary(op, boxed(a), boxed(b)),
        Node::Call { function, args, .. } => {
            Node::Call { function, function_span: 0..0, args: args.into_iter().map(bare).collect() }
        }
        other => other,
    })
}

struct Nothing;

impl Names for Nothing {
    fn type_of(&self, _: &str) -> Option<Type> {
        None
    }
    fn suggestions(&self) -> Vec<String> {
        vec!["people".to_owned()]
    }
    fn years(&self) -> usize {
        5
    }
    fn is_drawn(&self, _: &str) -> bool {
        false
    }
}

/// Reading and checking end, and every fault lies within the text.
fn read_everything(text: &str) -> Result<(), TestCaseError> {
    let (expr, mut diagnostics) = parse(text, 0);
    prop_assert!(expr.is_some() || !diagnostics.is_empty());
    if let Some(expr) = expr {
        let before = diagnostics.len();
        let typed = check(&expr, &Nothing, &UnitTable::new("EUR"), &mut diagnostics);
        prop_assert_eq!(typed.is_none(), diagnostics.len() > before, "{:?}", diagnostics);
    }
    for d in diagnostics {
        let span = d.place.map_or(0..0, |p| p.span);
        prop_assert!(text.get(span.clone()).is_some(), "{:?} of {}", span, text.len());
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1000))]

    #[test]
    fn what_is_printed_reads_back(expr in tree()) {
        let text = print(&expr);
        let (back, diagnostics) = parse(&text, 0);
        prop_assert!(diagnostics.is_empty(), "{}: {:?}", text, diagnostics);
        prop_assert_eq!(bare(back.unwrap()), expr, "{}", text);
    }

    /// Taking away any pair of parentheses that the printer wrote around an operand changes the tree.
    #[test]
    fn no_parenthesis_is_idle(expr in tree()) {
        let text = print(&expr);
        let bytes = text.as_bytes();
        for (open, _) in text.match_indices('(') {
            let is_call = open > 0 && (bytes[open - 1].is_ascii_alphanumeric() || bytes[open - 1] == b'_');
            let in_quotes = text[..open].matches('"').count() % 2 == 1 || text[..open].contains('\'');
            if is_call || in_quotes || text.contains('\'') {
                continue;
            }
            let mut depth = 0_i32;
            let close = text[open..].find(|c| {
                depth += i32::from(c == '(') - i32::from(c == ')');
                depth == 0
            }).unwrap() + open;
            let without = format!("{} {} {}", &text[..open], &text[open + 1..close], &text[close + 1..]);
            let (back, diagnostics) = parse(&without, 0);
            let same = diagnostics.is_empty() && back.is_some_and(|b| bare(b) == expr);
            prop_assert!(!same, "{} is also {}", text, without);
        }
    }

    #[test]
    fn any_text_is_read_or_refused(text in "\\PC{0,60}") {
        read_everything(&text)?;
    }

    #[test]
    fn any_row_of_words_is_read_or_refused(words in proptest::collection::vec(proptest::sample::select(vec![
        "a", "people", "1", "2.5", "[kWh]", "[degC]", "[", "]", "(", ")", ",", "+", "-", "*", "/", "^", "<", "==", "=",
        "not", "and", "or", "if(", "max(", "previous(", "years(", "yes", "\"x\"", "'", "$", "nan", "é", ".", "year", "month",
        "in_service(", "npv(", "payback(", "at_year(", "1 [yr]", "10 [EUR]", "0.1 [1/yr]", "\n",
    ]), 0..24)) {
        read_everything(&words.join(" "))?;
        read_everything(&words.concat())?;
    }
}
