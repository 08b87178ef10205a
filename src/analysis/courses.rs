//! The courses that are compared: the study's own, its alternatives, and doing nothing.

use crate::analysis::laid::Laid;
use crate::engine::graph::NodeId;
use crate::model::{ComparisonItem, NothingIs};
use crate::units::Unit;

/// What doing nothing is called where it is no course of the study.
const NOTHING: &str = "Doing nothing";

/// A course with the node of what it is compared by.
pub(super) struct CourseNode {
    pub(super) name: String,
    pub(super) label: String,
    /// None: the value is the same in every run.
    pub(super) node: Option<NodeId>,
    /// That value, in the unit of the result.
    pub(super) value: f64,
    pub(super) is_nothing: bool,
}

/// What courses are compared by, and their nodes.
pub(super) struct Courses<'m> {
    pub(super) item: &'m ComparisonItem,
    pub(super) unit: Unit,
    pub(super) all: Vec<CourseNode>,
}

impl<'m> Courses<'m> {
    /// The courses at the base choices, or at another value of a choice: the study first, then the alternatives in file
    /// order, then doing nothing if it is none of these. None where there is nothing to compare.
    pub(super) fn of(laid: &Laid<'m>, other: Option<usize>) -> Option<Courses<'m>> {
        let model = laid.model;
        let item = model.questions.comparison.as_ref()?;
        let result = &model.results[item.result];
        let (own, alternatives) = match other {
            None => (&laid.base, &laid.alternatives),
            Some(other) => (&laid.others[other].sheet, &laid.others[other].alternatives),
        };
        let mut all = vec![CourseNode {
            name: "study".to_owned(),
            label: item.label.clone(),
            node: laid.result_node(own, result),
            value: f64::NAN,
            is_nothing: item.nothing == Some(NothingIs::Study),
        }];
        for (k, (alternative, sheet)) in model.alternatives.iter().zip(alternatives).enumerate() {
            all.push(CourseNode {
                name: alternative.name.clone(),
                label: alternative.label.clone(),
                node: laid.result_node(sheet, result),
                value: f64::NAN,
                is_nothing: item.nothing == Some(NothingIs::Alternative(k)),
            });
        }
        if let Some(NothingIs::Value(value)) = item.nothing {
            let (name, label) = ("nothing".to_owned(), NOTHING.to_owned());
            all.push(CourseNode { name, label, node: None, value, is_nothing: true });
        }
        let unit = model.result_working(result).unit.clone();
        Some(Courses { item, unit, all })
    }

    /// Their nodes.
    pub(super) fn nodes(&self) -> impl Iterator<Item = NodeId> + '_ {
        self.all.iter().filter_map(|course| course.node)
    }

    /// Of values of the result in base units: net benefit in its unit, more being better.
    pub(super) fn net_benefit(&self, base: f64) -> f64 {
        self.sign() * self.unit.from_base(base)
    }

    /// 1 where more is better, -1 where less is.
    pub(super) fn sign(&self) -> f64 {
        if self.item.higher { 1.0 } else { -1.0 }
    }
}
