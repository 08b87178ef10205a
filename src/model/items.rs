//! The parts of a checked study. Values are in the unit as written unless
//! named `_base`-less otherwise: `Unit::scale` leads to base units.

use crate::diagnostic::{Diagnostic, Span};
use crate::formula::types::{Shape, Type, Typed};
use crate::model::DataFile;
use crate::model::order::Group;
use crate::sampling::{Design, Distribution, InputSpec, Link, Method, PathSpec, Plan, PlanError};
use crate::study::{Better, Prices, Sought};
use crate::units::{Unit, UnitTable};

/// A checked study.
pub struct Model {
    /// Heading.
    pub title: String,
    /// What the reader wants to know.
    pub question: Option<String>,
    /// Currency code.
    pub currency: String,
    /// Real or nominal.
    pub prices: Prices,
    /// Calendar year of year 0.
    pub first_year: i64,
    /// Horizon.
    pub years: usize,
    /// Sampling as the study asks for it.
    pub sampling: SamplingWish,
    /// Units the study knows.
    pub units: UnitTable,
    /// Inputs in file order.
    pub inputs: Vec<Input>,
    /// Paths in file order.
    pub paths: Vec<Path>,
    /// Workings and then results, each in file order.
    pub workings: Vec<Working>,
    /// Workings in the order in which they are computed.
    pub groups: Vec<Group>,
    /// Results in file order.
    pub results: Vec<ResultItem>,
    /// The headline, an index into `results`.
    pub headline: usize,
    /// Links between inputs or shocks, as correlations of normal scores, with the rank correlation asked.
    pub links: Vec<LinkItem>,
    /// Break-even questions.
    pub break_even: Vec<BreakEvenItem>,
    /// Data files that the study names, as read.
    pub data: Vec<DataFile>,
    /// What the reader should look at again.
    pub cautions: Vec<Diagnostic>,
}

/// Sampling as the study asks for it, defaults filled in.
#[derive(Debug, Clone, PartialEq)]
pub struct SamplingWish {
    /// Runs.
    pub runs: u64,
    /// Seed.
    pub seed: u64,
    /// Method.
    pub method: Method,
    /// Replicates.
    pub replicates: u32,
    /// Pinned Sobol dimensions.
    pub dimensions: Vec<String>,
    /// Precision at which the runs may end; `runs` is then the most.
    pub until: Option<UntilWish>,
}

/// How far one figure must be known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UntilWish {
    /// Index of the result.
    pub result: usize,
    /// Which figure of it.
    pub statistic: Sought,
    /// Half-width of its 95 % interval, in the unit of the result; a plain number for a share.
    pub within: f64,
}

/// What the reader is told about a row.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct About {
    /// Name in formulas.
    pub name: String,
    /// Plain name; the name with spaces if none is given.
    pub label: String,
    /// Remark.
    pub note: Option<String>,
    /// Where the figure comes from.
    pub source: Option<String>,
    /// Place of the name in the study.
    pub span: Span,
}

/// An input.
#[derive(Debug, Clone)]
pub struct Input {
    /// For the reader.
    pub about: About,
    /// Unit; `1` if dimensionless.
    pub unit: Unit,
    /// Kind and shape.
    pub ty: Type,
    /// What it is.
    pub value: InputValue,
    /// Base values (one, or twelve), in its unit; a label's index.
    pub base: Vec<f64>,
    /// Whether it varies between homes.
    pub between_homes: bool,
}

/// What value an input has.
#[derive(Debug, Clone)]
pub enum InputValue {
    /// Known: its base values are all there is.
    Known,
    /// A matter of judgement: each value is answered by itself.
    Choice(Vec<f64>),
    /// A matter of chance; labels are drawn as their index.
    Drawn(Distribution),
}

impl Input {
    /// Whether it is drawn.
    pub fn is_drawn(&self) -> bool {
        matches!(self.value, InputValue::Drawn(_))
    }
}

/// A price path.
#[derive(Debug, Clone)]
pub struct Path {
    /// For the reader.
    pub about: About,
    /// Unit.
    pub unit: Unit,
    /// How it moves, in its unit.
    pub spec: PathSpec,
    /// Base value of the start.
    pub start: f64,
    /// Base course: factors on the start, by year.
    pub course: Vec<f64>,
    /// Lowest value.
    pub floor: Option<f64>,
    /// Highest value.
    pub ceiling: Option<f64>,
}

/// A named formula.
#[derive(Debug, Clone)]
pub struct Working {
    /// For the reader.
    pub about: About,
    /// Unit in which the reader sees it.
    pub unit: Unit,
    /// Its formula as written.
    pub text: String,
    /// Place of the formula.
    pub span: Span,
    /// Its formula, checked.
    pub formula: Typed,
}

impl Working {
    /// Its shape.
    pub fn shape(&self) -> Shape {
        self.formula.ty.shape
    }
}

/// A working that answers the question.
#[derive(Debug, Clone, PartialEq)]
pub struct ResultItem {
    /// Index into the workings.
    pub working: usize,
    /// Success when not below this, in the result's unit.
    pub at_least: Option<f64>,
    /// Success when not above this, in the result's unit.
    pub at_most: Option<f64>,
    /// Which side is good, if said.
    pub better: Option<Better>,
}

/// A link.
#[derive(Debug, Clone, PartialEq)]
pub struct LinkItem {
    /// First name.
    pub first: String,
    /// Second name.
    pub second: String,
    /// Rank correlation that this means.
    pub rank: f64,
    /// Correlation of the normal scores.
    pub normal: f64,
}

/// A break-even question.
#[derive(Debug, Clone, PartialEq)]
pub struct BreakEvenItem {
    /// Name of the lever: an input or a path.
    pub of: String,
    /// Index into the results.
    pub result: usize,
    /// Name of the other input or path.
    pub against: Option<String>,
    /// Range of the lever, in its unit.
    pub range: (Option<f64>, Option<f64>),
}

impl Model {
    /// The draws of this study under `design`.
    ///
    /// # Errors
    /// Links that cannot all hold.
    pub fn plan(&self, design: Design) -> Result<Plan, PlanError> {
        self.plan_pinned(design, &self.sampling.dimensions)
    }

    /// As [`Model::plan`], with other pinned dimensions.
    ///
    /// # Errors
    /// Links that cannot all hold.
    pub(crate) fn plan_pinned(&self, design: Design, dimensions: &[String]) -> Result<Plan, PlanError> {
        let drawn = |input: &Input| match &input.value {
            InputValue::Drawn(distribution) => {
                Some(InputSpec { name: input.about.name.clone(), distribution: distribution.clone() })
            }
            _ => None,
        };
        let inputs: Vec<InputSpec> = self.inputs.iter().filter_map(drawn).collect();
        let paths: Vec<PathSpec> = self.paths.iter().map(|path| path.spec.clone()).collect();
        let links: Vec<Link> = self
            .links
            .iter()
            .map(|link| Link { a: link.first.clone(), b: link.second.clone(), normal: link.normal })
            .collect();
        Plan::new(&inputs, &paths, &links, design, dimensions)
    }

    /// The design that the study asks for.
    pub fn design(&self) -> Design {
        let wish = &self.sampling;
        Design::new(wish.seed, wish.method, wish.replicates, wish.runs)
    }

    /// The working behind a result.
    pub fn result_working(&self, result: &ResultItem) -> &Working {
        &self.workings[result.working]
    }
}
