//! The oracle's cases as runs: inputs drawn, net benefits computed.

use payspread::sampling::{Design, Distribution, InputSpec, Link, Method, Plan, Scratch, Value};
use serde_json::Value as Json;

/// Drawn inputs of a case and the net benefit of each course.
pub(crate) struct Drawn {
    pub(crate) names: Vec<String>,
    pub(crate) inputs: Vec<Vec<f64>>,
    pub(crate) courses: Vec<(String, Vec<f64>)>,
}

impl Drawn {
    pub(crate) fn input(&self, name: &str) -> &[f64] {
        &self.inputs[self.names.iter().position(|n| n == name).unwrap()]
    }
}

pub(crate) fn cases() -> Vec<Json> {
    let json: Json = serde_json::from_str(include_str!("../oracles/choosing.json")).unwrap();
    json["cases"].as_array().unwrap().clone()
}

pub(crate) fn numbers(json: &Json) -> Vec<f64> {
    json.as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).collect()
}

fn distribution(json: &Json) -> Distribution {
    let (kind, parameters) = json.as_object().unwrap().iter().next().unwrap();
    let parameters: Vec<(String, Value)> = parameters
        .as_object()
        .unwrap()
        .iter()
        .map(|(k, v)| (k.clone(), Value::Number(v.as_f64().unwrap())))
        .collect();
    Distribution::build(kind, &parameters, None).unwrap()
}

/// Columns of inputs from a sample of the house.
pub(crate) fn draw(inputs: &[InputSpec], links: &[Link], design: Design) -> Vec<Vec<f64>> {
    let n = design.runs as usize;
    let plan = Plan::new(inputs, &[], links, design, &[]).unwrap();
    let mut out = vec![0.0; inputs.len() * n];
    plan.draw(&[], 0, n, &mut out, n, &mut Scratch::new());
    out.chunks(n).map(<[f64]>::to_vec).collect()
}

/// The inputs of a sampled case; none for a table.
pub(crate) fn drawn(case: &Json, method: Method, runs: u64, seed: u64) -> Option<Drawn> {
    let given = &case["inputs"];
    let independent = given["net_benefit"].as_object().is_some_and(|o| o.values().all(Json::is_object));
    let specs = if independent { &given["net_benefit"] } else { &given["inputs"] };
    // In the order of the file: it is that of the expected values.
    let text = include_str!("../oracles/choosing.json");
    let mut names: Vec<String> = specs.as_object()?.keys().cloned().collect();
    let case_at = text.find(case["name"].as_str().unwrap()).unwrap();
    let first = |name: &String| {
        let from = &text[case_at + case["name"].as_str().unwrap().len()..];
        from.find(&format!("\"{name}\": {{")).unwrap()
    };
    names.sort_by_key(first);
    let inputs: Vec<InputSpec> = names
        .iter()
        .map(|name| InputSpec { name: name.clone(), distribution: distribution(&specs[name]) })
        .collect();
    let mut links = Vec::new();
    for link in given["correlations"].as_array().into_iter().flatten() {
        let name = |k: usize| link["between"][k].as_str().unwrap();
        links.push(Link::from_rank(name(0), name(1), link["rank"].as_f64().unwrap()));
    }
    let columns = draw(&inputs, &links, Design::new(seed, method, 8, runs));
    let n = columns[0].len();
    let courses = if independent {
        names.iter().cloned().zip(columns.clone()).collect()
    } else {
        let formula = given["net_benefit"]["second"].as_str().unwrap();
        let gain = (0..n).map(|r| value(formula, &names, &columns, r)).collect();
        vec![("first".to_owned(), vec![0.0; n]), ("second".to_owned(), gain)]
    };
    Some(Drawn { names, inputs: columns, courses })
}

/// Sums of products, as the oracle writes them.
fn value(formula: &str, names: &[String], columns: &[Vec<f64>], run: usize) -> f64 {
    let factor = |text: &str| match names.iter().position(|n| n == text) {
        Some(k) => columns[k][run],
        None => text.parse::<f64>().unwrap(),
    };
    formula.split(" + ").map(|term| term.split('*').map(factor).product::<f64>()).sum()
}
