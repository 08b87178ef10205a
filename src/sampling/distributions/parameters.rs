//! Parameters of a distribution as given, and what can be wrong with them.

use std::fmt;

use super::Distribution;
use super::catalogue::{DistributionKind, Form, percentile_of};

/// A parameter.
#[derive(Debug, Clone)]
pub enum Value {
    /// A number.
    Number(f64),
    /// A list of numbers.
    List(Vec<f64>),
    /// A word.
    Word(String),
    /// Distributions, each with its weight.
    Parts(Vec<(f64, Distribution)>),
}

/// What is wrong with a distribution's parameters.
#[derive(Debug, Clone, PartialEq)]
pub struct ParameterError {
    /// The keys at fault, in the order in which they are given; `truncate` for the cut.
    pub keys: Vec<String>,
    /// One sentence without a full stop: what is wrong, with the values.
    pub message: String,
    /// What would be right.
    pub hint: String,
}

impl ParameterError {
    pub(crate) fn new(keys: &[&str], message: impl Into<String>, hint: impl Into<String>) -> ParameterError {
        let keys = keys.iter().map(|&k| k.to_owned()).collect();
        ParameterError { keys, message: message.into(), hint: hint.into() }
    }
}

impl fmt::Display for ParameterError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}; {}", self.message, self.hint)
    }
}

impl std::error::Error for ParameterError {}

/// The parameters of one distribution, known to fit a form.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Parameters<'a> {
    given: &'a [(String, Value)],
}

impl<'a> Parameters<'a> {
    /// Checks names and forms; the first thing wrong is the error.
    pub(crate) fn check(
        kind: &DistributionKind,
        given: &'a [(String, Value)],
    ) -> Result<Parameters<'a>, ParameterError> {
        for (i, (key, _)) in given.iter().enumerate() {
            if given.iter().take(i).any(|(other, _)| other == key) {
                return Err(ParameterError::new(
                    &[key.as_str()],
                    format!("`{key}` is given twice"),
                    "keep one of them",
                ));
            }
            if !kind.knows(key) {
                return Err(unknown_key(kind, key));
            }
        }
        let has = |key: &&str| given.iter().any(|(k, _)| k == key);
        let fits = |form: &Form| {
            form.keys.iter().all(has)
                && given.iter().all(|(k, _)| {
                    let named = form.keys.contains(&k.as_str()) || form.optional.contains(&k.as_str());
                    named || (kind.percentiles && percentile_of(k).is_some())
                })
        };
        if kind.forms.iter().any(fits) {
            return Ok(Parameters { given });
        }
        Err(no_form(kind, given))
    }

    /// Parameters whose names and form [`Parameters::check`] has seen.
    pub(crate) fn checked(given: &'a [(String, Value)]) -> Parameters<'a> {
        Parameters { given }
    }

    pub(crate) fn has(&self, key: &str) -> bool {
        self.given.iter().any(|(k, _)| k == key)
    }

    fn value(&self, key: &str) -> Result<&'a Value, ParameterError> {
        self.given.iter().find(|(k, _)| k == key).map(|(_, v)| v).ok_or_else(|| {
            ParameterError::new(&[key], format!("`{key}` is missing"), format!("give `{key}`"))
        })
    }

    /// A finite number.
    pub(crate) fn number(&self, key: &str) -> Result<f64, ParameterError> {
        match self.value(key)? {
            Value::Number(x) if x.is_finite() && x.abs() <= 1e150 => Ok(*x),
            Value::Number(x) if x.is_finite() => Err(ParameterError::new(
                &[key],
                format!("`{key}` is {x:e}, too large to reckon with"),
                "keep it below 1e150; perhaps choose a larger unit",
            )),
            Value::Number(x) => Err(ParameterError::new(
                &[key],
                format!("`{key}` is {x}, not a number"),
                "give a plain number",
            )),
            Value::List(_) => {
                Err(ParameterError::new(&[key], format!("`{key}` is a list"), "give a single number"))
            }
            Value::Word(word) => Err(ParameterError::new(
                &[key],
                format!("`{key}` is \"{word}\", not a number"),
                "give a plain number",
            )),
            Value::Parts(_) => {
                Err(ParameterError::new(&[key], format!("`{key}` is a mixture"), "give a single number"))
            }
        }
    }

    /// A finite number, or `default` when it is not given.
    pub(crate) fn number_or(&self, key: &str, default: f64) -> Result<f64, ParameterError> {
        if self.has(key) { self.number(key) } else { Ok(default) }
    }

    /// A number above zero.
    pub(crate) fn positive(&self, key: &str) -> Result<f64, ParameterError> {
        let x = self.number(key)?;
        if x >= 1e-150 {
            return Ok(x);
        }
        Err(ParameterError::new(&[key], format!("`{key}` is {x}"), format!("`{key}` must be above 0")))
    }

    /// A list of finite numbers, not empty.
    pub(crate) fn list(&self, key: &str) -> Result<&'a [f64], ParameterError> {
        let list = match self.value(key)? {
            Value::List(list) => list,
            Value::Number(x) => {
                let hint = format!("write {key} = [{x}, ...]");
                return Err(ParameterError::new(&[key], format!("`{key}` is a single number"), hint));
            }
            Value::Word(_) | Value::Parts(_) => {
                let hint = format!("write {key} = [1, 2, ...]");
                return Err(ParameterError::new(&[key], format!("`{key}` is no list of numbers"), hint));
            }
        };
        if list.is_empty() {
            return Err(ParameterError::new(&[key], format!("`{key}` is empty"), "give at least one number"));
        }
        if let Some(x) = list.iter().find(|x| !(x.abs() <= 1e150)) {
            return Err(ParameterError::new(
                &[key],
                format!("`{key}` holds {x}"),
                "give plain numbers below 1e150",
            ));
        }
        Ok(list)
    }

    /// The keys that are given, in their order.
    pub(crate) fn keys(&self) -> impl Iterator<Item = &'a str> + use<'a> {
        self.given.iter().map(|(key, _)| key.as_str())
    }

    /// One of a few words, or the first of them when it is not given.
    pub(crate) fn word_or(&self, key: &str, words: &[&'static str]) -> Result<&'static str, ParameterError> {
        let first = words.first().copied().unwrap_or_default();
        if !self.has(key) {
            return Ok(first);
        }
        let shown = match self.value(key)? {
            Value::Word(word) => match words.iter().find(|w| *w == word) {
                Some(word) => return Ok(word),
                None => format!("`{key}` is \"{word}\""),
            },
            _ => format!("`{key}` is no word"),
        };
        let all: Vec<String> = words.iter().map(|w| format!("\"{w}\"")).collect();
        Err(ParameterError::new(&[key], shown, format!("it is {}", all.join(" or "))))
    }

    /// Distributions with their weights, at least one.
    pub(crate) fn parts(&self, key: &str) -> Result<&'a [(f64, Distribution)], ParameterError> {
        match self.value(key)? {
            Value::Parts(parts) if !parts.is_empty() => Ok(parts),
            Value::Parts(_) => {
                Err(ParameterError::new(&[key], "the mixture has no parts", "give two or more"))
            }
            _ => Err(ParameterError::new(
                &[key],
                format!("`{key}` holds no distributions"),
                "give a list of distributions, each with its weight",
            )),
        }
    }

    /// Refuses unless the numbers rise strictly in the order of the keys.
    pub(crate) fn rising(&self, keys: &[&str]) -> Result<(), ParameterError> {
        for pair in keys.windows(2) {
            if let [low, high] = *pair {
                let (x, y) = (self.number(low)?, self.number(high)?);
                if !(x < y) {
                    return Err(ParameterError::new(
                        &[low, high],
                        format!("`{low}` is {x} and `{high}` is {y}"),
                        format!("`{low}` must be below `{high}`"),
                    ));
                }
            }
        }
        Ok(())
    }
}

fn unknown_key(kind: &DistributionKind, key: &str) -> ParameterError {
    let known = kind.all_keys();
    let mut near: Vec<(usize, &str)> = known.iter().map(|k| (distance(key, k), *k)).collect();
    near.sort_unstable();
    let message = format!("`{}` has no parameter `{key}`", kind.name);
    let close = near.first().filter(|(d, k)| *d <= 1 + k.len() / 4);
    let hint = match close {
        Some((_, k)) => format!("did you mean `{k}`? It takes {}", kind.forms_in_words()),
        None => format!("it takes {}", kind.forms_in_words()),
    };
    ParameterError::new(&[key], message, hint)
}

fn no_form(kind: &DistributionKind, given: &[(String, Value)]) -> ParameterError {
    let keys: Vec<&str> = given.iter().map(|(k, _)| k.as_str()).collect();
    let hint = format!("give {}", kind.forms_in_words());
    let name = kind.name;
    if keys.is_empty() {
        return ParameterError::new(&[], format!("`{name}` has no parameters"), hint);
    }
    // The form with fewest keys missing and to spare is what was meant.
    let off = |form: &&Form| {
        let missing = form.keys.iter().filter(|k| !keys.contains(k)).count();
        let spare = keys.iter().filter(|k| !form.keys.contains(k) && !form.optional.contains(k)).count();
        (spare, missing)
    };
    let Some(meant) = kind.forms.iter().min_by_key(off) else {
        return ParameterError::new(&keys, format!("`{name}` takes no parameters"), hint);
    };
    let missing: Vec<&str> = meant.keys.iter().filter(|k| !keys.contains(k)).copied().collect();
    let spare: Vec<&str> =
        keys.iter().filter(|k| !meant.keys.contains(k) && !meant.optional.contains(k)).copied().collect();
    if spare.is_empty() {
        let message = format!("`{name}` lacks {}", quoted(&missing));
        return ParameterError::new(&keys, message, hint);
    }
    let message = format!("{} do not go together in `{name}`", quoted(&keys));
    ParameterError::new(&keys, message, hint)
}

/// A computed figure as a message shows it: four significant digits.
pub(crate) fn short(x: f64) -> String {
    format!("{x:.3e}").parse::<f64>().unwrap_or(x).to_string()
}

/// `a`, `b` and `c`.
pub(crate) fn quoted(words: &[&str]) -> String {
    let ticked: Vec<String> = words.iter().map(|w| format!("`{w}`")).collect();
    match ticked.as_slice() {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// Letters to change, add or drop to make one word of the other (Levenshtein 1966).
pub(crate) fn distance(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().take(64).collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, x) in a.chars().take(64).enumerate() {
        let mut before = i;
        let mut left = i + 1;
        let mut next = vec![left];
        for (y, above) in b.iter().zip(row.iter().skip(1)) {
            let cost = (before + usize::from(x != *y)).min(above + 1).min(left + 1);
            next.push(cost);
            before = *above;
            left = cost;
        }
        row = next;
    }
    row.last().copied().unwrap_or_default()
}
