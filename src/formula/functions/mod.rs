//! The table of functions. An entry says everything about a function: what it is called, what it takes and
//! gives, what it means, an example with its value, and who says so. The checker, the reference page,
//! completion and a test of each example read this one table; the model lowers a call by its `op`.
//!
//! Examples are written for a horizon of five years and a study in EUR; `example_life` in one of them is an
//! input in yr whose distribution has the one value 2. The study's inflation is 0.25 1/yr.

mod arithmetic;
mod call;
mod finance;
mod physics;
mod reductions;

pub(super) use call::Call;
pub use finance::TIMING;

use super::types::Type;

/// A function of formulas.
#[derive(Debug)]
pub struct Function {
    /// Its name.
    pub name: &'static str,
    /// What the model lowers it by.
    pub op: FunctionOp,
    /// Names of its arguments; the optional ones last.
    pub parameters: &'static [&'static str],
    /// How many of them must be given.
    pub least: usize,
    /// Whether the last one can be repeated without limit.
    pub many: bool,
    /// Labels that may stand among its arguments.
    pub labels: &'static [&'static str],
    /// Arguments with units and shapes, and what it gives.
    pub signature: &'static str,
    /// One sentence.
    pub summary: &'static str,
    /// A formula of literals.
    pub example: &'static str,
    /// Value of the example: a number in the unit shown, `yes`, `no`, `never`; a list for several values.
    pub expected: &'static str,
    /// Author and year; empty for what everyone knows.
    pub source: &'static str,
    pub(super) check: fn(&mut Call<'_, '_>) -> Option<Type>,
}

/// What a function does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[expect(missing_docs, reason = "each has an entry in the table")]
pub enum FunctionOp {
    Abs,
    Min,
    Max,
    Clamp,
    Floor,
    Round,
    Sqrt,
    Exp,
    Ln,
    If,
    SumMonths,
    MeanMonths,
    MinMonths,
    MaxMonths,
    SumYears,
    MeanYears,
    MinYears,
    MaxYears,
    Cumulative,
    AtYear,
    Previous,
    Months,
    Years,
    Seasonal,
    WaterHeat,
    InService,
    Failures,
    Growth,
    Inflate,
    Deflate,
    Npv,
    Payback,
    FirstPayback,
    DiscountedPayback,
    PaysBack,
    IsNever,
    RatesOfReturn,
    Annuity,
}

/// A family of functions under its heading.
pub struct Family {
    /// Heading.
    pub heading: &'static str,
    /// Its functions.
    pub functions: &'static [Function],
}

/// All functions, by family.
pub static TABLE: [Family; 4] = [
    Family { heading: "Arithmetic and choice", functions: arithmetic::FUNCTIONS },
    Family { heading: "Months and years", functions: reductions::FUNCTIONS },
    Family { heading: "Water, seasons, equipment and growth", functions: physics::FUNCTIONS },
    Family {
        heading: "Money over time (a single saving is the same in every year)",
        functions: finance::FUNCTIONS,
    },
];

/// All functions, in the order of the table.
pub fn all() -> impl Iterator<Item = &'static Function> {
    TABLE.iter().flat_map(|family| family.functions)
}

/// The function of this name.
pub fn find(name: &str) -> Option<&'static Function> {
    all().find(|f| f.name == name)
}
