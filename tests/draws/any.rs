//! One generator of whatever may be written as a distribution, sensible or not.

use payspread::sampling::distributions::{DistributionKind, KINDS};
use payspread::sampling::{Distribution, ParameterError, Value};
use proptest::prelude::*;

/// A distribution as written.
#[derive(Debug, Clone)]
pub(crate) struct Given {
    pub(crate) kind: String,
    pub(crate) parameters: Vec<(String, Value)>,
    /// Parts of a mixture, each with its weight.
    pub(crate) parts: Vec<(f64, Given)>,
    pub(crate) truncate: Option<(Option<f64>, Option<f64>)>,
}

impl Given {
    /// Builds it; parts that are refused are left out, so that what is left is tried.
    pub(crate) fn build(&self) -> Result<Distribution, ParameterError> {
        let mut parameters = self.parameters.clone();
        if parameters.iter().any(|(key, _)| key == "parts") {
            let built = |(weight, part): &(f64, Given)| Some((*weight, part.build().ok()?));
            let parts: Vec<(f64, Distribution)> = self.parts.iter().filter_map(built).collect();
            parameters.retain(|(key, _)| key != "parts");
            parameters.push(("parts".to_owned(), Value::Parts(parts)));
        }
        Distribution::build(&self.kind, &parameters, self.truncate)
    }
}

/// Any number that a user may think of, and some that none would.
fn any_number() -> impl Strategy<Value = f64> {
    prop_oneof![
        4 => -10.0..10.0,
        4 => 0.0..1.0,
        3 => (-12.0..12.0).prop_map(|e: f64| 10f64.powf(e)),
        2 => (-160.0..160.0).prop_map(|e: f64| 10f64.powf(e)),
        1 => (-160.0..160.0).prop_map(|e: f64| -(10f64.powf(e))),
        3 => (0..40).prop_map(f64::from),
        1 => any::<f64>(),
        1 => prop::sample::select(vec![
            0.0, -0.0, 1.0, -1.0, 0.1, 0.5, 0.9, 1e-300, 1e300, 1e8, f64::MIN_POSITIVE, f64::MAX, f64::EPSILON, f64::NAN,
            f64::INFINITY, f64::NEG_INFINITY, 5e-324,
        ]),
    ]
}

/// Numbers about a place, of a size: what belongs together as lowest, likely and highest, or as mean and deviation.
fn alike() -> impl Strategy<Value = Vec<f64>> {
    let place = prop_oneof![Just(0.0), -100.0..100.0, (-8.0..12.0).prop_map(|e: f64| 10f64.powf(e))];
    let size = (-9.0..6.0).prop_map(|e: f64| 10f64.powf(e));
    (place, size, prop::collection::vec(0.0..1.0, 6))
        .prop_map(|(place, size, parts)| parts.into_iter().map(|x: f64| place + size * x).collect())
}

/// Six numbers; often in rising order, as many forms want them.
fn numbers() -> impl Strategy<Value = Vec<f64>> {
    let wild = prop::collection::vec(any_number(), 6);
    let mild = prop::collection::vec(0.01..3.0, 6);
    (prop_oneof![2 => wild, 2 => alike(), 1 => mild], any::<bool>()).prop_map(|(mut x, rising)| {
        if rising {
            x.sort_by(f64::total_cmp);
        }
        x
    })
}

fn lists() -> impl Strategy<Value = (Vec<f64>, Vec<f64>)> {
    let wild = prop::collection::vec(any_number(), 0..40);
    let mild = prop::collection::vec(0.0..50.0, 1..40);
    (prop_oneof![wild, mild], prop::collection::vec(any_number(), 0..40), any::<bool>()).prop_map(
        |(values, weights, fitting)| {
            let fit: Vec<f64> = weights.iter().map(|w| w.abs()).cycle().take(values.len()).collect();
            let fit = if fit.len() == values.len() { fit } else { vec![1.0; values.len()] };
            (values, if fitting { fit } else { weights })
        },
    )
}

type Cut = Option<(Option<f64>, Option<f64>)>;

/// Where a cut lies: anywhere, about a number of the distribution, or a sliver.
fn cuts(near: Vec<f64>) -> impl Strategy<Value = Cut> {
    let end = || prop::option::of(any_number());
    let sliver = (0..near.len().max(1), -9.0..1.0).prop_map(move |(k, e)| {
        let low = near.get(k).copied().unwrap_or(0.0);
        Some((Some(low), Some(low + low.abs() * 10f64.powf(e))))
    });
    let anywhere = (end(), end()).prop_map(Some);
    let ordered = (any_number(), any_number()).prop_map(|(a, b)| Some((Some(a.min(b)), Some(a.max(b)))));
    prop_oneof![4 => Just(None), 1 => anywhere, 1 => ordered, 2 => sliver]
}

/// What is done to the keys: mostly nothing.
#[derive(Debug, Clone, Copy)]
enum Mistake {
    None,
    Dropped(usize),
    Twice(usize),
    Misspelt(usize),
    OfAnotherForm(usize),
    WrongSort(usize),
}

fn mistakes() -> impl Strategy<Value = Mistake> {
    let k = 0..6_usize;
    prop_oneof![
        12 => Just(Mistake::None),
        1 => k.clone().prop_map(Mistake::Dropped),
        1 => k.clone().prop_map(Mistake::Twice),
        1 => k.clone().prop_map(Mistake::Misspelt),
        1 => k.clone().prop_map(Mistake::OfAnotherForm),
        1 => k.prop_map(Mistake::WrongSort),
    ]
}

fn spoil(kind: &DistributionKind, parameters: &mut Vec<(String, Value)>, mistake: Mistake) {
    let n = parameters.len();
    if n == 0 {
        return;
    }
    match mistake {
        Mistake::None => {}
        Mistake::Dropped(k) => drop(parameters.remove(k % n)),
        Mistake::Twice(k) => parameters.push(parameters[k % n].clone()),
        Mistake::Misspelt(k) => parameters[k % n].0.push('e'),
        Mistake::OfAnotherForm(k) => {
            let keys = kind.all_keys();
            parameters.push((keys[k % keys.len()].to_owned(), Value::Number(1.5)));
        }
        Mistake::WrongSort(k) => {
            let value = &mut parameters[k % n].1;
            *value = match value {
                Value::Number(x) if k == 0 => Value::Word(x.to_string()),
                Value::Number(x) => Value::List(vec![*x]),
                Value::List(_) => Value::Parts(Vec::new()),
                _ => Value::Number(2.0),
            };
        }
    }
}

/// Some percentiles, mostly rising and of a kind that a smooth curve can follow.
fn percentiles() -> impl Strategy<Value = Vec<(String, Value)>> {
    let keys = prop::sample::subsequence(
        vec![
            "p0.1", "p1", "p2.5", "p5", "p10", "p25", "p50", "p75", "p90", "p95", "p97.5", "p99", "p99.99",
            "p100",
        ],
        0..7,
    );
    let three =
        prop::sample::select(vec![["p10", "p50", "p90"], ["p5", "p50", "p95"], ["p25", "p50", "p75"]]);
    let keys = prop_oneof![1 => keys, 2 => three.prop_map(|k| k.to_vec())];
    (keys, numbers(), any::<bool>()).prop_map(|(keys, mut x, rising)| {
        if rising {
            x.sort_by(f64::total_cmp);
        }
        keys.iter().zip(x).map(|(key, x)| ((*key).to_owned(), Value::Number(x))).collect()
    })
}

/// Any distribution, a mixture of any.
pub(crate) fn any_given() -> impl Strategy<Value = Given> {
    let parts = prop::collection::vec((any_number(), any_simple()), 0..5);
    let heavy = any::<bool>();
    (any_simple(), parts, heavy).prop_map(|(mut given, mut parts, tame)| {
        if given.kind == "mixture" {
            if tame {
                parts.iter_mut().for_each(|(w, _)| *w = w.abs().clamp(1e-3, 1e3));
            }
            given.parts = parts;
        }
        given
    })
}

/// Any distribution but a mixture that has parts.
fn any_simple() -> impl Strategy<Value = Given> {
    let what = (0..KINDS.len(), any::<usize>(), any::<bool>(), numbers(), lists(), mistakes(), percentiles());
    what.prop_flat_map(|(kind, form, optional, numbers, (values, weights), mistake, percentiles)| {
        let entry = KINDS[kind];
        let form = &entry.forms[form % entry.forms.len()];
        let keys = form.keys.iter().chain(form.optional.iter().filter(|_| optional));
        let mut parameters: Vec<(String, Value)> = keys
            .zip(numbers.iter().cycle())
            .map(|(key, x)| ((*key).to_owned(), parameter(key, *x, &values, &weights)))
            .collect();
        if entry.percentiles {
            parameters = with_percentiles(percentiles, parameters);
        }
        spoil(entry, &mut parameters, mistake);
        let kind = if matches!(mistake, Mistake::Misspelt(5)) { "normla" } else { entry.name };
        let near = numbers.iter().chain(&values).copied().take(12).collect();
        cuts(near).prop_map(move |truncate| Given {
            kind: kind.to_owned(),
            parameters: parameters.clone(),
            parts: Vec::new(),
            truncate,
        })
    })
}

/// Percentiles with what else may stand beside them; ends mostly outside, and not always both.
fn with_percentiles(mut all: Vec<(String, Value)>, others: Vec<(String, Value)>) -> Vec<(String, Value)> {
    let ends: Vec<f64> =
        all.iter().filter_map(|(_, v)| if let Value::Number(x) = v { Some(*x) } else { None }).collect();
    let low = ends.iter().copied().fold(f64::INFINITY, f64::min);
    let high = ends.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    for (key, value) in others {
        let Value::Number(x) = value else {
            all.push((key, value));
            continue;
        };
        let (kept, away) = (!x.to_bits().is_multiple_of(3), (x.abs() + 1e-9).min(1e6) * (high - low + 1e-9));
        let value = match key.as_str() {
            "min" => low - away,
            "max" => high + away,
            _ => (x.abs() % 9.0).floor(),
        };
        if kept {
            all.push((key, Value::Number(value)));
        }
    }
    all
}

fn parameter(key: &str, x: f64, values: &[f64], weights: &[f64]) -> Value {
    match key {
        "values" => Value::List(values.to_vec()),
        "weights" => Value::List(weights.to_vec()),
        "shape" if values.len().is_multiple_of(2) => {
            let words = ["line", "step", "smooth", "straight", "curved"];
            let pick = if values.len().is_multiple_of(3) { x.to_bits() as usize } else { weights.len() };
            // Where it is a number elsewhere, half of the words are wrong; nothing is lost.
            if x > 0.0 && x < 10.0 { Value::Number(x) } else { Value::Word(words[pick % 5].to_owned()) }
        }
        // Most chances should be such.
        "chance" if x.is_finite() && !x.to_bits().is_multiple_of(4) => Value::Number(x.abs().fract()),
        "trials" if !x.to_bits().is_multiple_of(4) => Value::Number(x.abs().floor()),
        _ => Value::Number(x),
    }
}
