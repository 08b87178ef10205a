//! How the figures were made, in words.

use super::book::{Book, text};
use crate::report::document::{Block, Inline, NoteKind, Section};
use crate::wording::{clean, grouped};

pub(super) fn section(book: &Book<'_>) -> Section {
    let facts = &book.material.answers.sampling;
    let mut blocks = book.words("method");
    let how = match facts.method.as_str() {
        "sobol" => {
            "Sobol points (Joe, Kuo 2008), scrambled (Owen 1998), which fill the space of the inputs evenly"
        }
        "latin hypercube" => {
            "a Latin hypercube (McKay, Beckman, Conover 1979), a draw in each slice of every input"
        }
        _ => "independent random draws from a counter-based generator (Salmon, Moraes, Dror, Shaw 2011)",
    };
    blocks.push(Block::text(format!(
        "The study was computed {} times. Each run draws every uncertain input from its distribution and evaluates every \
         formula. The draws are {how}, in {} independent replicates, seed {}, engine version {}. Each draw depends on the \
         seed, the input's name and the run alone, so any run can be made again by itself.",
        grouped(facts.runs as f64, 0),
        facts.replicates,
        facts.seed,
        facts.engine,
    )));
    blocks.push(Block::text(format!(
        "Inputs that the study links are made to go together by {}; all others are drawn independently. Choices are no \
         matter of chance: each of their values is answered by itself, and nothing is averaged over them.",
        clean(&facts.linking)
    )));
    blocks.push(Block::Note {
        kind: NoteKind::Remark,
        heading: "What the intervals mean".into(),
        blocks: vec![Block::text(
            "A figure in brackets is a 95 % interval for the error of sampling alone: how far the printed figure could lie \
             from what infinitely many runs of the same study would give. It says nothing of whether the study is right. \
             \"Replicates\": Student's t over the independent replicates. \"Order statistics\": from ranked runs, whatever the \
             distribution (David, Nagaraja 2003). \"Wilson\": for a share (Wilson 1927). \"Bootstrap\": from runs drawn again with \
             replacement (Efron 1979). Percentiles are of type 7 of Hyndman and Fan (1996).",
        )],
    });
    for (what, words) in EACH {
        blocks.push(Block::Paragraph(vec![Inline::Strong(vec![text(format!("{what}. "))]), text(*words)]));
    }
    Section { id: "method".into(), heading: "Method".into(), new_page: false, blocks, sections: Vec::new() }
}

const EACH: &[(&str, &str)] = &[
    (
        "Payback and never",
        "Payback is the first time at which cumulative cash is no longer below nought. A run that never gets there is never: it \
      is counted and ranked above every year, and no mean is taken over it.",
    ),
    (
        "One input at a time",
        "Each input alone goes to the values below which 10 % and 90 % of its draws lie, the others at their base values. \
      What inputs do together is not seen that way (Saltelli, Annoni 2010).",
    ),
    (
        "What drives it over all runs",
        "First-order indices from classes of the runs at hand, rank correlations, regression, and measures of the \
      whole distribution (Borgonovo 2007; Pianosi, Wagener 2015), beside an input without effect that shows the noise; global \
      indices (Saltelli et al. 2010; Jansen 1999) where they were asked for.",
    ),
    (
        "Break-even",
        "In each run the input is moved until the result just meets its threshold, the rest as drawn; of several crossings all are \
      found. Holding an input at a value is an intervention: its links to others are cut.",
    ),
    (
        "Courses and worth of knowing",
        "All courses are computed on the same draws. Regret is the shortfall from the best course of each run. The \
      worth of knowing an input is what the choice would gain on average if it were known before choosing (Strong, Oakley 2013; Strong, Oakley, Brennan 2014).",
    ),
    (
        "When it fails",
        "Boxes of inputs in which failures lie close together are found on one half of the runs and judged on the other \
      (Friedman, Fisher 1999; Bryant, Lempert 2010).",
    ),
];
