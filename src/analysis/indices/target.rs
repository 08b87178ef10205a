//! The result whose variance is shared out, and what has a variance where the
//! result itself has none.

use crate::analysis::flips::rule_in_words;
use crate::analysis::indices::GlobalIndices;
use crate::analysis::indices::estimators::Columns;
use crate::analysis::laid::Laid;
use crate::analysis::statistics::Rule;
use crate::analysis::{AppraisalError, Estimate, Figure, Interval};
use crate::diagnostic::Diagnostic;
use crate::engine::graph::NodeId;
use crate::formula::types::Kind;
use crate::units::Unit;

/// A result, as the numbers whose variance is meant.
pub(super) struct Target {
    name: String,
    label: String,
    unit: Unit,
    kind: Sort,
    /// Which values are a yes, and in words.
    rule: (Rule, String),
    /// Whether the numbers are the 0 or 1 of the rule.
    by_rule: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Sort {
    Number,
    Years,
    YesNo,
}

impl Target {
    /// A result and its node.
    pub(super) fn of(laid: &Laid<'_>, result: usize) -> Result<(Target, NodeId), AppraisalError> {
        let none =
            || AppraisalError::Workings(Box::new(Diagnostic::error("indices", "there is no such result")));
        let item = laid.model.results.get(result).ok_or_else(none)?;
        let node = laid.result_node(&laid.base, item).ok_or_else(none)?;
        let working = laid.model.result_working(item);
        let kind = match working.formula.ty.kind {
            Kind::Years => Sort::Years,
            Kind::YesNo => Sort::YesNo,
            Kind::Number { .. } | Kind::Label(_) => Sort::Number,
        };
        let rule = match (item.at_least, item.at_most) {
            (Some(least), _) => Rule::AtLeast(least),
            (None, Some(most)) => Rule::AtMost(most),
            (None, None) if kind == Sort::YesNo => Rule::Yes,
            // Years without a limit: within the horizon, which is not never.
            (None, None) => Rule::AtMost(f64::MAX),
        };
        let target = Target {
            name: working.about.name.clone(),
            label: working.about.label.clone(),
            unit: working.unit.clone(),
            kind,
            rule: (rule, rule_in_words(item, &working.unit)),
            by_rule: kind == Sort::YesNo,
        };
        Ok((target, node))
    }

    /// A run's number from its value in base units; NaN where it has none. Never is +infinity until it is settled that
    /// the rule's yes or no is meant.
    pub(super) fn value(&self, x: f64) -> f64 {
        let x = self.unit.from_base(x);
        if !(x.is_finite() || (self.kind == Sort::Years && x == f64::INFINITY)) {
            return f64::NAN;
        }
        if self.by_rule && self.kind == Sort::Years { f64::from(self.is_yes(x)) } else { x }
    }

    fn is_yes(&self, x: f64) -> bool {
        match self.rule.0 {
            Rule::AtLeast(least) => x >= least,
            Rule::AtMost(most) => x <= most,
            Rule::Yes => x != 0.0,
        }
    }

    /// Years of which some are never have no variance: from here on the rule's yes or no is meant.
    pub(super) fn settle(&mut self, columns: &mut Columns) {
        let all = || [&columns.a, &columns.b].into_iter().chain(&columns.swapped);
        if self.kind != Sort::Years || !all().flatten().any(|x| *x == f64::INFINITY) {
            return;
        }
        self.by_rule = true;
        let Columns { a, b, swapped } = columns;
        for x in [a, b].into_iter().chain(swapped).flatten().filter(|x| !x.is_nan()) {
            *x = f64::from(self.is_yes(*x));
        }
    }

    /// An answer without indices yet.
    pub(super) fn answer(&self, base_points: u64, evaluations: u64) -> GlobalIndices {
        let mut notes = Vec::new();
        if self.by_rule && self.kind == Sort::Years {
            notes.push(format!(
                "{} is never in some runs and so has no variance: the indices are those of the yes or no of \u{201c}{}\u{201d}.",
                self.label, self.rule.1
            ));
        }
        GlobalIndices {
            result: self.name.clone(),
            label: self.label.clone(),
            unit: if self.by_rule { String::new() } else { self.unit.text.clone() },
            of: if self.by_rule { self.rule.1.clone() } else { "value".to_owned() },
            base_points,
            left_out: 0,
            evaluations,
            variance: Estimate::alone(Figure::None),
            rows: Vec::new(),
            sum_first: None,
            interactions: None,
            floor: 0.0,
            interval: Interval::None,
            shapley: None,
            notes,
        }
    }
}
