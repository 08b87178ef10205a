//! What the writer of an unknown unit may have meant.

use std::ops::Range;

use super::parse::UnitError;
use super::table::UnitTable;
use crate::diagnostic::suggestion::nearest;

/// Other words for units, in lower case.
const SYNONYMS: &[(&str, &str)] = &[
    ("year", "yr"),
    ("years", "yr"),
    ("a", "yr"),
    ("annum", "yr"),
    ("months", "month"),
    ("mo", "month"),
    ("days", "day"),
    ("hour", "h"),
    ("hours", "h"),
    ("hr", "h"),
    ("hrs", "h"),
    ("minute", "min"),
    ("minutes", "min"),
    ("sec", "s"),
    ("second", "s"),
    ("seconds", "s"),
    ("litre", "L"),
    ("litres", "L"),
    ("liter", "L"),
    ("liters", "L"),
    ("metre", "m"),
    ("metres", "m"),
    ("meter", "m"),
    ("tonne", "t"),
    ("tonnes", "t"),
    ("ton", "t"),
    ("kilogram", "kg"),
    ("gram", "g"),
    ("celsius", "degC"),
    ("°c", "degC"),
    ("c", "degC"),
    ("℃", "degC"),
    ("kelvin", "K"),
    ("people", "person"),
    ("persons", "person"),
    ("homes", "home"),
    ("household", "home"),
    ("households", "home"),
    ("percent", "%"),
    ("pct", "%"),
    ("watt", "W"),
    ("watts", "W"),
    ("joule", "J"),
];

/// Other words for currencies, in lower case.
const MONEY_WORDS: &[(&str, &str)] = &[
    ("€", "EUR"),
    ("euro", "EUR"),
    ("euros", "EUR"),
    ("£", "GBP"),
    ("pound", "GBP"),
    ("pounds", "GBP"),
    ("$", "USD"),
    ("dollar", "USD"),
    ("dollars", "USD"),
];

/// Codes that people write; only to tell a foreign currency from a misspelt unit.
const CURRENCIES: &[&str] = &[
    "AUD", "BRL", "CAD", "CHF", "CNY", "CZK", "DKK", "EUR", "GBP", "HKD", "HUF", "ILS", "INR", "ISK", "JPY",
    "KRW", "MXN", "NOK", "NZD", "PLN", "RON", "SEK", "SGD", "TRY", "USD", "ZAR",
];

/// The error for a name that is not in the table, with the name that was meant if one is near.
pub(super) fn unknown(table: &UnitTable, name: &str, range: Range<usize>) -> UnitError {
    let lower = name.to_lowercase();
    let currency = table.currency();
    let word = MONEY_WORDS.iter().find(|(w, _)| *w == lower).map(|(_, code)| *code);
    let dollars = matches!(lower.as_str(), "$" | "dollar" | "dollars") && currency.ends_with('D');
    if word == Some(currency) || dollars || lower == currency.to_lowercase() {
        let message = format!("unknown unit `{name}`");
        return UnitError::new("unit-unknown", range, message, format!("write `{currency}`"));
    }
    if CURRENCIES.contains(&name.to_uppercase().as_str()) || word.is_some() {
        return UnitError::new(
            "unit-currency",
            range,
            format!("`{name}` is not the currency of this study"),
            format!("the study counts in {currency}: convert the figure, and note the rate and its date"),
        );
    }
    let message = format!("unknown unit `{name}`");
    if lower == "per" {
        return UnitError::new("unit-unknown", range, message, "write `/`, as in EUR/kWh");
    }
    let same = table.names().find(|n| n.to_lowercase() == lower);
    let synonym = || SYNONYMS.iter().find(|(w, _)| *w == lower).map(|(_, unit)| (*unit).to_owned());
    let meant =
        same.map(str::to_owned).or_else(synonym).or_else(|| nearest(name, table.names()).map(str::to_owned));
    let hint = match meant {
        Some(meant) => format!("did you mean `{meant}`?"),
        None => "`payspread reference units` lists them; own units go under [units]".to_owned(),
    };
    UnitError::new("unit-unknown", range, message, hint)
}
