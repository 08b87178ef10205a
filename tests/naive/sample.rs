//! Studies brought to the point where both ways of computing them can start.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use payspread::diagnostic::has_errors;
use payspread::engine::block::{BASE_RUN, Runs};
use payspread::engine::graph::NodeId;
use payspread::engine::program::Program;
use payspread::engine::run::LeafSource;
use payspread::model::lower::{Lowering, Setting, Sheet};
use payspread::model::{Input, InputValue, Model, Path};
use payspread::sampling::{Plan, Scratch};
use payspread::study;

use super::{Naive, same, years};

/// A study from its text.
///
/// # Errors
/// All that is wrong with it.
pub fn model_of(text: &str) -> Result<Model, String> {
    let (study, found) = study::read::parse(text);
    let study = study.filter(|_| !has_errors(&found)).ok_or_else(|| format!("{found:#?}"))?;
    let (model, found) = payspread::model::check(&study);
    model.ok_or_else(|| format!("{found:#?}"))
}

/// A study of the folder `studies`.
pub fn model_of_file(name: &str) -> Model {
    let path = format!("{}/studies/{name}.toml", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(path).unwrap();
    model_of(&text).unwrap_or_else(|errors| panic!("{name}: {errors}"))
}

/// A study of the folder `tests/good`, with its data files.
pub fn model_of_good(name: &str) -> Model {
    let path = format!("{}/tests/good/{name}.toml", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(&path).unwrap();
    let (made, found) = payspread::model::read_beside(&text, &study::Beside::study(path.as_ref()));
    made.unwrap_or_else(|| panic!("{name}: {found:#?}")).1
}

/// A study laid into the graph.
pub struct Laid<'m> {
    pub model: &'m Model,
    pub plan: Arc<Plan>,
    pub low: Lowering<'m>,
    pub sheet: Sheet,
}

impl<'m> Laid<'m> {
    /// Known inputs in `free` are leaves.
    pub fn new(model: &'m Model, plan: &Arc<Plan>, free: &BTreeSet<String>) -> Laid<'m> {
        let mut low = Lowering::new(model, Arc::clone(plan), free);
        let sheet = low.lay(&Setting::default()).unwrap_or_else(|error| panic!("{error:?}"));
        Laid { model, plan: Arc::clone(plan), low, sheet }
    }

    /// Every value of every working.
    pub fn wanted(&self) -> Vec<NodeId> {
        self.model.workings.iter().flat_map(|w| self.sheet.nodes(&w.about.name)).collect()
    }

    /// A column for each leaf, from those of the plan.
    pub fn leaves(&self, drawn: &[Vec<f64>], n: usize) -> Vec<Vec<f64>> {
        let column = |leaf: &LeafSource| match *leaf {
            LeafSource::Drawn(column) => drawn[column].clone(),
            LeafSource::Held(value) => vec![value; n],
        };
        self.low.leaves.iter().map(column).collect()
    }
}

/// The plan's columns for runs `first` to `first + n - 1`.
pub fn draw(plan: &Plan, first: u64, n: usize) -> Vec<Vec<f64>> {
    let mut drawn = vec![0.0; plan.columns().len() * n];
    plan.draw(&[], first, n, &mut drawn, n, &mut Scratch::new());
    drawn.chunks(n).map(<[f64]>::to_vec).collect()
}

/// All wanted values by all stages of a program, block by block.
pub fn run_all(program: &Program, columns: &[Vec<f64>], n: usize, first: u64, block: usize) -> Vec<Vec<f64>> {
    let mut frame = program.frame(block);
    let mut out = vec![vec![0.0; n]; program.wanted().len()];
    for at in (0..n).step_by(block) {
        let m = block.min(n - at);
        let leaves: Vec<&[f64]> = columns.iter().map(|c| &c[at..at + m]).collect();
        for stage in 0..program.n_stages() {
            program.execute(stage, &mut frame, &leaves, Runs { first: first + at as u64, n: m });
        }
        for (k, column) in out.iter_mut().enumerate() {
            program.copy_wanted(k, &frame, &leaves, &mut column[at..at + m]);
        }
    }
    out
}

/// Values of all names for one run, from its values of the plan's columns, in base units.
pub fn given(model: &Model, plan: &Plan, of_run: &dyn Fn(usize) -> f64) -> BTreeMap<String, Vec<f64>> {
    given_but(model, plan, of_run, &BTreeMap::new())
}

/// The same with other values, in the unit as written, of some known inputs.
pub fn given_but(
    model: &Model,
    plan: &Plan,
    of_run: &dyn Fn(usize) -> f64,
    but: &BTreeMap<String, f64>,
) -> BTreeMap<String, Vec<f64>> {
    let drawn = |name: &str, lane: Option<usize>| -> Option<f64> {
        let at = plan.columns().iter().position(|c| c.name == name && c.lane == lane)?;
        Some(plan.columns()[at].constant.unwrap_or_else(|| of_run(at)))
    };
    let mut given = BTreeMap::new();
    for input in &model.inputs {
        let values = match input.value {
            InputValue::Drawn(_) | InputValue::Given(_) => vec![drawn(&input.about.name, None).unwrap()],
            _ => but.get(&input.about.name).map_or_else(|| input.base.clone(), |&value| vec![value]),
        };
        given.insert(input.about.name.clone(), values.iter().map(|v| v * input.unit.scale).collect());
    }
    // What stands there of inputs whose parameters are inputs is their score, until their parameters are known.
    let mut open: Vec<&Input> = model.inputs.iter().filter(|i| i.given().is_some()).collect();
    while !open.is_empty() {
        let waits = |i: &&Input| i.given().unwrap().names().any(|n| open.iter().any(|o| o.about.name == n));
        let (later, now): (Vec<&Input>, Vec<&Input>) = open.iter().partition(|i| waits(i));
        assert!(!now.is_empty(), "a circle");
        for input in now {
            let score = drawn(&input.about.name, None).unwrap();
            let value = at_score(input, &given, score) * input.unit.scale;
            given.insert(input.about.name.clone(), vec![value]);
        }
        open = later;
    }
    let start = |path: &Path| drawn(&format!("{}.start", path.about.name), None).unwrap_or(path.start);
    let course = |path: &Path, t: usize| drawn(&format!("{}.course", path.about.name), Some(t)).unwrap();
    years::lay(model, &mut given, &start, &course);
    given
}

/// The value of an input at a score, from the values of its parameters in base units: a law made for this one value.
fn at_score(input: &Input, values: &BTreeMap<String, Vec<f64>>, score: f64) -> f64 {
    let given = input.given().unwrap();
    let numbers: Vec<f64> = given.parameters.iter().map(|p| p.number(values[&p.name][0])).collect();
    match given.family.at(&numbers, &mut given.family.room()) {
        Ok(law) => law.from_score(score),
        Err(_) => f64::NAN,
    }
}

/// Values of all names in the base case, in base units.
pub fn given_base(model: &Model) -> BTreeMap<String, Vec<f64>> {
    let mut given = BTreeMap::new();
    for input in &model.inputs {
        given.insert(input.about.name.clone(), input.base.iter().map(|v| v * input.unit.scale).collect());
    }
    years::lay(model, &mut given, &|path| path.start, &|path, t| path.course[t]);
    given
}

/// Every value of every working by the naive evaluator, in the order of [`Laid::wanted`], with its name.
pub fn naive_run(
    model: &Model,
    plan: &Plan,
    given: BTreeMap<String, Vec<f64>>,
    run: u64,
) -> Vec<(String, f64)> {
    let known = given.clone();
    let renewals = |name: &str, piece: u32| {
        let input = model.inputs.iter().find(|i| i.about.name == name).unwrap();
        if run >= BASE_RUN {
            return input.base[0] * input.unit.scale;
        }
        let mut life = [0.0];
        plan.renewal(plan.input(name).unwrap(), piece, run, &mut life, &mut Scratch::new());
        match input.given() {
            Some(_) => at_score(input, &known, life[0]) * input.unit.scale,
            None => life[0] * input.unit.scale,
        }
    };
    let naive = Naive::new(model, given, &renewals);
    let name_all = |w: &payspread::model::Working| {
        let values = naive.working(&w.about.name).into_iter().enumerate();
        values.map(|(k, v)| (format!("{}[{k}]", w.about.name), v)).collect::<Vec<_>>()
    };
    model.workings.iter().flat_map(name_all).collect()
}

/// Says where the first difference is.
pub fn compare(what: &str, run: usize, compiled: &[f64], naive: &[(String, f64)]) -> Result<(), String> {
    if compiled.len() != naive.len() {
        return Err(format!("{what}: {} values for {}", compiled.len(), naive.len()));
    }
    for (&a, (name, b)) in compiled.iter().zip(naive) {
        if !same(a, *b) {
            return Err(format!("{what}, run {run}: {name} is {a:?} compiled, {b:?} naive"));
        }
    }
    Ok(())
}
