//! A box in plain sentences.

use super::answers::{ConditionBox, Neighbour, Restriction};
use crate::analysis::factors::Factor;
use crate::analysis::{Figure, Share};
use crate::wording::{clean, grouped, in_sentence, listed, percent, spoken};

/// How the runs that are looked for are spoken of.
#[derive(Debug, Clone, PartialEq)]
pub struct Phrases {
    /// Those runs: "failures".
    pub those: String,
    /// What they do, of several runs: "fail".
    pub they: String,
}

impl Phrases {
    /// "failures", "fail".
    pub fn new(those: &str, they: &str) -> Self {
        Phrases { those: those.into(), they: they.into() }
    }
}

/// A number as it is, with commas between thousands.
pub(crate) fn plain(x: f64) -> String {
    let text = format!("{x}");
    grouped(x, text.split_once('.').map_or(0, |(_, decimals)| decimals.len() as i32))
}

/// "export price above 0.094 EUR/kWh".
pub fn in_words(restriction: &Restriction) -> String {
    let discrete = restriction.whole_values;
    let name = in_sentence(&restriction.label);
    // A label with a comma in it needs another behind it.
    let name = if name.contains(',') { format!("{name},") } else { name };
    let unit = &restriction.unit;
    if let Some(labels) = &restriction.labels {
        return format!("{name} is {}", one_of(labels));
    }
    let value = |x: f64| spoken(&plain(x), unit);
    match (restriction.from, restriction.to) {
        (Some(Figure::Never), _) => format!("{name} is never"),
        (Some(Figure::Number(from)), Some(Figure::Number(to))) if from == to => {
            format!("{name} is {}", value(to))
        }
        (Some(Figure::Number(from)), Some(Figure::Number(to))) => {
            format!("{name} from {} to {}", plain(from), value(to))
        }
        (Some(Figure::Number(from)), _) if discrete => format!("{name} at least {}", value(from)),
        (Some(Figure::Number(from)), _) => format!("{name} above {}", value(from)),
        (_, Some(Figure::Number(to))) if discrete => format!("{name} at most {}", value(to)),
        (_, Some(Figure::Number(to))) => format!("{name} below {}", value(to)),
        _ => format!("any {name}"),
    }
}

fn one_of(labels: &[String]) -> String {
    let labels: Vec<String> = labels.iter().map(|label| format!("\"{}\"", clean(label))).collect();
    match labels.split_last() {
        None => "none of its labels".into(),
        Some((last, [])) => last.clone(),
        Some((last, before)) => format!("{} or {last}", before.join(", ")),
    }
}

fn first_upper(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

/// What a box says; `share` is that of all runs. `second`: it is about the runs outside the first.
pub(super) fn of_box(found: &ConditionBox, share: Share, second: bool, says: &Phrases) -> String {
    let conditions: Vec<String> = found.restrictions.iter().map(in_words).collect();
    let Phrases { those, they } = says;
    let held = &found.held_out;
    let lead = if second { "Outside the first box: " } else { "" };
    let there = format!("{lead}{}", listed(&conditions));
    format!(
        "{}: {} of the {those} lie there, and {} of the runs there {they} (of all runs, {}).",
        first_upper(&there),
        percent(&held.coverage),
        percent(&held.density),
        percent(&share)
    )
}

/// What each of several conditions adds: coverage and density without it.
pub(super) fn of_adds(found: &ConditionBox) -> Vec<String> {
    let held = &found.held_out;
    let without = |restriction: &Restriction| {
        let adds = &restriction.adds;
        format!(
            "Without the condition on {}, these would be {} and {}.",
            in_sentence(&restriction.label),
            percent(&as_sure(adds.coverage_without, held.coverage)),
            adds.density_without.map_or("none".into(), |share| percent(&as_sure(share, held.density)))
        )
    };
    if found.restrictions.len() > 1 { found.restrictions.iter().map(without).collect() } else { Vec::new() }
}

/// A share that is written with the digits of another, beside which it stands.
fn as_sure(value: f64, beside: Share) -> Share {
    let half = (beside.high - beside.low) / 2.0;
    Share { value, low: value - half, high: value + half, ..beside }
}

/// That a box may stand for a neighbour.
pub(super) fn of_neighbour(restricted: &Factor, neighbour: &Factor, rank_correlation: f64) -> Neighbour {
    let way = if rank_correlation > 0.0 { "rises with" } else { "falls as" };
    let (one, other) = (in_sentence(&restricted.label), in_sentence(&neighbour.label));
    let goes = if rank_correlation > 0.0 { format!("{way} {other}") } else { format!("{way} {other} rises") };
    Neighbour {
        of: restricted.name.clone(),
        name: neighbour.name.clone(),
        label: neighbour.label.clone(),
        rank_correlation,
        words: format!(
            "{} {goes} (rank correlation {rank_correlation:.2}): the condition on the one may stand for the other.",
            first_upper(&one)
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::super::answers::Adds;
    use super::*;

    fn restriction(label: &str, unit: &str, from: Option<f64>, to: Option<f64>) -> Restriction {
        Restriction {
            name: String::new(),
            label: label.into(),
            unit: unit.into(),
            from: from.map(Figure::of),
            to: to.map(Figure::of),
            labels: None,
            whole_values: false,
            quasi_p: 0.0,
            adds: Adds { coverage_without: 1.0, density_without: None },
        }
    }

    #[test]
    fn conditions_are_said_plainly() {
        let price = restriction("Export price", "EUR/kWh", Some(0.094), None);
        assert_eq!(in_words(&price), "export price above 0.094 EUR/kWh");
        let mut people = restriction("People living here", "person", None, Some(2.0));
        people.whole_values = true;
        assert_eq!(in_words(&people), "people living here at most 2 people");
        let both = restriction("Litres drawn", "L/day", Some(1_200.0), Some(1_300.0));
        assert_eq!(in_words(&both), "litres drawn from 1,200 to 1,300 L/day");
        let never = restriction("Year the rule ends", "yr", Some(f64::INFINITY), None);
        assert_eq!(in_words(&never), "year the rule ends is never");
        let comma = restriction("Price, mean of all years", "", None, Some(-0.5));
        assert_eq!(in_words(&comma), "price, mean of all years, below -0.5");
        let mut fuel = restriction("Fuel", "", None, None);
        fuel.labels = Some(vec!["gas".into(), "oil".into(), "wood".into()]);
        assert_eq!(in_words(&fuel), "fuel is \"gas\", \"oil\" or \"wood\"");
    }
}
