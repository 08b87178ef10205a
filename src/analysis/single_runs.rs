//! What is asked of the runs one by one, at the base choices or under another value of a choice: what drives the result,
//! which course is best, what it is worth to know, when the result fails, whether it keeps what was promised.

use std::collections::BTreeMap;

use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;

use crate::analysis::along::{Along, along};
use crate::analysis::appraise::{kind_of, rule_of};
use crate::analysis::choosing::{
    Comparison, Course, Information, SamplingValue, Subject, compare, information, value_of_sampling,
};
use crate::analysis::claim::{Claim, Promise, claim};
use crate::analysis::conditions::{Conditions, Wish, conditions};
use crate::analysis::courses::Courses;
use crate::analysis::drawn::AtHand;
use crate::analysis::factors::{Factor, FactorNode, Level};
use crate::analysis::flips::rule_in_words;
use crate::analysis::laid::Laid;
use crate::analysis::sensitivity::{
    Groups, Sensitivity, SensitivityWish, Tenths, by_group, sensitivity, tenths,
};
use crate::analysis::statistics::Rule;
use crate::analysis::{Estimate, Figure, Options};
use crate::engine::graph::NodeId;
use crate::engine::run::{Control, Stopped};
use crate::model::lower::Sheet;
use crate::model::{PromiseItem, ResultItem};

/// Most columns of a group whose value of information is found: beyond that the fit is all noise.
const MOST_COLUMNS: usize = 25;

/// What drives a result, from its runs.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Drivers {
    /// Name of the result.
    pub result: String,
    /// Plain name.
    pub label: String,
    /// Unit of the result.
    pub unit: String,
    /// Measures of each input and path.
    pub sensitivity: Sensitivity,
    /// The result where each input is lowest and where it is highest.
    pub tenths: Tenths,
}

/// A result by groups of runs.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ResultByGroup {
    /// Name of the result.
    pub result: String,
    /// Plain name.
    pub label: String,
    /// Unit of the result.
    pub unit: String,
    /// What counts as success, if anything does.
    pub rule: Option<String>,
    /// The study asks for it by name.
    pub asked: bool,
    /// The groups.
    pub by: Groups,
}

/// The study, its alternatives and doing nothing side by side.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Alternatives {
    /// Name of the result by which they are compared.
    pub result: String,
    /// Plain name.
    pub label: String,
    /// Whether more is better.
    pub higher: bool,
    /// Name of the course that is doing nothing, if any is.
    pub nothing: Option<String>,
    /// Base case of each course, in the unit of the result.
    pub base: Vec<Figure>,
    /// The courses; means are of the result, advantages and regrets count what is better as positive.
    pub comparison: Comparison,
    /// Along single inputs.
    pub along: Vec<Along>,
}

/// What it is worth to know more before choosing.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Knowing {
    /// Name of the result by which courses are compared.
    pub result: String,
    /// Plain name.
    pub label: String,
    /// Each input, path and group.
    pub information: Information,
    /// Observations that could be made.
    pub measurements: Vec<Measurement>,
}

/// Observations that could be made, and what they are worth.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Measurement {
    /// Plain name.
    pub label: String,
    /// Unit of the input.
    pub unit: String,
    /// What they are worth before they are paid for.
    pub worth: SamplingValue,
    /// What they cost, in the unit of the result.
    pub cost: Option<f64>,
}

/// When a result fails.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Failing {
    /// Name of the result.
    pub result: String,
    /// Plain name.
    pub label: String,
    /// What counts as success.
    pub rule: String,
    /// Where failures lie.
    pub conditions: Conditions,
}

/// All of it.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct SingleRuns {
    pub(super) drivers: Option<Drivers>,
    pub(super) groups: Vec<ResultByGroup>,
    pub(super) alternatives: Option<Alternatives>,
    pub(super) knowing: Option<Knowing>,
    pub(super) failing: Option<Failing>,
    pub(super) claim: Option<Claim>,
}

/// The runs at hand and all that varies in them.
pub(super) struct Asking<'a, 'm> {
    laid: &'a Laid<'m>,
    at_hand: &'a AtHand<'a>,
    /// Base case of every node, in base units.
    base: &'a [f64],
    options: Options,
    control: &'a Control,
    /// In the order of `laid.factors`.
    factors: Vec<Factor>,
}

impl<'a, 'm> Asking<'a, 'm> {
    pub(super) fn new(
        laid: &'a Laid<'m>,
        at_hand: &'a AtHand<'a>,
        base: &'a [f64],
        options: Options,
        control: &'a Control,
    ) -> Self {
        let factors = laid.factors.par_iter().map(|f| f.with(at_hand.column(f.node))).collect();
        Asking { laid, at_hand, base, options, control, factors }
    }

    /// Everything at the base choices, then what each other value of a choice makes different, in the order of
    /// `laid.others`; nothing where it is not asked.
    pub(super) fn all(&self) -> Result<Vec<SingleRuns>, Stopped> {
        let n = 1 + self.laid.others.len();
        if !self.options.single_runs {
            return Ok((0..n).map(|_| SingleRuns::default()).collect());
        }
        let one = |k: usize| k.checked_sub(1).map_or_else(|| self.at_base(), |other| self.under(other));
        (0..n).into_par_iter().map(one).collect()
    }

    /// Everything at the base choices.
    fn at_base(&self) -> Result<SingleRuns, Stopped> {
        let model = self.laid.model;
        let sheet = &self.laid.base;
        let headline = &model.results[model.headline];
        let ((drivers, groups), ((alternatives, knowing), (failing, claim))) = rayon::join(
            || rayon::join(|| self.drivers(sheet, headline), || self.groups()),
            || {
                rayon::join(
                    || rayon::join(|| self.alternatives(None), || self.knowing(None)),
                    || rayon::join(|| self.failing(sheet), || self.claim()),
                )
            },
        );
        Ok(SingleRuns { drivers, groups, alternatives: alternatives?, knowing, failing, claim })
    }

    /// What another value of a choice makes different of what a decision rests on.
    fn under(&self, other: usize) -> Result<SingleRuns, Stopped> {
        let laid = self.laid;
        let sheet = &laid.others[other].sheet;
        let differs =
            |result: &ResultItem| laid.result_node(sheet, result) != laid.result_node(&laid.base, result);
        let nodes = |other| Courses::of(laid, other).map(|courses| courses.nodes().collect::<Vec<_>>());
        let compared = nodes(None) != nodes(Some(other));
        let fails = laid.model.questions.conditions.map(|r| &laid.model.results[r]);
        Ok(SingleRuns {
            alternatives: if compared { self.alternatives(Some(other))? } else { None },
            knowing: if compared { self.knowing(Some(other)) } else { None },
            failing: fails.filter(|r| differs(r)).and_then(|_| self.failing(sheet)),
            ..SingleRuns::default()
        })
    }

    fn replicates(&self) -> Option<u32> {
        self.at_hand.replicates
    }

    /// Factors that answers speak of.
    fn shown(&self) -> Vec<Factor> {
        self.factors_that(FactorNode::is_shown)
    }

    fn factors_that(&self, is: impl Fn(&FactorNode) -> bool) -> Vec<Factor> {
        let pairs = self.laid.factors.iter().zip(&self.factors);
        pairs.filter(|(node, _)| is(node)).map(|(_, factor)| factor.clone()).collect()
    }

    /// A result's runs in its unit.
    fn column(&self, sheet: &Sheet, result: &ResultItem) -> Option<Vec<f64>> {
        let node = self.laid.result_node(sheet, result)?;
        let unit = &self.laid.model.result_working(result).unit;
        Some(self.at_hand.column(node).iter().map(|&x| unit.from_base(x)).collect())
    }

    fn drivers(&self, sheet: &Sheet, result: &ResultItem) -> Option<Drivers> {
        let working = self.laid.model.result_working(result);
        let column = self.column(sheet, result)?;
        let factors = self.shown();
        if factors.is_empty() {
            return None;
        }
        let kind = kind_of(&working.formula.ty.kind);
        let (sensitivity, tenths) = rayon::join(
            || sensitivity(&column, &factors, self.replicates(), SensitivityWish::default()),
            || tenths(&column, kind, &factors, self.replicates()),
        );
        Some(Drivers {
            result: working.about.name.clone(),
            label: working.about.label.clone(),
            unit: working.unit.text.clone(),
            sensitivity,
            tenths,
        })
    }

    /// The headline by every input and path, then what the study asks for.
    fn groups(&self) -> Vec<ResultByGroup> {
        let model = self.laid.model;
        let pairs = self.laid.factors.iter().zip(&self.factors).filter(|(node, _)| node.is_shown());
        let mut asked: Vec<(usize, &Factor)> = pairs.map(|(_, factor)| (model.headline, factor)).collect();
        for (result, name) in model.questions.groups.iter().filter(|(result, _)| *result != model.headline) {
            let mut of = self.laid.factors.iter().zip(&self.factors);
            asked.extend(of.find(|(node, _)| node.name == *name).map(|(_, factor)| (*result, factor)));
        }
        let mut columns: BTreeMap<usize, Vec<f64>> = BTreeMap::new();
        for &(result, _) in &asked {
            if let Some(column) = self.column(&self.laid.base, &model.results[result]) {
                columns.entry(result).or_insert(column);
            }
        }
        let one = |&(result, factor): &(usize, &Factor)| {
            let item = &model.results[result];
            let working = model.result_working(item);
            let kind = kind_of(&working.formula.ty.kind);
            let rule = rule_of(item, kind);
            let by = by_group(columns.get(&result)?, kind, factor, rule, self.replicates());
            Some(ResultByGroup {
                result: working.about.name.clone(),
                label: working.about.label.clone(),
                unit: working.unit.text.clone(),
                rule: rule.map(|_| rule_in_words(item, &working.unit)),
                asked: model.questions.groups.iter().any(|(r, by)| *r == result && *by == factor.name),
                by,
            })
        };
        asked.par_iter().filter_map(one).collect()
    }

    /// Net benefit of each course, by run.
    fn net_benefits(&self, courses: &Courses<'_>) -> Vec<Vec<f64>> {
        let n = self.at_hand.n_runs as usize;
        let value =
            |node: NodeId| self.at_hand.column(node).iter().map(|&x| courses.net_benefit(x)).collect();
        let each =
            |node: Option<NodeId>, fixed: f64| node.map_or_else(|| vec![courses.sign() * fixed; n], value);
        courses.all.iter().map(|course| each(course.node, course.value)).collect()
    }

    fn alternatives(&self, other: Option<usize>) -> Result<Option<Alternatives>, Stopped> {
        let Some(courses) = Courses::of(self.laid, other) else { return Ok(None) };
        let columns = self.net_benefits(&courses);
        let mut comparison = compare(&named(&courses, &columns), self.replicates());
        if courses.sign() < 0.0 {
            for row in &mut comparison.rows {
                row.mean = negated(&row.mean);
            }
        }
        let how = (self.options.design, self.options.vectors, self.options.epoch);
        let mut lines = Vec::new();
        // Along inputs only at the base choices: each point is a sample of its own.
        for name in courses.item.along.iter().filter(|_| other.is_none()) {
            lines.extend(along(self.laid, &courses, name, how, self.control)?);
        }
        let working = self.laid.model.result_working(&self.laid.model.results[courses.item.result]);
        let base = |course: &crate::analysis::courses::CourseNode| {
            course.node.map_or(course.value, |node| courses.unit.from_base(self.base[node.index()]))
        };
        Ok(Some(Alternatives {
            result: working.about.name.clone(),
            label: working.about.label.clone(),
            higher: courses.item.higher,
            nothing: courses.all.iter().find(|c| c.is_nothing).map(|c| c.name.clone()),
            base: courses.all.iter().map(|course| Figure::of(base(course))).collect(),
            comparison,
            along: lines,
        }))
    }

    fn knowing(&self, other: Option<usize>) -> Option<Knowing> {
        let courses = Courses::of(self.laid, other)?;
        let columns = self.net_benefits(&courses);
        let named = named(&courses, &columns);
        let measurements = self.laid.model.questions.measurements.iter().filter_map(|wish| {
            let (node, factor) =
                self.laid.factors.iter().zip(&self.factors).find(|(node, _)| node.name == wish.of)?;
            let subject = self.subject(&[(node, factor)], &factor.name, &factor.label, false);
            let observations = u32::try_from(wish.observations).unwrap_or(u32::MAX);
            let worth = value_of_sampling(&named, &subject, observations, wish.sd, self.replicates())?;
            Some(Measurement { label: wish.label.clone(), unit: factor.unit.clone(), worth, cost: wish.cost })
        });
        let measurements = measurements.collect();
        let working = self.laid.model.result_working(&self.laid.model.results[courses.item.result]);
        Some(Knowing {
            result: working.about.name.clone(),
            label: working.about.label.clone(),
            information: information(&named, &self.subjects(), self.replicates()),
            measurements,
        })
    }

    /// Each input, each path with its levels, and each heading with several members.
    fn subjects(&self) -> Vec<Subject<'_>> {
        let mut by_name: Vec<(&str, Vec<(&FactorNode, &Factor)>)> = Vec::new();
        let mut by_heading: Vec<(&str, Vec<(&FactorNode, &Factor)>)> = Vec::new();
        for pair in self.laid.factors.iter().zip(&self.factors) {
            add(&mut by_name, &pair.0.name, pair);
            if let Some(heading) = &pair.0.heading {
                add(&mut by_heading, heading, pair);
            }
        }
        let several = |members: &[(&FactorNode, &Factor)]| {
            members.iter().any(|(node, _)| node.name != members[0].0.name)
        };
        let singles = by_name.iter().map(|(name, members)| {
            let label = self.label_of(name);
            self.subject(members, name, label, false)
        });
        let groups = by_heading.iter().filter(|(_, m)| several(m) && m.len() <= MOST_COLUMNS);
        let groups = groups.map(|(heading, members)| self.subject(members, heading, heading, true));
        singles.chain(groups).collect()
    }

    fn label_of(&self, name: &str) -> &str {
        let model = self.laid.model;
        let inputs = model.inputs.iter().map(|i| &i.about);
        let abouts = inputs.chain(model.paths.iter().map(|p| &p.about));
        abouts.into_iter().find(|about| about.name == name).map_or("", |about| about.label.as_str())
    }

    fn subject<'s>(
        &'s self,
        members: &[(&'s FactorNode, &'s Factor)],
        name: &str,
        label: &str,
        is_group: bool,
    ) -> Subject<'s> {
        let first = members.first();
        Subject {
            name: name.to_owned(),
            label: label.to_owned(),
            unit: if is_group {
                String::new()
            } else {
                first.map_or_else(String::new, |(_, f)| f.unit.clone())
            },
            columns: members.iter().map(|(_, factor)| factor.values.as_slice()).collect(),
            discrete: members.iter().map(|(_, factor)| factor.discrete).collect(),
            is_group,
            can_be_found_out: !members.iter().any(|(node, _)| node.revealed_later),
        }
    }

    fn failing(&self, sheet: &Sheet) -> Option<Failing> {
        let model = self.laid.model;
        let item = &model.results[model.questions.conditions?];
        let working = model.result_working(item);
        let kind = kind_of(&working.formula.ty.kind);
        // Years without a limit fail when they are never.
        let rule = rule_of(item, kind).unwrap_or(Rule::AtMost(f64::MAX));
        let column = self.column(sheet, item)?;
        let fails: Vec<Option<bool>> =
            column.iter().map(|&x| (!x.is_nan()).then(|| !meets(rule, x))).collect();
        let factors = self.factors_that(|node| node.level != Level::Last);
        Some(Failing {
            result: working.about.name.clone(),
            label: working.about.label.clone(),
            rule: rule_in_words(item, &working.unit),
            conditions: conditions(&fails, &factors, &Wish::new(self.replicates())),
        })
    }

    fn claim(&self) -> Option<Claim> {
        let items = &self.laid.model.questions.claim;
        if items.is_empty() {
            return None;
        }
        let columns: Vec<Vec<f64>> = items.iter().map(|item| self.promised(item)).collect();
        let columns: Vec<&[f64]> = columns.iter().map(Vec::as_slice).collect();
        let promise = |item: &PromiseItem| Promise {
            what: item.label.clone(),
            value: item.value,
            unit: item.unit.text.clone(),
            better_above: item.higher,
        };
        let promises: Vec<Promise> = items.iter().map(promise).collect();
        // What is promised is no condition for itself.
        let promised = |node: &FactorNode| items.iter().any(|item| item.name == node.name);
        let factors = self.factors_that(|node| node.level != Level::Last && !promised(node));
        Some(claim(&promises, &columns, &factors, self.replicates()))
    }

    /// The runs of what a promise is about; of no value where a working has none.
    fn promised(&self, item: &PromiseItem) -> Vec<f64> {
        let node = self.laid.base.nodes(&item.name).first().copied();
        let n = self.at_hand.n_runs as usize;
        let Some(node) = node else { return vec![f64::NAN; n] };
        let value = |&x: &f64| item.unit.from_base(x);
        self.at_hand.column(node).iter().map(value).collect()
    }
}

fn add<'x>(
    list: &mut Vec<(&'x str, Vec<(&'x FactorNode, &'x Factor)>)>,
    name: &'x str,
    pair: (&'x FactorNode, &'x Factor),
) {
    match list.iter_mut().find(|(known, _)| *known == name) {
        Some((_, members)) => members.push(pair),
        None => list.push((name, vec![pair])),
    }
}

fn named<'c>(courses: &Courses<'_>, columns: &'c [Vec<f64>]) -> Vec<Course<'c>> {
    let each = courses.all.iter().zip(columns);
    each.map(|(course, column)| Course {
        name: course.name.clone(),
        label: course.label.clone(),
        unit: courses.unit.text.clone(),
        net_benefit: column,
    })
    .collect()
}

/// A mean of what counts the other way round.
fn negated(estimate: &Estimate) -> Estimate {
    let turn = |f: Figure| match f {
        Figure::Number(x) => Figure::of(-x),
        other => other,
    };
    Estimate {
        value: turn(estimate.value),
        low: estimate.high.map(turn),
        high: estimate.low.map(turn),
        interval: estimate.interval,
    }
}

fn meets(rule: Rule, x: f64) -> bool {
    match rule {
        Rule::AtLeast(least) => x >= least,
        Rule::AtMost(most) => x <= most,
        Rule::Yes => x != 0.0,
    }
}
