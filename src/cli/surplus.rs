//! `surplus`: a simulated home as rows for a study that knows no half hours.

use std::path::{Path, PathBuf};

use clap::Args;
use toml_edit::{DocumentMut, Item, Table, value};

use super::failure::Failure;
use super::numbers::{any_whole, runs, thousands};
use super::options::General;
use super::pin::replace;
use super::progress;
use super::terminal::Terminal;
use crate::analysis::evidence::{EVIDENCE, Evidence, Row, row};
use crate::analysis::{Answers, Options, SimulatedHome, Summary, appraise};
use crate::model::{self, Model};
use crate::report::numbers::{clean, grouped, percent_of};
use crate::sampling::Design;
use crate::study::edit_input::{InputRow, with_input};
use crate::study::{self, Beside, Source};

/// The home that is simulated where no study is named.
const OWN_HOME: &str = include_str!("../../studies/half-hours.toml");

/// Sections that ask what a simulated home alone does not answer.
const LEFT_OUT: [&str; 9] = [
    "results",
    "headline",
    "alternatives",
    "break_even",
    "claim",
    "conditions",
    "groups",
    "comparison",
    "measurements",
];

/// Simulate a home and say what a simpler study needs of it: share of sunny days, share of the export that the water
/// takes, heat saved, each as a distribution
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  payspread surplus studies/half-hours.toml
  payspread surplus --set panels=2 --set 'litres=\"80 [L/day]\"'
  payspread surplus --set 'readings=\"meter.csv\"' --write my-study.toml --row share_taken
  payspread surplus --write my-study.toml --row heat_saved=displaced

Without STUDY the home of studies/half-hours.toml is simulated. `payspread reference hotwater` lists what can be set.")]
pub(super) struct Surplus {
    /// Study with a simulated home
    #[arg(value_name = "STUDY")]
    study: Option<PathBuf>,
    /// Which of its homes
    #[arg(long, value_name = "NAME")]
    home: Option<String>,
    /// A key of the home set otherwise, as a study would write it; several times
    #[arg(long, value_name = "KEY=VALUE", value_parser = pair)]
    set: Vec<(String, String)>,
    /// Number of simulated years [default: 1,024]
    #[arg(long, value_name = "N", value_parser = runs, default_value_t = 1024)]
    runs: u64,
    /// Seed in place of the study's own
    #[arg(long, value_name = "N", value_parser = any_whole)]
    seed: Option<u64>,
    /// Study whose inputs take the rows; everything else in it stays as it is
    #[arg(long, value_name = "STUDY", requires = "row")]
    write: Option<PathBuf>,
    /// A row that is written, or INPUT=ROW where the study calls it otherwise; several times
    #[arg(long, value_name = "ROW", requires = "write")]
    row: Vec<String>,
}

/// A home that was simulated.
struct Simulated {
    answers: Answers,
    home: SimulatedHome,
    rows: Vec<(Evidence, Summary, Option<Row>)>,
}

impl Surplus {
    pub(super) fn execute(&self, general: &General, terminal: &Terminal) -> Result<(), Failure> {
        let wanted = self.wanted()?;
        let simulated = self.simulate(general)?;
        terminal.say(&page(&simulated))?;
        if let Some(path) = &self.write {
            terminal.say(&write(path, &wanted, &simulated)?)?;
        }
        Ok(())
    }

    /// Input and row, for each `--row`.
    fn wanted(&self) -> Result<Vec<(String, Evidence)>, Failure> {
        let find = |text: &String| {
            let (input, name) = text.split_once('=').unwrap_or((text, text));
            match EVIDENCE.iter().find(|e| e.name == name.trim()) {
                Some(evidence) => Ok((input.trim().to_owned(), *evidence)),
                None => Err(Failure::Usage {
                    message: format!("there is no row {}", clean(name)),
                    hint: format!("the rows are {}", EVIDENCE.map(|e| e.name).join(", ")),
                }),
            }
        };
        self.row.iter().map(find).collect()
    }

    fn simulate(&self, general: &General) -> Result<Simulated, Failure> {
        let (name, path, text) = match &self.study {
            Some(path) => {
                let source = study::read_source(path)
                    .map_err(|found| Failure::Study(study::LoadError::File(found).render(true)))?;
                (source.name, path.clone(), source.text)
            }
            None => ("half-hours.toml".to_owned(), PathBuf::from("half-hours.toml"), OWN_HOME.to_owned()),
        };
        let text = self.asked(&text, &name, &path)?;
        let source = Source { name, text };
        let (made, found) = model::read_beside(&source.text, &Beside::study(&path));
        let Some((_, model)) = made else {
            return Err(Failure::Study(study::render(&found, &source, true)));
        };
        let answers = self.run(&model, general)?;
        let home = answers.homes.iter().find(|h| self.home.as_ref().is_none_or(|name| *name == h.name));
        let home = home.cloned().ok_or_else(|| Failure::Machine("no home was simulated".into()))?;
        let rows = EVIDENCE.iter().filter_map(|&evidence| {
            let summary = answers.results.iter().find(|r| r.name == result_name(evidence))?.clone();
            let row = row(&summary);
            Some((evidence, summary, row))
        });
        Ok(Simulated { rows: rows.collect(), home, answers })
    }

    fn run(&self, model: &Model, general: &General) -> Result<Answers, Failure> {
        let wish = &model.sampling;
        let design = Design::new(self.seed.unwrap_or(wish.seed), wish.method, wish.replicates, self.runs);
        let options =
            Options { design, break_even: false, single_runs: false, until: None, ..Options::of(model) };
        let pool = rayon::ThreadPoolBuilder::new().num_threads(general.threads.unwrap_or(0)).build();
        let pool = pool.map_err(|error| Failure::Machine(format!("cannot start the threads: {error}")))?;
        let control = progress::interruptible();
        let answers = progress::watched(&control, design.runs, general.quiet, || {
            pool.install(|| appraise(model, options, &control))
        });
        answers.map_err(|error| match error {
            crate::analysis::AppraisalError::Stopped(_) => Failure::Interrupted,
            error => Failure::Machine(format!("the home cannot be simulated: {error:?}")),
        })
    }

    /// The study with the home as set, and nothing asked but what simpler studies need of it.
    fn asked(&self, text: &str, name: &str, path: &Path) -> Result<String, Failure> {
        let Ok(mut document) = text.trim_start_matches('\u{feff}').parse::<DocumentMut>() else {
            // What is wrong with it is told by the reader of studies.
            let (_, found) = model::read_beside(text, &Beside::study(path));
            let source = Source { name: name.to_owned(), text: text.to_owned() };
            return Err(Failure::Study(study::render(&found, &source, true)));
        };
        let home = self.which(&document, name)?;
        for (key, text) in &self.set {
            let set = text.parse::<toml_edit::Value>().unwrap_or_else(|_| text.as_str().into());
            let table =
                document.get_mut("hotwater").and_then(|h| h.get_mut(&home)).and_then(Item::as_table_like_mut);
            if let Some(table) = table {
                table.insert(key, Item::Value(set));
                if key == "readings" {
                    table.remove("sun");
                    table.remove("panels");
                    table.remove("sun_loss");
                    table.remove("electricity");
                }
            }
        }
        for section in LEFT_OUT {
            document.remove(section);
        }
        if let Some(sampling) = document.get_mut("sampling").and_then(Item::as_table_like_mut) {
            sampling.remove("until");
            sampling.remove("dimensions");
        }
        let mut results = Table::new();
        results.set_implicit(true);
        for evidence in EVIDENCE {
            let mut result = Table::new();
            result.insert("label", value(evidence.label));
            if !evidence.unit.is_empty() {
                result.insert("unit", value(evidence.unit));
            }
            result.insert("formula", value(evidence.formula.replace("HOME", &home)));
            results.insert(&result_name(evidence), Item::Table(result));
        }
        document.insert("results", Item::Table(results));
        Ok(document.to_string())
    }

    /// Name of the home.
    fn which(&self, document: &DocumentMut, name: &str) -> Result<String, Failure> {
        let homes: Vec<String> = document
            .get("hotwater")
            .and_then(Item::as_table_like)
            .map_or_else(Vec::new, |table| table.iter().map(|(key, _)| key.to_owned()).collect());
        let listed = homes.iter().map(|h| clean(h)).collect::<Vec<_>>().join(", ");
        let usage = |message: String, hint: String| Err(Failure::Usage { message, hint });
        match (&self.home, homes.as_slice()) {
            (_, []) => usage(
                format!("{} simulates no home", clean(name)),
                "a home is a section [hotwater.NAME]: see `payspread reference hotwater` and studies/half-hours.toml".into(),
            ),
            (Some(home), _) if homes.contains(home) => Ok(home.clone()),
            (Some(home), _) => usage(format!("{} has no home {}", clean(name), clean(home)), format!("it has {listed}")),
            (None, [only]) => Ok(only.clone()),
            (None, _) => usage(format!("{} simulates several homes", clean(name)), format!("name one with --home: {listed}")),
        }
    }
}

/// Name of the result behind a row: no study has such a name of its own.
fn result_name(evidence: Evidence) -> String {
    format!("of_simulated_home_{}", evidence.name)
}

fn page(simulated: &Simulated) -> String {
    let Simulated { answers, home, rows } = simulated;
    let mut out = format!("{}: {}.\n\n", clean(&home.label), simulated_in_words(answers, home));
    out.push_str("                                                      10 % of   half of   90 % of\n");
    out.push_str("Row                 Unit   Base case      Mean     years lie  years lie years lie\n");
    out.push_str("                                                      below     below     below\n");
    for (evidence, summary, _) in rows {
        let at =
            |p: f64| summary.percentiles.iter().find(|x| x.p == p).and_then(|x| x.estimate.value.number());
        let mean = summary.mean.as_ref().and_then(|m| m.value.number());
        let shown = |x: Option<f64>| x.map_or_else(|| "none".to_owned(), |x| figure(x, evidence.unit));
        out.push_str(&format!(
            "{:<19} {:<6} {:>9} {:>9} {:>13} {:>9} {:>9}\n",
            evidence.name,
            evidence.unit,
            shown(summary.base.number()),
            shown(mean),
            shown(at(0.10)),
            shown(at(0.50)),
            shown(at(0.90)),
        ));
    }
    out.push_str("\nAs rows of a study:\n\n");
    for (evidence, _, row) in rows {
        match row {
            Some(row) => out.push_str(&in_toml(*evidence, row, &source(answers, home))),
            None => out.push_str(&format!("# {}: the years do not differ\n\n", evidence.name)),
        }
    }
    out.push_str(
        "The rows are drawn apart from each other and from the rest of a study: what a home that draws more water has more of\n\
         each is lost. A distribution stands for all that was uncertain in the simulated home, weather of one year included.\n",
    );
    out
}

fn figure(x: f64, unit: &str) -> String {
    if unit.is_empty() { grouped(x, 3) } else { grouped(x, 0) }
}

fn in_toml(evidence: Evidence, row: &Row, source: &str) -> String {
    let parameters: Vec<String> = row.parameters.iter().map(|(key, x)| format!("{key} = {x}")).collect();
    let unit =
        if evidence.unit.is_empty() { String::new() } else { format!("unit = \"{}\"\n", evidence.unit) };
    format!(
        "[inputs.{}]\nlabel = \"{}\"\n{unit}{} = {{ {} }}   # P10, P50 and P90 within {} of their spread\nbase = {}\nsource = \"{source}\"\n\n",
        evidence.name,
        evidence.label,
        row.kind,
        parameters.join(", "),
        percent_of(row.off),
        row.base,
    )
}

fn simulated_in_words(answers: &Answers, home: &SimulatedHome) -> String {
    let at = |key: &str| {
        let setting = home.settings.iter().find(|s| s.setting == key)?;
        Some(setting.base.iter().sum::<f64>() / setting.base.len() as f64)
    };
    let mut parts = vec![match home.surplus.as_str() {
        "meter readings" => "simulated from meter readings".to_owned(),
        _ => format!("simulated, {} kWp", grouped_short(at("panels").unwrap_or(0.0))),
    }];
    parts.extend(at("volume").map(|x| format!("{} L cylinder", grouped_short(x))));
    parts.extend(at("litres").map(|x| format!("{} L of hot water a day", grouped(x, 0))));
    parts.push(format!("{} years", thousands(answers.sampling.runs)));
    parts.push(format!("seed {}", answers.sampling.seed));
    parts.join(", ")
}

fn grouped_short(x: f64) -> String {
    if x.fract() == 0.0 { grouped(x, 0) } else { grouped(x, 1) }
}

fn source(answers: &Answers, home: &SimulatedHome) -> String {
    clean(&format!("{} (payspread surplus)", simulated_in_words(answers, home))).replace('"', "'")
}

/// Writes the rows into a study; what was done, in a line.
fn write(path: &Path, wanted: &[(String, Evidence)], simulated: &Simulated) -> Result<String, Failure> {
    let old = study::read_source(path)
        .map_err(|found| Failure::Study(study::LoadError::File(found).render(true)))?;
    let file = clean(&path.to_string_lossy());
    let mut text = old.text.clone();
    let source = source(&simulated.answers, &simulated.home);
    for (input, evidence) in wanted {
        let row = simulated.rows.iter().find(|(e, ..)| e == evidence).and_then(|(_, _, row)| row.as_ref());
        let Some(row) = row else {
            let message = format!("{} does not differ between the years", evidence.name);
            return Err(Failure::Usage { message, hint: "write it as a value by hand".into() });
        };
        let row = InputRow {
            name: input,
            label: evidence.label,
            unit: evidence.unit,
            kind: row.kind,
            parameters: &row.parameters,
            base: row.base,
            source: &source,
        };
        text = with_input(&text, &row)
            .ok_or_else(|| Failure::Machine(format!("cannot write into {file}: its inputs are no tables")))?;
    }
    let (made, found) = model::read_beside(&text, &Beside::study(path));
    if made.is_none() {
        let source = Source { name: old.name.clone(), text };
        return Err(Failure::Study(study::render(&found, &source, true)));
    }
    replace(path, old.text.as_bytes(), text.as_bytes())?;
    let inputs: Vec<String> = wanted.iter().map(|(input, _)| clean(input)).collect();
    Ok(format!("Written into {file}: {}.\n", inputs.join(", ")))
}

fn pair(text: &str) -> Result<(String, String), String> {
    let (key, value) = text.split_once('=').ok_or("write it as KEY=VALUE, such as panels=2")?;
    Ok((key.trim().to_owned(), value.trim().to_owned()))
}
