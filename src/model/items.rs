//! The parts of a checked study. Values are in the unit as written unless
//! named `_base`-less otherwise: `Unit::scale` leads to base units.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::diagnostic::{Diagnostic, Span};
use crate::formula::types::{Shape, Type, Typed};
use crate::model::DataFile;
use crate::model::given::Given;
use crate::model::homes::{HomeItem, SettingValues};
use crate::model::order::Group;
use crate::sampling::{Design, Distribution, InputSpec, Link, LinkRules, Method, PathSpec, Plan, PlanError};
use crate::study::{Better, Effect, Prices, ReportDef, Sought};
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
    /// The input or path that says how much dearer everything becomes each year.
    pub inflation: Option<String>,
    /// Calendar year of year 0.
    pub first_year: i64,
    /// Horizon.
    pub years: usize,
    /// Sampling as the study asks for it.
    pub sampling: SamplingWish,
    /// Units the study knows.
    pub units: UnitTable,
    /// Inputs in file order, then the parts of changes and of scenarios that are drawn or chosen.
    pub inputs: Vec<Input>,
    /// Paths in file order.
    pub paths: Vec<Path>,
    /// Workings, then results, then settings of simulated homes that are formulas, each in file order.
    pub workings: Vec<Working>,
    /// Simulated homes, in file order.
    pub homes: Vec<HomeItem>,
    /// Workings in the order in which they are computed; numbers past the last working are homes.
    pub groups: Vec<Group>,
    /// Results in file order.
    pub results: Vec<ResultItem>,
    /// The headline, an index into `results`.
    pub headline: usize,
    /// Links between inputs or shocks, as correlations of normal scores, with the rank correlation asked.
    pub links: Vec<LinkItem>,
    /// Break-even questions.
    pub break_even: Vec<BreakEvenItem>,
    /// Other courses.
    pub alternatives: Vec<AlternativeItem>,
    /// What more is asked of the runs.
    pub questions: Questions,
    /// What the report says besides.
    pub report: ReportDef,
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
    /// What is done with links.
    pub links: LinkRules,
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
    /// Date of the figure.
    pub as_of: Option<String>,
    /// Heading under which it is listed.
    pub group: Option<String>,
    /// Only time tells, so nobody can find it out before choosing.
    pub revealed_later: bool,
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
    /// Kind and shape in formulas: by year where it changes, or where its money is converted.
    pub ty: Type,
    /// What it is, in the first year.
    pub value: InputValue,
    /// Base values (one, or twelve) of the first year, in its unit; a label's index.
    pub base: Vec<f64>,
    /// Whether it varies between homes.
    pub between_homes: bool,
    /// Changes by year, in the order in which they act.
    pub changes: Vec<Change>,
    /// How its money is converted to that of the study.
    pub conversion: Option<Conversion>,
    /// The input or path of which it is a part.
    pub part_of: Option<String>,
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
    /// A matter of chance, with parameters that are other inputs: its normal score is drawn.
    Given(Arc<Given>),
}

impl Input {
    /// Whether it is drawn.
    pub fn is_drawn(&self) -> bool {
        matches!(self.value, InputValue::Drawn(_) | InputValue::Given(_))
    }
}

impl Input {
    /// Its distribution, if parameters of that are inputs.
    pub fn given(&self) -> Option<&Arc<Given>> {
        match &self.value {
            InputValue::Given(given) => Some(given),
            _ => None,
        }
    }

    /// Its shape before changes and conversions: one value or twelve.
    pub fn own_shape(&self) -> Shape {
        if self.base.len() == 12 { Shape::Monthly } else { Shape::Single }
    }

    /// Whether it is the calendar year of a change.
    pub fn is_year_of_change(&self) -> bool {
        self.part_of.is_some() && self.about.name.ends_with(".year")
    }
}

/// A change of an input or path, laid into the graph.
#[derive(Debug, Clone, PartialEq)]
pub struct Change {
    /// Whether it comes: 1 or 0, or an input that is one of them.
    pub comes: Part,
    /// Calendar year from which it holds; rounded down to a whole year.
    pub year: Part,
    /// What it does.
    pub effect: Effect,
    /// By how much, or to what, in the unit of what changes; a label's index.
    pub by: Part,
}

/// A number of a change.
#[derive(Debug, Clone, PartialEq)]
pub enum Part {
    /// Known.
    Known(f64),
    /// The input of this name.
    Input(String),
}

/// How an amount, price or rate comes into the money of the study. I is the price level at the end
/// of a year, 1 at the start of the first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Conversion {
    /// Times I.
    TimesLevel,
    /// Divided by I.
    ByLevel,
    /// A nominal rate as a real one: (1 + rate) / (1 + inflation) - 1 (Fisher 1930).
    RealRate,
    /// A real rate as a nominal one: (1 + rate) (1 + inflation) - 1.
    NominalRate,
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
    /// Base course of what the plan draws: factors on the start, by year.
    pub course: Vec<f64>,
    /// Values that stand in place of start and course.
    pub table: Option<PathTable>,
    /// Steps, then changes, that the graph lays; those that only scale are drawn with the path.
    pub changes: Vec<Change>,
    /// How its money is converted to that of the study.
    pub conversion: Option<Conversion>,
    /// Lowest value.
    pub floor: Option<f64>,
    /// Highest value.
    pub ceiling: Option<f64>,
}

/// Values of a path by year, in its unit.
#[derive(Debug, Clone, PartialEq)]
pub enum PathTable {
    /// Known.
    Years(Vec<f64>),
    /// One column for each label of the input `NAME.scenario`.
    Scenarios(Vec<Vec<f64>>),
}

impl Path {
    /// Name of the input that says which scenario it follows.
    pub fn scenario(&self) -> String {
        format!("{}.scenario", self.about.name)
    }

    /// Whether its values are start times course and nothing more, up to floor and ceiling.
    pub fn is_plain(&self) -> bool {
        self.table.is_none() && self.changes.is_empty() && self.conversion.is_none()
    }
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
    /// Names of the other inputs or paths: none, one (a curve) or two (a map).
    pub against: Vec<String>,
    /// Range of the lever, in its unit.
    pub range: (Option<f64>, Option<f64>),
    /// Wanted shares of success.
    pub chances: Vec<f64>,
    /// Whether the map has more cells and runs.
    pub refined: bool,
}

/// Another course: the study with some inputs and workings set otherwise.
pub struct AlternativeItem {
    /// Name in the study.
    pub name: String,
    /// Plain name.
    pub label: String,
    /// Inputs set otherwise, in their units; a label's index.
    pub values: BTreeMap<String, f64>,
    /// The study with its formulas in place, if it sets any.
    pub formulas: Option<Box<Model>>,
}

/// What more is asked of the runs.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Questions {
    /// What courses are compared by; none where there is nothing to compare.
    pub comparison: Option<ComparisonItem>,
    /// Global indices, if always to be made.
    pub indices: Option<IndicesItem>,
    /// Observations that could be made.
    pub measurements: Vec<MeasurementItem>,
    /// Index of the result whose conditions of failure are sought, if any can fail.
    pub conditions: Option<usize>,
    /// What the seller promises.
    pub claim: Vec<PromiseItem>,
    /// Results by groups of runs: index of the result, and name of an input or path.
    pub groups: Vec<(usize, String)>,
}

/// What courses are compared by.
#[derive(Debug, Clone, PartialEq)]
pub struct ComparisonItem {
    /// Index of the result: a number.
    pub result: usize,
    /// Whether more is better.
    pub higher: bool,
    /// What the study's own course is called.
    pub label: String,
    /// Which course is doing nothing.
    pub nothing: Option<NothingIs>,
    /// Inputs and paths along which it is asked where the better course changes.
    pub along: Vec<String>,
}

/// Which course is doing nothing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum NothingIs {
    /// The study's own.
    Study,
    /// An alternative, by its place.
    Alternative(usize),
    /// None of them: the result is this much then, in its unit.
    Value(f64),
}

/// Global indices that are asked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct IndicesItem {
    /// Index of the result.
    pub result: usize,
    /// Rows of the design, if said.
    pub base_points: Option<u64>,
    /// Whether Shapley effects are made, if said.
    pub shapley: Option<bool>,
}

/// Observations of an input that could be made.
#[derive(Debug, Clone, PartialEq)]
pub struct MeasurementItem {
    /// Plain name.
    pub label: String,
    /// Name of the input.
    pub of: String,
    /// How many.
    pub observations: u64,
    /// Standard deviation of each, in the unit of the input.
    pub sd: f64,
    /// What they cost.
    pub cost: Option<f64>,
}

/// A promise of the seller.
#[derive(Debug, Clone, PartialEq)]
pub struct PromiseItem {
    /// Name of the result, working or input.
    pub name: String,
    /// Plain name of it.
    pub label: String,
    /// Its unit.
    pub unit: Unit,
    /// The promised value, in that unit.
    pub value: f64,
    /// Whether more than promised is as good.
    pub higher: bool,
}
impl BreakEvenItem {
    /// The question with nothing said but lever and result.
    pub fn bare(of: &str, result: usize) -> Self {
        let (against, chances) = (Vec::new(), CHANCES.to_vec());
        BreakEvenItem { of: of.to_owned(), result, against, range: (None, None), chances, refined: false }
    }
}

/// Wanted shares of success where a question names none.
pub const CHANCES: [f64; 3] = [0.5, 0.8, 0.95];

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
            InputValue::Given(_) => {
                Some(InputSpec { name: input.about.name.clone(), distribution: Distribution::scores() })
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
        Plan::with_rules(&inputs, &paths, &links, self.sampling.links, design, dimensions)
    }

    /// The design that the study asks for.
    pub fn design(&self) -> Design {
        let wish = &self.sampling;
        Design::new(wish.seed, wish.method, wish.replicates, wish.runs)
    }

    /// The simulated home behind a number of a group; none if it is a working's.
    pub fn home(&self, k: usize) -> Option<&HomeItem> {
        self.homes.get(k.checked_sub(self.workings.len())?)
    }

    /// How many of the workings are settings of simulated homes.
    pub fn settings_of_homes(&self) -> usize {
        let of = |home: &HomeItem| {
            home.settings.iter().filter(|s| matches!(s.values, SettingValues::Working(_))).count()
        };
        self.homes.iter().map(of).sum()
    }

    /// The working behind a result.
    pub fn result_working(&self, result: &ResultItem) -> &Working {
        &self.workings[result.working]
    }
}
