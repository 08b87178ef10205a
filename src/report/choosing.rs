//! In words: which course is best, and what it is worth to know more before choosing.

use comfy_table::Cell;

use crate::analysis::choosing::InformationRow;
use crate::analysis::{Along, Alternatives, Answers, Figure, Knowing, Measurement};

use super::numbers::{
    clean, estimate_with_interval, few_decimals, figure, grouped, half_width, in_prose, in_sentence, in_ten,
    listed, share_with_interval, shortened, spoken, with_unit,
};
use super::terminal::{lines, plain, right, wrapped};

/// Things worth knowing that are named on the first page.
const NAMED: usize = 3;

/// Longest label that is shown whole.
const MOST: usize = 80;

fn label(text: &str) -> String {
    shortened(&clean(text), MOST)
}

/// The courses side by side, where there are alternatives: a table and a few sentences.
pub(super) fn alternatives(answers: &Answers) -> Option<String> {
    let found = answers.alternatives.as_ref()?;
    // The study against doing nothing is what the first two sentences are about.
    if found.comparison.rows.len() < 3 && found.nothing.is_some() {
        return None;
    }
    let mut out = wrapped(&title(found), "");
    out.push_str(&lines(&table(answers, found)));
    for sentence in sentences(answers, found) {
        out.push_str(&wrapped(&sentence, "  "));
    }
    Some(out)
}

fn title(found: &Alternatives) -> String {
    let unit = unit_after(&found.comparison.unit);
    let side = if found.higher { "more is better" } else { "less is better" };
    format!("Courses side by side on the same runs: {}{unit} ({side})", in_sentence(&label(&found.label)))
}

fn unit_after(unit: &str) -> String {
    if unit.is_empty() { String::new() } else { format!(", {}", clean(unit)) }
}

fn table(answers: &Answers, found: &Alternatives) -> comfy_table::Table {
    let (currency, unit) = (&answers.study.currency, &found.comparison.unit);
    let mut table = plain(&["", "base case", "mean [95 % interval]", "best in share", "regret"]);
    for (row, base) in found.comparison.rows.iter().zip(&found.base) {
        let nothing = found.nothing.as_ref() == Some(&row.name);
        let mark = match (row.name == found.comparison.best, nothing) {
            (true, _) => " (best)",
            (false, true) => " (nothing done)",
            _ => "",
        };
        table.add_row(vec![
            Cell::new(format!("{}{mark}", shortened(&clean(&row.label), 44))),
            right(figure(*base, None, unit, currency)),
            right(estimate_with_interval(&row.mean, unit, currency)),
            right(share_with_interval(&row.best_share)),
            right(figure(row.regret.value, half_width(&row.regret), unit, currency)),
        ]);
    }
    table
}

/// Which is best, by how much and how surely; what is dominated; where the best changes.
pub(crate) fn sentences(answers: &Answers, found: &Alternatives) -> Vec<String> {
    let mut said: Vec<String> = verdict(answers, found).into_iter().collect();
    said.extend(over_nothing(answers, found));
    said.extend(dominated(found));
    said.extend(found.along.iter().filter_map(|line| flips(answers, found, line)));
    said
}

/// The best course against the next best in the mean.
pub(crate) fn verdict(answers: &Answers, found: &Alternatives) -> Option<String> {
    let comparison = &found.comparison;
    let best = comparison.rows.iter().find(|row| row.name == comparison.best)?;
    let sign = if found.higher { 1.0 } else { -1.0 };
    let mean = |row: &crate::analysis::choosing::CourseRow| row.mean.value.number().map(|x| sign * x);
    let others = comparison.rows.iter().filter(|row| row.name != best.name);
    let second = others.max_by(|a, b| {
        mean(a).unwrap_or(f64::NEG_INFINITY).total_cmp(&mean(b).unwrap_or(f64::NEG_INFINITY))
    })?;
    let pair = comparison.pairs.iter().find(|pair| pair.joins(&best.name, &second.name))?;
    let (ahead, share) = if pair.first == best.name {
        (pair.mean.clone(), pair.first_better.value)
    } else {
        (turned(&pair.mean), pair.second_better.value)
    };
    let by = with_unit(&in_prose(&ahead, &comparison.unit, &answers.study.currency), &comparison.unit);
    let level = match (ahead.value.number(), mean(best)) {
        (Some(ahead), Some(mean)) if ahead < 0.01 * mean.abs() => ", which is next to nothing",
        _ => "",
    };
    Some(format!(
        "Best in the mean: {}, ahead of {} by {by}{level}; better than it in {} of the futures tried.",
        in_sentence(&label(&best.label)),
        in_sentence(&label(&second.label)),
        in_ten(share)
    ))
}

/// The best course against doing nothing.
fn over_nothing(answers: &Answers, found: &Alternatives) -> Option<String> {
    let comparison = &found.comparison;
    let nothing = found.nothing.as_ref().filter(|nothing| **nothing != comparison.best)?;
    let name = |of: &str| {
        let row = comparison.rows.iter().find(|row| row.name == of);
        row.map_or_else(String::new, |row| in_sentence(&label(&row.label)))
    };
    let pair = comparison.pairs.iter().find(|pair| pair.joins(&comparison.best, nothing))?;
    let (ahead, share) = if pair.first == comparison.best {
        (pair.mean.clone(), pair.first_better.value)
    } else {
        (turned(&pair.mean), pair.second_better.value)
    };
    let by = with_unit(&in_prose(&ahead, &comparison.unit, &answers.study.currency), &comparison.unit);
    Some(format!(
        "Against {} it is better by {by} in the mean, and in {} of the futures tried.",
        name(nothing),
        in_ten(share)
    ))
}

fn turned(estimate: &crate::analysis::Estimate) -> crate::analysis::Estimate {
    let turn = |f: Figure| if let Figure::Number(x) = f { Figure::Number(-x) } else { f };
    crate::analysis::Estimate {
        value: turn(estimate.value),
        low: estimate.high.map(turn),
        high: estimate.low.map(turn),
        interval: estimate.interval,
    }
}

/// Courses that another beats at every share of runs.
fn dominated(found: &Alternatives) -> Option<String> {
    let comparison = &found.comparison;
    let name = |of: &str| {
        let row = comparison.rows.iter().find(|row| row.name == of);
        row.map_or_else(String::new, |row| in_sentence(&label(&row.label)))
    };
    let mut said: Vec<String> = Vec::new();
    let mut told: Vec<&str> = Vec::new();
    for pair in &comparison.pairs {
        for (over, under, dominance) in [
            (&pair.first, &pair.second, pair.first_dominates),
            (&pair.second, &pair.first, pair.second_dominates),
        ] {
            if dominance.first_order.holds() && *over == comparison.best && !told.contains(&under.as_str()) {
                told.push(under);
                let doubt = match dominance.first_order {
                    crate::analysis::choosing::Verdict::WithinSamplingError => " (within sampling error)",
                    _ => "",
                };
                said.push(format!("{}{doubt}", name(under)));
            }
        }
    }
    let best = name(&comparison.best);
    (!said.is_empty())
        .then(|| format!("Whether one shuns risk or not, {best} is better than {}.", listed(&said)))
}

/// Where along an input the best course changes.
fn flips(answers: &Answers, found: &Alternatives, line: &Along) -> Option<String> {
    let name = |k: usize| {
        let row = found.comparison.rows.get(k);
        row.map_or_else(String::new, |row| in_sentence(&label(&row.label)))
    };
    let of = in_sentence(&label(&line.label));
    let first = line.points.iter().find_map(|p| p.best)?;
    let value =
        |x: f64| spoken(&grouped(x, few_decimals(x, None, &line.unit, &answers.study.currency)), &line.unit);
    if line.flips.is_empty() {
        return Some(format!("Along {of} the best course is {} throughout.", name(first)));
    }
    let steps: Vec<String> =
        line.flips.iter().map(|f| format!("above {} {}", value(f.at), name(f.to))).collect();
    let near = if line.level { "; they are all but level throughout" } else { "" };
    Some(format!("Along {of} the best course in the mean is {}; {}{near}.", name(first), steps.join("; ")))
}

/// What it is worth to know more before choosing.
pub(super) fn knowing(answers: &Answers) -> Option<String> {
    let found = answers.knowing.as_ref()?;
    let said = knowing_sentences(answers, found);
    if said.is_empty() {
        return None;
    }
    Some(wrapped(&format!("What it is worth to know more before choosing. {}", said.join(" ")), ""))
}

/// Everything, then the single things that are worth most, then what can be measured.
pub(crate) fn knowing_sentences(answers: &Answers, found: &Knowing) -> Vec<String> {
    let information = &found.information;
    let Some(all) = information.evpi.value.number() else { return Vec::new() };
    let money = |e: &crate::analysis::Estimate| {
        with_unit(&in_prose(e, &information.unit, &answers.study.currency), &information.unit)
    };
    if all <= 0.0 {
        return vec![
            "The best course is best in every future tried: knowing more would not change the choice."
                .to_owned(),
        ];
    }
    let mut said = vec![format!("To know everything: {}.", money(&information.evpi))];
    let singles = || information.rows.iter().filter(|row| !row.is_group && !row.about_zero);
    let named = |rows: Vec<&InformationRow>| {
        let each =
            rows.iter().map(|row| format!("{} about {}", in_sentence(&label(&row.label)), money(&row.value)));
        listed(&each.collect::<Vec<_>>())
    };
    // What would be written as nothing is left out.
    let worth = |row: &&InformationRow| row.value.low.and_then(Figure::number).is_none_or(|low| low > 0.0);
    let open: Vec<&InformationRow> =
        singles().filter(|row| row.can_be_found_out).filter(worth).take(NAMED).collect();
    let closed: Vec<&InformationRow> =
        singles().filter(|row| !row.can_be_found_out).filter(worth).take(NAMED).collect();
    said.push(if open.is_empty() {
        "Nothing that can be found out by itself is worth anything to speak of.".to_owned()
    } else {
        format!("Of what can be found out, each by itself: {}.", named(open))
    });
    if !closed.is_empty() {
        said.push(format!("Of what only time tells and nobody can sell you: {}.", named(closed)));
    }
    said.extend(found.measurements.iter().map(|m| measurement(answers, m, &information.unit)));
    said
}

fn measurement(answers: &Answers, found: &Measurement, unit: &str) -> String {
    let worth = &found.worth;
    let money = with_unit(&in_prose(&worth.value, unit, &answers.study.currency), unit);
    let count = if worth.observations == 1 {
        "one observation is".to_owned()
    } else {
        format!("{} observations are", worth.observations)
    };
    let cost = found.cost.map_or_else(String::new, |cost| {
        let said = with_unit(&figure(Figure::Number(cost), None, unit, &answers.study.currency), unit);
        let pays = worth.value.value.number().is_some_and(|x| x > cost);
        format!(" and cost {said}{}", if pays { "" } else { ": not worth it" })
    });
    format!("{}: {count} worth about {money}{cost}.", label(&found.label))
}
