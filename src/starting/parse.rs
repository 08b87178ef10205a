//! What was typed, as an answer, or what would be right.

use super::answers::{Export, Heater, LineAmount, Shower, ShowerLength};

/// Longest text that is taken.
const MOST_CHARS: usize = 200;

/// A number; a comma may stand for the point where no thousands are meant.
fn plain_number(text: &str) -> Option<f64> {
    let text = text.trim();
    let one_comma = text.matches(',').count() == 1 && !text.contains('.');
    // 1,800 is a thousand and some; 0,075 and 3,6 are decimals.
    let thousands = text.split_once(',').is_some_and(|(whole, rest)| {
        rest.len() == 3 && !whole.starts_with('0') && rest.bytes().all(|b| b.is_ascii_digit())
    });
    let text = if one_comma && !thousands { text.replace(',', ".") } else { text.replace(',', "") };
    let usual = !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit() || b == b'.');
    if usual { text.parse().ok().filter(|x: &f64| x.is_finite()) } else { None }
}

/// A number from `least` to `most`, with any of `units` after it.
pub(super) fn number(
    text: &str,
    least: f64,
    most: f64,
    units: &[&str],
    such_as: &str,
) -> Result<f64, String> {
    let typed = text.trim().to_lowercase();
    let bare = units.iter().find_map(|unit| typed.strip_suffix(unit)).unwrap_or(&typed);
    match plain_number(bare) {
        Some(x) if (least..=most).contains(&x) => Ok(x),
        Some(_) => Err(format!("it must lie from {least} to {most}, such as {such_as}")),
        None => Err(format!("a number from {least} to {most} is wanted, such as {such_as}")),
    }
}

/// A price for a kWh in the currency; cents are recognised by their size and refused.
pub(super) fn price(text: &str) -> Result<f64, String> {
    match number(text, 0.0, 2.0, &[], "0.112") {
        Err(_) if plain_number(text).is_some_and(|x| x > 2.0) => {
            Err("that looks like cents: write 11.2 cents as 0.112".to_owned())
        }
        other => other,
    }
}

/// One of several words, by number, whole or by its beginning.
fn one_of<T: Copy>(text: &str, words: &[(&str, T)]) -> Result<T, String> {
    let typed = text.trim().to_lowercase().replace(['-', '_'], " ");
    if let Some(found) = typed.parse::<usize>().ok().and_then(|n| words.get(n.wrapping_sub(1))) {
        return Ok(found.1);
    }
    if let Some(found) = words.iter().find(|(word, _)| *word == typed) {
        return Ok(found.1);
    }
    let fits: Vec<_> =
        words.iter().filter(|(word, _)| !typed.is_empty() && word.starts_with(&typed)).collect();
    match fits.as_slice() {
        [only] => Ok(only.1),
        _ => {
            let all: Vec<&str> = words.iter().map(|(word, _)| *word).collect();
            Err(format!("one of these is wanted: {}", all.join(", ")))
        }
    }
}

pub(super) fn shower(text: &str) -> Result<Shower, String> {
    let words = [("cylinder", Shower::Cylinder), ("electric", Shower::Own), ("both", Shower::Both)];
    one_of(text, &words)
}

pub(super) fn length(text: &str) -> Result<ShowerLength, String> {
    let words =
        [("short", ShowerLength::Short), ("medium", ShowerLength::Usual), ("long", ShowerLength::Long)];
    one_of(text, &words)
}

pub(super) fn heater(text: &str) -> Result<Heater, String> {
    let words = [
        ("gas", Heater::Gas),
        ("oil", Heater::Oil),
        ("lpg", Heater::Lpg),
        ("off peak", Heater::OffPeak),
        ("day electricity", Heater::Day),
        ("heat pump", Heater::HeatPump),
    ];
    one_of(text, &words)
}

/// `3.6 kWp` or `1800 kWh`: a bare number is refused, since it could be either.
pub(super) fn export(text: &str) -> Result<Export, String> {
    let typed = text.trim().to_lowercase();
    if let Some(size) = typed.strip_suffix("kwp").or_else(|| typed.strip_suffix("kw")) {
        return number(size, 0.3, 30.0, &[], "3.6 kWp").map(Export::Panels);
    }
    let yearly = ["kwh a year", "kwh/yr", "kwh/year", "kwh"].iter().find_map(|unit| typed.strip_suffix(unit));
    if let Some(yearly) = yearly {
        return number(yearly, 1.0, 50_000.0, &[], "1800 kWh").map(Export::Yearly);
    }
    Err("a number with its unit is wanted: the panels' size such as 3.6 kWp, or a year's export such as 1800 kWh"
        .to_owned())
}

/// `320`, `320 without VAT`, `320 net`: VAT is included unless it is said.
pub(super) fn line(text: &str) -> Result<LineAmount, String> {
    let typed = text.trim().to_lowercase();
    let ending = |endings: &[&str]| endings.iter().find_map(|end| typed.strip_suffix(end)).map(str::to_owned);
    let net = ending(&["without vat", "plus vat", "+ vat", "+vat", "ex vat", "net"]);
    let gross = ending(&["with vat", "incl vat", "vat included", "gross"]);
    let without_vat = net.is_some();
    let bare = net.or(gross).unwrap_or_else(|| typed.clone());
    number(&bare, 0.0, 100_000.0, &[], "320, or 260 without VAT")
        .map(|amount| LineAmount { amount, without_vat })
}

/// A line of text, as typed.
pub(super) fn words(text: &str) -> Result<String, String> {
    let text = text.trim();
    if text.chars().count() > MOST_CHARS {
        return Err(format!("at most {MOST_CHARS} characters are wanted"));
    }
    Ok(text.to_owned())
}

/// A date as written in the quote: kept as typed, since countries write dates otherwise.
pub(super) fn date(text: &str) -> Result<String, String> {
    let text = words(text)?;
    if text.bytes().any(|b| b.is_ascii_digit()) {
        Ok(text)
    } else {
        Err("a date is wanted, such as 2027-03-31".to_owned())
    }
}

/// Name of a file in the study's folder or below it.
pub(super) fn file(text: &str) -> Result<String, String> {
    let text = words(text)?;
    let outside = text.starts_with('/') || text.contains('\\') || text.split('/').any(|part| part == "..");
    if outside || text.contains(':') || text.chars().any(char::is_control) {
        let right = "put it beside the study and give its name, such as meter.csv: a study names no folder but those below its own";
        return Err(right.to_owned());
    }
    Ok(text)
}
