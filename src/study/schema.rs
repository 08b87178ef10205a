//! What a study says, every value with its place in the file. Names are not
//! yet resolved, units and formulas are still text.

use crate::diagnostic::{Span, Spanned};
pub use crate::sampling::{Drift, Linking, Method};
use crate::study::further::{ClaimDef, ComparisonDef, ConditionsDef, GroupsDef, IndicesDef, MeasurementDef};
use crate::study::report::ReportDef;
use crate::study::simulated::HotwaterDef;

/// A whole study file.
#[derive(Debug, Clone)]
pub struct Study {
    /// Heading of every answer.
    pub title: Spanned<String>,
    /// What the reader wants to know.
    pub question: Option<Spanned<String>>,
    /// Three-letter code of the money.
    pub currency: Spanned<String>,
    /// Money of `first_year`, or of each year.
    pub prices: Spanned<Prices>,
    /// Name of the input or path that says how much dearer everything becomes, in 1/yr.
    pub inflation: Option<Spanned<String>>,
    /// Calendar year of year 0.
    pub first_year: Spanned<i64>,
    /// Length of the horizon, 1 to 100.
    pub years: Spanned<usize>,
    /// The result that tornado and break-even speak of.
    pub headline: Option<Spanned<String>>,
    /// How runs are drawn.
    pub sampling: Sampling,
    /// The study's own units, in file order.
    pub units: Vec<OwnUnit>,
    /// Named quantities, in file order.
    pub inputs: Vec<Input>,
    /// Inputs with a value for each year, in file order.
    pub paths: Vec<Path>,
    /// Simulated homes, in file order.
    pub hotwater: Vec<HotwaterDef>,
    /// Links between inputs or the yearly shocks of paths.
    pub correlations: Vec<Correlation>,
    /// Named formulas, in file order.
    pub workings: Vec<Working>,
    /// Workings that answer the question, in file order.
    pub results: Vec<ResultDef>,
    /// Other courses.
    pub alternatives: Vec<Alternative>,
    /// Break-even questions.
    pub break_even: Vec<BreakEvenDef>,
    /// How alternatives are compared.
    pub comparison: Option<ComparisonDef>,
    /// Global indices that are always to be made.
    pub indices: Option<IndicesDef>,
    /// What may be measured, to learn what that is worth.
    pub measurements: Vec<MeasurementDef>,
    /// The result whose conditions of failure are sought.
    pub conditions: Option<ConditionsDef>,
    /// What the seller promises.
    pub claim: Option<ClaimDef>,
    /// Results asked for by groups of runs.
    pub groups: Vec<GroupsDef>,
    /// What the report says besides.
    pub report: ReportDef,
}

/// Real (money of the first year) or nominal prices.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Prices {
    /// Money of the first year.
    Real,
    /// Money of each year.
    Nominal,
}

/// `[sampling]`; what is not given keeps its default.
#[derive(Debug, Clone, Default)]
pub struct Sampling {
    /// Runs asked for (1 to 10^10).
    pub runs: Option<Spanned<u64>>,
    /// Seed.
    pub seed: Option<Spanned<u64>>,
    /// `sobol`, `latin hypercube` or `random`.
    pub method: Option<Spanned<Method>>,
    /// Independent replicates, 1 to 64.
    pub replicates: Option<Spanned<u32>>,
    /// Components in the order of their Sobol dimensions.
    pub dimensions: Option<Vec<Spanned<String>>>,
    /// Whether correlations that cannot hold together may be moved a little.
    pub repair: Option<Spanned<bool>>,
    /// `gaussian copula` or `iman-conover`.
    pub linking: Option<Spanned<Linking>>,
    /// Precision at which the runs may end; `runs` is then the most.
    pub until: Option<Until>,
}

/// A line of `[units]`.
#[derive(Debug, Clone)]
pub struct OwnUnit {
    /// Its name.
    pub name: Spanned<String>,
    /// Its size in units known before it, such as `0.01 EUR` or `250 L`.
    pub definition: Spanned<String>,
}

/// What the reader is told about a row.
#[derive(Debug, Clone, Default)]
pub struct ForReader {
    /// Plain name.
    pub label: Option<Spanned<String>>,
    /// A remark.
    pub note: Option<Spanned<String>>,
    /// Where the figure comes from.
    pub source: Option<Spanned<String>>,
    /// Date of the figure.
    pub as_of: Option<Spanned<String>>,
    /// Heading under which it is listed.
    pub group: Option<Spanned<String>>,
    /// `revealed = "later"`: only time tells, so nobody can find it out before choosing.
    pub revealed_later: bool,
}

/// An input.
#[derive(Debug, Clone)]
pub struct Input {
    /// Name used in formulas.
    pub name: Spanned<String>,
    /// For the reader.
    pub about: ForReader,
    /// Unit; none is dimensionless.
    pub unit: Option<Spanned<String>>,
    /// The one thing that says what value it has.
    pub value: InputValue,
    /// Cut of the distribution.
    pub truncate: Option<Truncate>,
    /// Base value, if given.
    pub base: Option<Base>,
    /// `varies = "between homes"`.
    pub between_homes: bool,
    /// In which money its figures are, if said.
    pub money: Option<Spanned<Prices>>,
    /// Changes by year.
    pub changes: Vec<Change>,
}

/// A base value as written.
#[derive(Debug, Clone)]
pub enum Base {
    /// A number in the input's unit.
    Number(Spanned<f64>),
    /// A label.
    Label(Spanned<String>),
}

/// What value an input has.
#[derive(Debug, Clone)]
pub enum InputValue {
    /// `value`.
    Known(Spanned<f64>),
    /// `monthly`, twelve values.
    Monthly(Vec<Spanned<f64>>, Span),
    /// `labels`: a named choice of chance.
    Labels {
        /// The labels.
        values: Vec<Spanned<String>>,
        /// Their weights; equal if not given.
        weights: Option<Vec<Spanned<f64>>>,
        /// Of the key.
        span: Span,
    },
    /// `choice` of numbers.
    ChoiceOfNumbers(Vec<Spanned<f64>>, Span),
    /// `choice` of labels.
    ChoiceOfLabels(Vec<Spanned<String>>, Span),
    /// A distribution.
    Distribution(DistributionText),
}

/// A distribution as written: its standard name and its parameters.
#[derive(Debug, Clone)]
pub struct DistributionText {
    /// Such as `pert`.
    pub kind: Spanned<String>,
    /// In file order.
    pub parameters: Vec<(Spanned<String>, Parameter)>,
    /// Of the whole value.
    pub span: Span,
}

/// A parameter of a distribution.
#[derive(Debug, Clone)]
pub enum Parameter {
    /// A number.
    Number(Spanned<f64>),
    /// The name of another input.
    Name(Spanned<String>),
    /// A list of numbers.
    List(Vec<Spanned<f64>>, Span),
    /// A text: a shape, a file, a column.
    Text(Spanned<String>),
    /// Parts of a mixture.
    Parts(Vec<PartText>, Span),
}

/// A part of a mixture.
#[derive(Debug, Clone)]
pub struct PartText {
    /// Its weight, on any scale.
    pub weight: Spanned<f64>,
    /// Its distribution.
    pub distribution: DistributionText,
    /// Cut of it.
    pub truncate: Option<Truncate>,
}

/// `truncate = { min, max }`.
#[derive(Debug, Clone)]
pub struct Truncate {
    /// Lower cut.
    pub min: Option<Spanned<f64>>,
    /// Upper cut.
    pub max: Option<Spanned<f64>>,
    /// Of the whole value.
    pub span: Span,
}

/// A number or a distribution.
#[derive(Debug, Clone)]
pub enum NumberOrDistribution {
    /// Known.
    Number(Spanned<f64>),
    /// Uncertain.
    Distribution(DistributionText),
}

/// A price path.
#[derive(Debug, Clone)]
pub struct Path {
    /// Name used in formulas.
    pub name: Spanned<String>,
    /// For the reader.
    pub about: ForReader,
    /// Unit; none is dimensionless.
    pub unit: Option<Spanned<String>>,
    /// Value in the first year; none where a table holds the values.
    pub start: Option<NumberOrDistribution>,
    /// Base value of the start.
    pub base: Option<Spanned<f64>>,
    /// Growth, 1/yr; 0 if not given.
    pub growth: Option<NumberOrDistribution>,
    /// Of the mean (default) or of the median.
    pub drift: Drift,
    /// How it moves.
    pub process: Spanned<Process>,
    /// Years in which half of a deviation is gone.
    pub half_life: Option<Spanned<f64>>,
    /// Yearly, of the logarithm.
    pub volatility: Option<Spanned<f64>>,
    /// Values from a year on, of the process `steps`.
    pub steps: Vec<Change>,
    /// Values by year, of the processes `years` and `scenarios`.
    pub table: Option<TableText>,
    /// Changes by year.
    pub changes: Vec<Change>,
    /// In which money its figures are, if said.
    pub money: Option<Spanned<Prices>>,
    /// Lowest value.
    pub floor: Option<Spanned<f64>>,
    /// Highest value.
    pub ceiling: Option<Spanned<f64>>,
}

/// How a path moves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Process {
    /// Without shocks.
    SteadyGrowth,
    /// Shocks that stay.
    RandomWalk,
    /// Shocks that fade.
    MeanReverting,
    /// A fresh factor of mean 1 each year.
    Independent,
    /// New values from given years on.
    Steps,
    /// A known value for each year.
    Years,
    /// One of several columns of values by year.
    Scenarios,
}

/// Values by year as written: a list, or columns of a data file.
#[derive(Debug, Clone)]
pub struct TableText {
    /// `values`: one for each year.
    pub values: Option<(Vec<Spanned<f64>>, Span)>,
    /// `file`, relative to the study.
    pub file: Option<Spanned<String>>,
    /// `column` of it.
    pub column: Option<Spanned<String>>,
    /// `columns` of it, each a scenario; all but `year` if not given.
    pub columns: Option<Vec<Spanned<String>>>,
    /// `weights` of the scenarios; without them each is answered by itself.
    pub weights: Option<(Vec<Spanned<f64>>, Span)>,
    /// The scenario of the base case.
    pub base: Option<Spanned<String>>,
}

/// A change from a known or random year on.
#[derive(Debug, Clone)]
pub struct Change {
    /// Probability that it comes at all; 1 if not given.
    pub chance: Option<Spanned<f64>>,
    /// Calendar year in which it takes effect.
    pub year: NumberOrDistribution,
    /// What it does; the place is that of its key.
    pub effect: Spanned<Effect>,
    /// By how much, or to what.
    pub by: ChangeValue,
    /// Of the whole value.
    pub span: Span,
}

/// What a change does to the value from its year on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Effect {
    /// Multiplies it.
    Scale,
    /// Puts another in its place.
    To,
    /// Adds to it.
    Add,
    /// Caps it.
    AtMost,
    /// Keeps it from falling below.
    AtLeast,
}

impl Effect {
    /// All of them, with their keys.
    pub const ALL: [(&'static str, Effect); 5] = [
        ("scale", Effect::Scale),
        ("to", Effect::To),
        ("add", Effect::Add),
        ("at_most", Effect::AtMost),
        ("at_least", Effect::AtLeast),
    ];

    /// Its key.
    pub fn key(self) -> &'static str {
        Effect::ALL.iter().find(|(_, effect)| *effect == self).map_or("", |(key, _)| key)
    }
}

/// The value of a change.
#[derive(Debug, Clone)]
pub enum ChangeValue {
    /// A number or a distribution.
    Number(NumberOrDistribution),
    /// A label.
    Label(Spanned<String>),
}

/// A link.
#[derive(Debug, Clone)]
pub struct Correlation {
    /// Two or more names; each pair gets the figure.
    pub between: Vec<Spanned<String>>,
    /// Rank (Spearman) correlation, or correlation of the normal scores.
    pub strength: Strength,
    /// Of the whole table.
    pub span: Span,
}

/// In which measure a link is given.
#[derive(Debug, Clone)]
pub enum Strength {
    /// Spearman.
    Rank(Spanned<f64>),
    /// Of the normal scores.
    Normal(Spanned<f64>),
}

/// A named formula.
#[derive(Debug, Clone)]
pub struct Working {
    /// Name used in formulas.
    pub name: Spanned<String>,
    /// For the reader.
    pub about: ForReader,
    /// Unit in which the reader sees it; none is dimensionless (or no number).
    pub unit: Option<Spanned<String>>,
    /// The formula's text; the span is that of the text inside the quotes.
    pub formula: Spanned<String>,
}

/// A working that answers the question.
#[derive(Debug, Clone)]
pub struct ResultDef {
    /// As for any working.
    pub working: Working,
    /// Success when not below this, in the result's unit.
    pub at_least: Option<Spanned<f64>>,
    /// Success when not above this, in the result's unit.
    pub at_most: Option<Spanned<f64>>,
    /// `lower` or `higher`.
    pub better: Option<Spanned<Better>>,
}

/// Which side is good.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Better {
    /// Less is better.
    Lower,
    /// More is better.
    Higher,
}

/// Another course: some inputs or workings set otherwise.
#[derive(Debug, Clone)]
pub struct Alternative {
    /// Its name.
    pub name: Spanned<String>,
    /// Plain name.
    pub label: Option<Spanned<String>>,
    /// Inputs set otherwise.
    pub inputs: Vec<(Spanned<String>, Base)>,
    /// Workings set otherwise.
    pub workings: Vec<(Spanned<String>, Spanned<String>)>,
}

/// `[[break_even]]`.
#[derive(Debug, Clone)]
pub struct BreakEvenDef {
    /// The lever: an input, or the first-year level of a path.
    pub of: Spanned<String>,
    /// The result that shall cross its threshold; the headline if not given.
    pub result: Option<Spanned<String>>,
    /// The input on the other axis, or the two on the axes of a map.
    pub against: Vec<Spanned<String>>,
    /// Wanted shares of success; none if not given.
    pub chances: Vec<Spanned<f64>>,
    /// Whether a map has more cells and runs.
    pub refined: bool,
    /// Lowest lever value looked at.
    pub from: Option<Spanned<f64>>,
    /// Highest lever value looked at.
    pub to: Option<Spanned<f64>>,
    /// Of the whole table.
    pub span: Span,
}

/// `until` of `[sampling]`: how far a figure must be known.
#[derive(Debug, Clone)]
pub struct Until {
    /// Result; the headline if none is given.
    pub result: Option<Spanned<String>>,
    /// `mean`, `share`, or a percentile such as `P10`.
    pub statistic: Spanned<Sought>,
    /// Half-width of its 95 % interval.
    pub within: Spanned<Within>,
}

/// A figure whose precision is asked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Sought {
    /// The mean.
    Mean,
    /// The share of runs that meet the threshold, or are yes.
    Share,
    /// The percentile with this share of runs below it, between 0 and 1.
    Percentile(f64),
}

/// A wanted half-width.
#[derive(Debug, Clone, PartialEq)]
pub enum Within {
    /// In the unit of the result; for a share a number between 0 and 1.
    Number(f64),
    /// A number and the unit in which it is given.
    Quantity(f64, String),
}
