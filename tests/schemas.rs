//! The published schemas are what this version makes, and they are exact: real answers and good studies fit them, other
//! keys do not, and the schema of the study knows the keys that the reader asks for.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on has failed")]

use std::collections::BTreeSet;
use std::fs;
use std::path::PathBuf;

use jsonschema::Validator;
use payspread::analysis::{Options, appraise};
use payspread::engine::run::Control;
use payspread::model;
use payspread::report::{answers_schema, json};
use payspread::sampling::Design;
use payspread::study::{Beside, editor};
use serde_json::{Map, Value};

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn published(file: &str, published: &str, generated: &str) {
    if std::env::var_os("PAYSPREAD_BLESS").is_some() {
        fs::write(root().join(file), generated).unwrap();
        return;
    }
    assert!(published == generated, "{file} is not what is generated: PAYSPREAD_BLESS=1 writes it anew");
}

#[test]
fn published_schemas_are_those_of_this_version() {
    let answers = answers_schema::generated().unwrap();
    published("src/report/schemas/answers.schema.json", answers_schema::PUBLISHED, &answers);
    published("src/study/editor/study.schema.json", editor::PUBLISHED, &editor::generated().unwrap());
}

fn validator(schema: &str) -> Validator {
    jsonschema::validator_for(&serde_json::from_str(schema).unwrap()).unwrap()
}

fn faults(validator: &Validator, value: &Value) -> Vec<String> {
    validator.iter_errors(value).take(5).map(|e| format!("{}: {e:.200}", e.instance_path())).collect()
}

fn studies(folder: &str) -> Vec<PathBuf> {
    let entries = fs::read_dir(root().join(folder)).unwrap().map(|e| e.unwrap().path());
    let mut found: Vec<PathBuf> = entries.filter(|p| p.extension().is_some_and(|e| e == "toml")).collect();
    found.sort();
    found
}

#[test]
fn real_answers_fit_and_nothing_else_stands_in_them() {
    let schema = validator(&answers_schema::generated().unwrap());
    for path in studies("studies").into_iter().chain(studies("tests/good")) {
        let text = fs::read_to_string(&path).unwrap();
        let (made, found) = model::read_beside(&text, &Beside::study(&path));
        let Some((_, model)) = made else { panic!("{}: {found:?}", path.display()) };
        let wish = &model.sampling;
        // Rearranged strata need ten runs in each replicate.
        let runs = if model.homes.is_empty() { 128 } else { 32 };
        let design = Design::new(wish.seed, wish.method, wish.replicates, runs);
        // Global indices take many evaluations: once with links and once without will do.
        let all = path.ends_with("first.toml") || path.ends_with("linking.toml");
        let options = Options { design, until: None, all, ..Options::of(&model) };
        let answers = appraise(&model, options, &Control::default()).unwrap();
        let mut answers: Value = serde_json::from_str(&json::answers(&answers).unwrap()).unwrap();
        assert_eq!(faults(&schema, &answers), Vec::<String>::new(), "{}", path.display());
        answers["results"][0]["one_more"] = 1.into();
        assert!(!schema.is_valid(&answers), "{}: a field that nobody knows", path.display());
        answers["results"][0].as_object_mut().unwrap().remove("one_more");
        answers["results"][0]["base"] = "sometimes".into();
        assert!(!schema.is_valid(&answers));
        answers["results"][0]["base"] = "never".into();
        answers["format"] = 1.into();
        assert!(!schema.is_valid(&answers), "another format");
    }
}

/// TOML as an editor hands it to a schema: dates are text.
fn as_json(value: toml::Value) -> Value {
    match value {
        toml::Value::String(text) => text.into(),
        toml::Value::Integer(n) => n.into(),
        toml::Value::Float(x) => x.into(),
        toml::Value::Boolean(flag) => flag.into(),
        toml::Value::Datetime(date) => date.to_string().into(),
        toml::Value::Array(list) => list.into_iter().map(as_json).collect(),
        toml::Value::Table(table) => {
            table.into_iter().map(|(k, v)| (k, as_json(v))).collect::<Map<_, _>>().into()
        }
    }
}

fn read(text: &str) -> Value {
    as_json(toml::Value::Table(text.trim_start_matches('\u{feff}').parse().unwrap()))
}

#[test]
fn good_studies_fit() {
    let schema = validator(&editor::generated().unwrap());
    for path in studies("studies").into_iter().chain(studies("tests/good")).chain(studies("tests/doubtful")) {
        let study = read(&fs::read_to_string(&path).unwrap());
        assert_eq!(faults(&schema, &study), Vec::<String>::new(), "{}", path.display());
    }
}

#[test]
fn what_a_schema_can_see_is_refused() {
    let schema = validator(&editor::generated().unwrap());
    let mut study = read(&fs::read_to_string(root().join("studies/harbour-row.toml")).unwrap());
    assert!(schema.is_valid(&study));
    let input = study["inputs"].as_object().unwrap().keys().next().unwrap().clone();
    let path = study["paths"].as_object().unwrap().keys().next().unwrap().clone();
    let breaks: [(&str, &str); 14] = [
        ("/currency", r#""eur""#),
        ("/years", "0"),
        ("/sampling/method", r#""monte""#),
        ("/inputs/INPUT/labl", r#""a slip""#),
        ("/inputs/INPUT", r#"{ "value": 1, "choice": [1, 2] }"#),
        ("/inputs/INPUT", r#"{ "unit": "kW" }"#),
        ("/inputs/INPUT", r#"{ "pert": { "min": 1, "mode": 2 } }"#),
        ("/inputs/INPUT", r#"{ "pert": { "min": 1, "mode": 2, "p90": 3 } }"#),
        ("/inputs/INPUT", r#"{ "monthly": [1, 2, 3] }"#),
        ("/inputs/bad-name", r#"{ "value": 1 }"#),
        ("/inputs/year", r#"{ "value": 1 }"#),
        ("/paths/PATH", r#"{ "process": "random walk", "start": 1 }"#),
        ("/paths/PATH", r#"{ "process": "steady growth", "start": 1, "half_life": 2 }"#),
        ("/report", r#"{ "numbers": "1234" }"#),
    ];
    for (place, value) in breaks {
        let place = place.replace("INPUT", &input).replace("PATH", &path);
        let (parent, key) = place.rsplit_once('/').unwrap();
        let kept = study.clone();
        study.pointer_mut(parent).unwrap()[key] = serde_json::from_str(value).unwrap();
        assert!(!schema.is_valid(&study), "{place} = {value}");
        study = kept;
    }
}

/// Keys of the schema at a place of the study: through properties, definitions and items.
fn schema_keys(schema: &Value, place: &[&str]) -> BTreeSet<String> {
    let mut at = schema;
    for step in place {
        at = resolved(schema, at);
        at = match *step {
            "[]" => &at["items"],
            "*" => &at["additionalProperties"],
            name => &at["properties"][name],
        };
    }
    resolved(schema, at)["properties"]
        .as_object()
        .unwrap_or_else(|| panic!("{place:?}"))
        .keys()
        .cloned()
        .collect()
}

fn resolved<'s>(schema: &'s Value, mut at: &'s Value) -> &'s Value {
    loop {
        if let Some(name) = at["$ref"].as_str() {
            at = &schema["definitions"][name.rsplit('/').next().unwrap()];
        } else if at["allOf"].as_array().is_some_and(|all| all.len() == 1) && at["properties"].is_null() {
            at = &at["allOf"][0];
        } else {
            return at;
        }
    }
}

/// Keys that the reader says it knows, when it is shown one that it does not.
fn reader_keys(text: &str, whose: &str) -> BTreeSet<String> {
    let (_, found) = payspread::study::read::parse(text);
    let message = format!("{whose} has no key `zzzzzzzzzzzzzzzzzz`");
    let unknown = found.iter().find(|d| d.message == message);
    let unknown = unknown
        .unwrap_or_else(|| panic!("{message} in {:?}", found.iter().map(|d| &d.message).collect::<Vec<_>>()));
    let hint = unknown.hints.iter().find_map(|h| h.strip_prefix("known here: ")).unwrap();
    hint.split('`').skip(1).step_by(2).map(str::to_owned).collect()
}

#[test]
fn the_schema_knows_the_keys_that_the_reader_knows() {
    let schema: Value = serde_json::from_str(&editor::generated().unwrap()).unwrap();
    let stray = "zzzzzzzzzzzzzzzzzz = 1";
    let cases: [(&str, &str, &[&str]); 26] = [
        ("STRAY", "a study", &[]),
        ("[sampling]\nSTRAY", "`sampling`", &["sampling"]),
        ("[sampling]\nuntil = { STRAY }", "`sampling.until`", &["sampling", "until"]),
        ("[inputs.a]\nSTRAY", "`inputs.a`", &["inputs", "*"]),
        (
            "[inputs.a]\nvalue = 1\nchanges = [ { STRAY } ]",
            "`inputs.a.changes[1]`",
            &["inputs", "*", "changes", "[]"],
        ),
        (
            "[inputs.a]\nnormal = { mean = 1, sd = 1 }\ntruncate = { STRAY }",
            "`inputs.a.truncate`",
            &["inputs", "*", "truncate"],
        ),
        ("[inputs.a]\nmixture = [ { STRAY } ]", "`inputs.a.mixture[1]`", &["inputs", "*", "mixture", "[]"]),
        ("[paths.a]\nSTRAY", "`paths.a`", &["paths", "*"]),
        (
            "[paths.a]\nprocess = \"steps\"\nstart = 1\nsteps = [ { STRAY } ]",
            "`paths.a.steps[1]`",
            &["paths", "*", "steps", "[]"],
        ),
        ("[hotwater.a]\nSTRAY", "`hotwater.a`", &["hotwater", "*"]),
        ("[hotwater.a]\nsun = { STRAY, roofs = [] }", "`hotwater.a.sun`", &["hotwater", "*", "sun"]),
        (
            "[hotwater.a]\nsun = { roofs = [ { STRAY } ] }",
            "`hotwater.a.sun.roofs[1]`",
            &["hotwater", "*", "sun", "roofs", "[]"],
        ),
        ("[hotwater.a]\nphases = { STRAY }", "`hotwater.a.phases`", &["hotwater", "*", "phases"]),
        ("[[correlations]]\nSTRAY", "`correlations[1]`", &["correlations", "[]"]),
        ("[workings.a]\nSTRAY", "`workings.a`", &["workings", "*"]),
        ("[results.a]\nSTRAY", "`results.a`", &["results", "*"]),
        ("[alternatives.a]\nSTRAY", "`alternatives.a`", &["alternatives", "*"]),
        ("[[break_even]]\nSTRAY", "`break_even[1]`", &["break_even", "[]"]),
        ("[comparison]\nSTRAY", "`comparison`", &["comparison"]),
        ("[indices]\nSTRAY", "`indices`", &["indices"]),
        ("[[measurements]]\nSTRAY", "`measurements[1]`", &["measurements", "[]"]),
        ("[conditions]\nSTRAY", "`conditions`", &["conditions"]),
        ("[[groups]]\nSTRAY", "`groups[1]`", &["groups", "[]"]),
        ("[report]\nSTRAY", "`report`", &["report"]),
        ("[report]\nagreed = [ { STRAY } ]", "`report.agreed[1]`", &["report", "agreed", "[]"]),
        ("[report.prose]\nSTRAY", "`report.prose`", &["report", "prose"]),
    ];
    for (text, whose, place) in cases {
        let (mut known, read) =
            (schema_keys(&schema, place), reader_keys(&text.replace("STRAY", stray), whose));
        // With several planes, the sun's own is not asked for.
        if whose.ends_with(".sun`") {
            known.remove("tilt");
            known.remove("azimuth");
        }
        assert_eq!(known, read, "{whose}");
    }
}
