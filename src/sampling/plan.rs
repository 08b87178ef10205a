//! A plan of draws: which columns there are, and their values for any runs.
//!
//! Every column is a pure function of the run: any block of runs, wanted with
//! any other columns or alone, gives the same bits.

use std::fmt;

use super::dependence::{Link, LinkRules};
use super::design::Design;
use super::dimensions;
use super::distributions::Distribution;
use super::groups::{self, Group};
use super::maths::Vectors;
use super::path_plan::PathPlan;
use super::paths::PathSpec;
use super::philox::Purpose;
use super::repair::Repair;
use super::streams::Component;

/// An input to be drawn.
#[derive(Debug, Clone)]
pub struct InputSpec {
    /// Its name.
    pub name: String,
    /// Its distribution.
    pub distribution: Distribution,
}

/// A column of draws.
#[derive(Debug, Clone, PartialEq)]
pub struct Column {
    /// `NAME` of an input; `NAME.start`, `NAME.growth`, `NAME.course`, `NAME.change1.year`, `NAME.change1.scale` of a path.
    pub name: String,
    /// Year, for a course.
    pub lane: Option<usize>,
    /// Index of the input, or number of inputs + index of the path.
    pub source: usize,
    /// Its value, if it is the same in every run.
    pub constant: Option<f64>,
}

/// What is wrong with a plan.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanError {
    /// Inputs or paths at fault.
    pub names: Vec<String>,
    /// One sentence without a full stop: what is wrong.
    pub message: String,
    /// What would be right.
    pub hint: String,
}

impl PlanError {
    pub(crate) fn new(names: &[&str], message: impl Into<String>, hint: impl Into<String>) -> PlanError {
        let names = names.iter().map(|&n| n.to_owned()).collect();
        PlanError { names, message: message.into(), hint: hint.into() }
    }
}

impl fmt::Display for PlanError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}; {}", self.message, self.hint)
    }
}

impl std::error::Error for PlanError {}

/// Room to work in; grows to what is needed and is then kept.
#[derive(Debug, Default)]
pub struct Scratch {
    pub(crate) replicate: Vec<f64>,
    pub(crate) scores: Vec<f64>,
    pub(crate) paths: super::path_draw::PathScratch,
}

impl Scratch {
    /// Empty.
    pub fn new() -> Scratch {
        Scratch::default()
    }
}

/// A component with a distribution of its own: an input, a start, a growth, a part of a change.
#[derive(Debug, Clone)]
pub(crate) struct Scalar {
    pub(crate) component: Component,
    pub(crate) distribution: Distribution,
    /// Group of linked scalars and place in it.
    pub(crate) group: Option<(usize, usize)>,
}

/// A plan of draws.
#[derive(Debug, Clone)]
pub struct Plan {
    pub(crate) design: Design,
    pub(crate) vectors: Vectors,
    inputs: usize,
    /// Inputs first, in order, then the scalar parts of paths.
    pub(crate) scalars: Vec<Scalar>,
    pub(crate) paths: Vec<PathPlan>,
    /// Paths of which only the shocks are drawn, to be mixed into those of others; they have no columns.
    pub(crate) spare: Vec<PathPlan>,
    pub(crate) scalar_groups: Vec<Group>,
    pub(crate) shock_groups: Vec<Group>,
    /// Where links were moved so that they can hold together.
    pub(crate) repairs: Vec<Repair>,
    /// Columns whose strata are rearranged to be linked.
    pub(crate) tied: usize,
    columns: Vec<Column>,
    dimensions: Vec<String>,
}

impl Plan {
    /// Lays out the draws of `inputs` and `paths` with their links.
    ///
    /// `dimensions` is the list pinned with a study: names in the order of
    /// their Sobol dimensions, those of paths' yearly shocks as `NAME.shock * 19`.
    /// What is not in it is appended in the order given; see [`Plan::dimensions`].
    ///
    /// # Errors
    /// Impossible parameters of a path; links to what cannot be linked; links
    /// that contradict each other (naming the smallest set at fault).
    pub fn new(
        inputs: &[InputSpec],
        paths: &[PathSpec],
        links: &[Link],
        design: Design,
        dimensions: &[String],
    ) -> Result<Plan, PlanError> {
        Plan::with_rules(inputs, paths, links, LinkRules::default(), design, dimensions)
    }

    /// As [`Plan::new`], with other rules for links than a Gaussian copula without repair.
    ///
    /// # Errors
    /// As [`Plan::new`]; links that cannot be repaired; rearranged strata (Iman, Conover)
    /// with another method than Latin hypercube, or of too many or too few runs.
    pub fn with_rules(
        inputs: &[InputSpec],
        paths: &[PathSpec],
        links: &[Link],
        rules: LinkRules,
        design: Design,
        dimensions: &[String],
    ) -> Result<Plan, PlanError> {
        let mut plan = Plan {
            design,
            vectors: Vectors::Widest,
            inputs: inputs.len(),
            scalars: Vec::new(),
            paths: Vec::new(),
            spare: Vec::new(),
            scalar_groups: Vec::new(),
            shock_groups: Vec::new(),
            repairs: Vec::new(),
            tied: 0,
            columns: Vec::new(),
            dimensions: Vec::new(),
        };
        for (source, input) in inputs.iter().enumerate() {
            plan.add_scalar(input.name.clone(), &input.distribution);
            plan.add_column(input.name.clone(), None, source, None);
        }
        for (k, path) in paths.iter().enumerate() {
            let made = PathPlan::new(&mut plan, path, inputs.len() + k)?;
            let years = paths.first().map_or(path.years, |p| p.years);
            if path.years != years {
                let message = format!("{} has {} years, another path {years}", path.name, path.years);
                return Err(PlanError::new(&[&path.name], message, "all paths of a study have its years"));
            }
            plan.paths.push(made);
        }
        groups::link(&mut plan, links, rules)?;
        let named = plan.scalars.iter_mut().map(|s| &mut s.component);
        let shocks = plan.paths.iter_mut().filter_map(|p| p.shock.as_mut());
        let mut components: Vec<&mut Component> = named.chain(shocks).collect();
        plan.dimensions = dimensions::assign(&mut components, dimensions, design.method);
        Ok(plan)
    }

    /// The same draws by the baseline code: for tests, and to show that vector extensions change nothing.
    #[must_use]
    pub fn with_vectors(mut self, vectors: Vectors) -> Plan {
        self.vectors = vectors;
        self
    }

    pub(crate) fn add_scalar(&mut self, name: String, distribution: &Distribution) -> usize {
        let component = Component::new(name, Purpose::Value, 1, &self.design);
        self.scalars.push(Scalar { component, distribution: distribution.clone(), group: None });
        self.scalars.len() - 1
    }

    pub(crate) fn add_column(
        &mut self,
        name: String,
        lane: Option<usize>,
        source: usize,
        constant: Option<f64>,
    ) -> usize {
        self.columns.push(Column { name, lane, source, constant });
        self.columns.len() - 1
    }

    /// The columns, in the order in which [`Plan::draw`] writes them.
    pub fn columns(&self) -> &[Column] {
        &self.columns
    }

    /// A path by its index, the spare ones after those that have columns.
    pub(crate) fn path(&self, index: usize) -> Option<&PathPlan> {
        self.paths.get(index).or_else(|| self.spare.get(index.checked_sub(self.paths.len())?))
    }

    /// How many of the sources are inputs.
    pub(crate) fn inputs(&self) -> usize {
        self.inputs
    }

    /// Inputs and paths: sources 0 to this, inputs first.
    pub fn sources(&self) -> usize {
        self.inputs + self.paths.len()
    }

    /// The design.
    pub fn design(&self) -> &Design {
        &self.design
    }

    /// The list of dimensions used: what was pinned, then what was appended.
    pub fn dimensions(&self) -> &[String] {
        &self.dimensions
    }

    /// Where links that contradicted each other were moved, by group.
    pub fn repairs(&self) -> &[Repair] {
        &self.repairs
    }

    /// Columns whose strata are rearranged to be linked, for which the whole sample is held in memory.
    pub fn tied_columns(&self) -> usize {
        self.tied
    }

    /// Sobol dimensions needed, and how many of them lie beyond the table; none by other methods.
    pub fn sobol_dimensions(&self) -> (usize, usize) {
        let shocks = self.paths.iter().filter_map(|p| p.shock.as_ref());
        let components = self.scalars.iter().map(|s| &s.component).chain(shocks);
        components.fold((0, 0), |(all, beyond), c| (all + c.dimensions(), beyond + c.beyond_table()))
    }

    /// Writes the draws of runs `first_run` to `first_run + n - 1`: column c to
    /// `out[c * stride..c * stride + n]`. Columns of a source that is not wanted are
    /// left as they are; `wanted` may be shorter than the sources, the rest is wanted.
    ///
    /// `stride` must be at least `n` and `out` hold a stride for each column;
    /// else nothing is written beyond what fits.
    pub fn draw(
        &self,
        wanted: &[bool],
        first_run: u64,
        n: usize,
        out: &mut [f64],
        stride: usize,
        scratch: &mut Scratch,
    ) {
        let n = n.min(stride);
        // A study may have nothing to draw.
        if self.columns.is_empty() {
            return;
        }
        if n == 0 || out.len() < (self.columns.len().max(1) - 1) * stride + n {
            debug_assert!(n == 0, "no room for the columns");
            return;
        }
        let is_wanted = |source: usize| wanted.get(source).copied().unwrap_or(true);
        for source in (0..self.inputs).filter(|s| is_wanted(*s)) {
            let column = &mut out[source * stride..source * stride + n];
            self.scalar(source, first_run, column, scratch);
        }
        for (k, path) in self.paths.iter().enumerate() {
            if is_wanted(self.inputs + k) {
                path.draw_scalars(self, first_run, n, out, stride, scratch);
            }
        }
        let any = |path: usize| path < self.paths.len() && is_wanted(self.inputs + path);
        super::path_draw::draw_courses(self, &any, first_run, n, out, stride, scratch);
    }

    /// Draws of one scalar component.
    pub(crate) fn scalar(&self, idx: usize, first_run: u64, out: &mut [f64], scratch: &mut Scratch) {
        let Some(scalar) = self.scalars.get(idx) else { return };
        let Some((group, place)) = scalar.group else {
            scalar.component.uniforms(&self.design, self.vectors, 0, first_run, out, &mut scratch.replicate);
            scalar.distribution.fill_from_uniform(self.vectors, out);
            return;
        };
        let Some(group) = self.scalar_groups.get(group) else { return };
        let n = out.len();
        let mut own = std::mem::take(&mut scratch.scores);
        own.resize(own.len().max(n), 0.0);
        out.fill(0.0);
        for (&member, &weight) in group.members.iter().zip(group.row(place)) {
            let Some(other) = self.scalars.get(member).filter(|_| weight != 0.0) else { continue };
            let e = &mut own[..n];
            other.component.uniforms(&self.design, self.vectors, 0, first_run, e, &mut scratch.replicate);
            self.vectors.normal_quantile(e);
            self.vectors.add_scaled(weight, e, out);
        }
        scratch.scores = own;
        scalar.distribution.fill_from_score(self.vectors, out);
    }

    /// Fresh draws of input `source`'s distribution for replacements: `part`
    /// numbers them within a run (the first replacement, the second, ...).
    pub fn renewal(&self, source: usize, part: u32, first_run: u64, out: &mut [f64], scratch: &mut Scratch) {
        if let Some(scalar) = self.scalars.get(source).filter(|_| source < self.inputs) {
            scalar.component.renewals(self.vectors, part, first_run, out, &mut scratch.replicate);
            scalar.distribution.fill_from_uniform(self.vectors, out);
        }
    }

    /// Index of an input by name, for [`Plan::renewal`].
    pub fn input(&self, name: &str) -> Option<usize> {
        self.scalars.iter().take(self.inputs).position(|s| s.component.name == name)
    }
}
