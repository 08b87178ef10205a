//! The annex: what a report of this kind must show, and where this one does.

use super::book::{Book, missing, section as part, text};
use crate::report::document::{Block, Inline, Section};

/// An answer: a part of the report that gives it and what is said of it, or what is lacking.
type Answer = Result<(&'static str, &'static str, String), &'static str>;

pub(super) fn section(book: &Book<'_>) -> Section {
    let item = |(asked, answer): (&str, Answer)| {
        let asked = Block::Paragraph(vec![Inline::Strong(vec![text(asked)])]);
        let answer = match answer {
            Ok((to, place, words)) => Block::Paragraph(vec![
                text(format!("{words} See ")),
                Inline::Link { to: to.into(), text: place.into() },
                text("."),
            ]),
            Err(lacking) => missing("not answered", lacking),
        };
        vec![asked, answer]
    };
    let items = [scope(book), inputs(book), figures(book), judgement(book)].concat();
    let items = items.into_iter().map(item).collect();
    let intro = Block::text(
        "After EPA 1997 (EPA/630/R-97/001), JCGM 101:2008, Saltelli et al. 2019, Briggs et al. 2012, HM Treasury's Green and \
         Aqua Books, and European Commission 2014.",
    );
    part(
        "checklist",
        "Annex: what a report of this kind must show",
        vec![intro, Block::List { numbered: true, items }],
    )
}

fn scope(book: &Book<'_>) -> Vec<(&'static str, Answer)> {
    let (answers, report) = (book.material.answers, &book.material.model.report);
    let stated = answers.study.question.is_some() && report.decision.is_some();
    let question = match (stated, answers.alternatives.is_some()) {
        (true, true) => Ok((
            "question",
            "Question, decision and scope",
            "Question, decision and the courses compared are stated.".to_owned(),
        )),
        (true, false) => Err("The study compares no courses with doing nothing."),
        (false, _) => Err("The study does not state the question and the decision that it serves."),
    };
    let formulas = if answers.study.unsourced.is_empty() {
        "All formulas stand with units; every input has a distribution, a source and a drawing.".to_owned()
    } else {
        format!(
            "All formulas stand with units; {} inputs without a source are listed.",
            answers.study.unsourced.len()
        )
    };
    vec![
        ("The question, the decision it serves and the options compared, including doing nothing", question),
        (
            "All formulas and units; every input with distribution, source, date and reason; those without a source listed",
            Ok(("inputs", "Register of inputs", formulas)),
        ),
    ]
}

fn inputs(book: &Book<'_>) -> Vec<(&'static str, Answer)> {
    let answers = book.material.answers;
    let between = book.material.model.inputs.iter().any(|input| input.between_homes);
    let kinds = if between {
        "Inputs that vary between homes are marked in the study and kept apart from what is uncertain."
    } else {
        "All spread is uncertainty about one home: nothing varies between homes."
    };
    let links = match answers.links.len() {
        0 => "No dependence is stated: all inputs were assumed independent.".to_owned(),
        n => format!("{n} rank correlations are stated, asked and reached; all others were assumed nought."),
    };
    vec![
        ("Variability kept apart from uncertainty; dependence stated, with what was assumed zero", Ok(("inputs", "Register of inputs", format!("{kinds} {links} The effect of leaving the dependence out is not computed.")))),
        ("Base case beside the distribution, and where in it the base case lies", Ok(("results-all", "Each result", "The share of runs below the base case stands beside it.".into()))),
        ("Seed, method, runs, version; numerical error of every printed figure; no digit beyond it", Ok(("method", "Method", "Each estimated figure has a 95 % interval and no digit beyond it.".into()))),
        ("Mean, median, spread, P5 to P95 and the share that never pays; whole curve; interval type named", Ok(("results-all", "Each result", "All of them stand in the tables, the whole curve in the chart; the kind of interval stands under each number.".into()))),
    ]
}

fn figures(book: &Book<'_>) -> Vec<(&'static str, Answer)> {
    let answers = book.material.answers;
    let hangs = ("results-hangs-on", "What it hangs on");
    let global = match (&answers.indices, &answers.drivers) {
        (Some(_), _) => Ok((hangs.0, hangs.1, "Spans one at a time are called that; global indices stand with their intervals.".into())),
        (None, Some(_)) => Ok((hangs.0, hangs.1, "Spans one at a time are called that; first-order indices come from the runs. Totals and interactions were not computed (run --all).".into())),
        (None, None) => Err("There is no measure over all inputs together."),
    };
    let same = match &answers.tornado {
        Some(_) => Ok((
            hangs.0,
            hangs.1,
            "Both are of the same result over the ranges that the study gives each input with its reason."
                .into(),
        )),
        None => Err("The study has no uncertain input to vary."),
    };
    let flips = if answers.break_even.is_empty() {
        Err("No break-even value was asked for or found.")
    } else {
        Ok((
            "results-flips",
            "Where the answer flips",
            "Break-even values are given. Critical inputs by the rule of 1 % are not marked.".to_owned(),
        ))
    };
    vec![
        (
            "One-at-a-time span labelled as such; global indices with intervals and sum; interactions; which inputs do not matter",
            global,
        ),
        ("Uncertainty and sensitivity of the same result over the same ranges; ranges argued", same),
        ("Switching values (break-even) for every input that matters", flips),
    ]
}

fn judgement(book: &Book<'_>) -> Vec<(&'static str, Answer)> {
    let (answers, report) = (book.material.answers, &book.material.model.report);
    let shape = if answers.choices.is_empty() {
        Err("The study offers no choice (of a discount rate, a shape, a rule) to answer side by side.")
    } else {
        Ok(("results-choices", "Choices side by side", "What is a matter of judgement is answered at each of its values. Other shapes of distributions are not tried by themselves.".to_owned()))
    };
    let doubts = match report.doubts {
        Some(_) => Ok((
            "question",
            "Question, decision and scope",
            "They are given in the author's words; choices are kept unmixed.".to_owned(),
        )),
        None => Err("The study states no doubts; `doubts` in its [report] would."),
    };
    let knowing = match (&answers.knowing, &answers.failing) {
        (Some(_), _) => Ok((
            "results-knowing",
            "What it is worth to know more",
            "The worth of knowing each input is given, and the conditions of failure.".to_owned(),
        )),
        (None, Some(_)) => Ok((
            "results-fails",
            "When it fails",
            "Conditions of failure are given; there is nothing to choose by which knowing has a worth."
                .to_owned(),
        )),
        (None, None) => Err("There is nothing to choose, and no result that can fail."),
    };
    let failed: u64 = answers.results.iter().map(|result| result.without_value).sum();
    let counted = format!(
        "{} values of results are missing over all runs; none was left out silently.",
        crate::wording::grouped(failed as f64, 0)
    );
    vec![
        (
            "Sensitivity to shape: tails, dependence, discount rate, price year; optimism bias considered",
            shape,
        ),
        (
            "Structural doubts that no distribution covers, in words; scenarios not given weights kept unmixed",
            doubts,
        ),
        ("Value of finding out more, and about what; conditions under which the answer flips", knowing),
        (
            "Failed runs counted; excluded runs: none silently",
            Ok(("checks", "Convergence, checks and warnings", counted)),
        ),
        (
            "Enough for a stranger to repeat it: study file, data hashes, manifest",
            Ok((
                "repeat",
                "How to make it again",
                "Commands, versions, seed and hashes are given; the manifest lies beside the report.".into(),
            )),
        ),
    ]
}
