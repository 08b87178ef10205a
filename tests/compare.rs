//! `compare` through the program: three known changes of a linear model, whose effects have a closed form.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on has failed")]

use std::fs;
use std::path::PathBuf;
use std::process::{Command, Output};

use serde_json::Value;

fn folder(name: &str) -> PathBuf {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("compare").join(name);
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(&folder).unwrap();
    folder
}

fn payspread(folder: &PathBuf, args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_payspread")).current_dir(folder).args(args).output().unwrap()
}

/// result = a x + b y + c, x and y uniform.
const A: &str = r#"title = "Linear"
currency = "EUR"
prices = "real"
first_year = 2027
years = 2
[sampling]
runs = 4096
seed = 7
[inputs.a]
value = 2
[inputs.b]
value = 3
[inputs.x]
unit = "EUR"
uniform = { min = 0, max = 10 }
base = 5
[inputs.y]
unit = "EUR"
uniform = { min = 0, max = 4 }
base = 2
note = "as it is"
[workings.sum]
unit = "EUR"
formula = "a * x + b * y"
[results.result]
unit = "EUR"
formula = "sum + 1 [EUR]"
at_least = 10
[results.other]
unit = "EUR"
formula = "3 * x"
"#;

fn compared(name: &str, a: &str, b: &str) -> Value {
    let folder = folder(name);
    fs::write(folder.join("a.toml"), a).unwrap();
    fs::write(folder.join("b.toml"), b).unwrap();
    let out = payspread(&folder, &["compare", "--format", "json", "a.toml", "b.toml"]);
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    let json: Value = serde_json::from_slice(&out.stdout).unwrap();
    for result in json["results"].as_array().unwrap() {
        steps_add_up(result);
    }
    json
}

fn by(effect: &Value, statistic: &str) -> f64 {
    effect[statistic]["by"].as_f64().unwrap_or_else(|| panic!("{effect}"))
}

/// In turn they make the whole; alone, with what they only do together, as well.
fn steps_add_up(result: &Value) {
    for statistic in ["base", "mean", "P10", "P50", "P90", "share"] {
        let Some(whole) = result["whole"][statistic]["by"].as_f64() else { continue };
        let drawn = result["drawn"][statistic]["by"].as_f64().unwrap_or(0.0);
        let sum = |key: &str| result[key].as_array().unwrap().iter().map(|e| by(e, statistic)).sum::<f64>();
        let size = 1e-9 * (1.0 + whole.abs());
        assert!((sum("in_turn") + drawn - whole).abs() <= size, "{statistic} {result}");
        let together = result["together"][statistic].as_f64().unwrap();
        assert!((sum("alone") + drawn + together - whole).abs() <= size, "{statistic} {result}");
    }
}

#[test]
fn three_known_changes() {
    let b = A
        .replace("[inputs.a]\nvalue = 2", "[inputs.a]\nvalue = 2.5")
        .replace("min = 0, max = 4 }\nbase = 2", "min = 2, max = 6 }\nbase = 4")
        .replace("sum + 1 [EUR]", "sum + 8 [EUR]")
        .replace("as it is", "moved");
    let json = compared("three", A, &b);
    let changed: Vec<&str> =
        json["differences"].as_array().unwrap().iter().map(|d| d["name"].as_str().unwrap()).collect();
    assert_eq!(changed, ["a", "y", "result"]);
    assert_eq!(json["steps"], serde_json::json!([[1], [2], [3]]));
    let result = &json["results"][0];
    // E x = 5, E y = 2: a by 0.5 gives 2.5, y by 2 gives 3 * 2, the constant 7. Nothing is left over.
    for (k, expected) in [2.5, 6.0, 7.0].into_iter().enumerate() {
        for kind in ["alone", "in_turn"] {
            let effect = &result[kind][k];
            assert!((by(effect, "base") - expected).abs() < 1e-9, "{kind} {k}: {effect}");
            let within = effect["mean"]["within"].as_f64().unwrap();
            // Of a shift nothing is uncertain; of the factor only what is uncertain of the mean of x.
            assert!(
                (by(effect, "mean") - expected).abs() <= (3.0 * within).max(1e-6),
                "{kind} {k}: {effect}"
            );
            assert!(within < 0.05, "{kind} {k}: {effect}");
        }
    }
    for k in [1, 2] {
        assert!(result["alone"][k]["mean"]["within"].as_f64().unwrap() < 1e-9, "{result}");
    }
    assert!((by(&result["whole"], "base") - 15.5).abs() < 1e-9);
    assert!(result["together"]["mean"].as_f64().unwrap().abs() < 1e-9);
    // A change of an input moves only what reads it: exactly.
    let other = &json["results"][1];
    for kind in ["alone", "in_turn"] {
        for effect in other[kind].as_array().unwrap() {
            for statistic in ["mean", "P10", "P50", "P90"] {
                assert_eq!(effect[statistic]["by"], 0.0);
                assert_eq!(effect[statistic]["within"], 0.0);
            }
        }
    }
}

#[test]
fn what_two_changes_do_only_together() {
    // a by 1 and x by 2 (both ends): a x goes from 2 * 5 to 3 * 7 = 21; alone 5 and 4, together 2 more.
    let b = A
        .replace("[inputs.a]\nvalue = 2", "[inputs.a]\nvalue = 3")
        .replace("min = 0, max = 10 }\nbase = 5", "min = 2, max = 12 }\nbase = 7");
    let json = compared("together", A, &b);
    let result = &json["results"][0];
    assert!((result["together"]["base"].as_f64().unwrap() - 2.0).abs() < 1e-9, "{result}");
    assert!((result["together"]["mean"].as_f64().unwrap() - 2.0).abs() < 1e-6, "{result}");
}

#[test]
fn a_new_input_comes_with_the_formula_that_reads_it() {
    let b = A
        .replace(
            "[workings.sum]",
            "[inputs.z]\nunit = \"EUR\"\nnormal = { mean = 4, sd = 1 }\n[workings.sum]",
        )
        .replace("a * x + b * y", "a * x + b * y + z")
        .replace("[inputs.a]\nvalue = 2", "[inputs.a]\nvalue = 4");
    let json = compared("grouped", A, &b);
    assert_eq!(json["steps"].as_array().unwrap().len(), 2, "{}", json["steps"]);
    let mean = &json["results"][0]["alone"][1]["mean"];
    assert!(
        (mean["by"].as_f64().unwrap() - 4.0).abs() <= 3.0 * mean["within"].as_f64().unwrap().max(1e-3),
        "{mean}"
    );
    // The other result does not read the new input, and no draw of its own was changed by it.
    assert_eq!(json["results"][1]["whole"]["mean"]["by"], 0.0);
}

#[test]
fn drawn_otherwise_is_a_step_of_its_own() {
    let json = compared("drawn", A, &A.replace("seed = 7", "seed = 8"));
    let result = &json["results"][0];
    assert_eq!(json["steps"], serde_json::json!([]));
    assert_eq!(by(&result["whole"], "base"), 0.0);
    let drawn = &result["drawn"]["mean"];
    let (by, within) = (drawn["by"].as_f64().unwrap(), drawn["within"].as_f64().unwrap());
    assert!(by != 0.0 && by.abs() <= within, "{drawn}");
    assert_eq!(result["whole"]["mean"]["within"].as_f64().unwrap(), within);
}

#[test]
fn the_same_and_words_alone() {
    let folder = folder("same");
    fs::write(folder.join("a.toml"), A).unwrap();
    fs::write(folder.join("b.toml"), format!("# a remark\n{}", A.replace("value = 2\n", "value = 2.0\n")))
        .unwrap();
    let out = payspread(&folder, &["compare", "a.toml", "b.toml"]);
    assert!(String::from_utf8_lossy(&out.stdout).contains("The two are the same."), "{out:?}");
    fs::write(folder.join("c.toml"), A.replace("as it is", "<script>=cmd()")).unwrap();
    let out = payspread(&folder, &["compare", "a.toml", "c.toml"]);
    let text = String::from_utf8_lossy(&out.stdout);
    assert!(text.contains("in words only") && text.contains("None of that changes a result."), "{text}");
}

#[test]
fn folders_text_and_tables() {
    let folder = folder("folders");
    fs::write(folder.join("a.toml"), A).unwrap();
    fs::write(folder.join("b.toml"), A.replace("value = 3", "value = 4")).unwrap();
    for name in ["a", "b"] {
        let study = format!("{name}.toml");
        assert!(payspread(&folder, &["run", "-q", "--out", name, &study]).status.success());
    }
    let out = payspread(&folder, &["compare", "-q", "a", "b.toml", "--out", "tables"]);
    assert!(out.status.success());
    let out = payspread(&folder, &["compare", "a", "b.toml", "--out", "tables"]);
    let text = String::from_utf8_lossy(&out.stdout);
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    for expected in ["input b changed (line 11 in A, 11 in B)", "value: 3 -> 4", "B less A", "1 b"] {
        assert!(text.contains(expected), "{expected}\n{text}");
    }
    let effects = fs::read_to_string(folder.join("tables/effects.csv")).unwrap();
    assert!(effects.contains("result,EUR,in turn,1 b,base,2,"), "{effects}");
}

#[test]
fn what_is_no_study_is_said() {
    let folder = folder("wrong");
    fs::write(folder.join("a.toml"), A).unwrap();
    let out = payspread(&folder, &["compare", "a.toml", "b.toml"]);
    assert_eq!(out.status.code(), Some(1));
    assert_eq!(payspread(&folder, &["compare", "a.toml"]).status.code(), Some(2));
}
