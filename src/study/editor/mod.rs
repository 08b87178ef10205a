//! The JSON Schema of the study file, by which an editor completes and checks it while somebody types.
//!
//! Words, settings, processes and distributions come from the tables that the reader itself uses; the rest is written out
//! here, and a test holds its keys to those that the reader asks for. Draft 7, which is what editors of TOML know. It
//! knows shapes and keys; whether names exist and units agree is for `payspread check`.

mod asked;
mod homes;
mod parts;
mod rows;

use serde_json::{Map, Value, json};

use crate::study::sections::{LINKINGS, METHODS};
use crate::study::{NUMBER_STYLES, PARTS};

use parts::{flag, list, named, number, object, one_of_these, text, whole, words};

/// The published schema. A test holds it to what [`generated`] makes.
pub const PUBLISHED: &str = include_str!("study.schema.json");

/// The schema of this version's study files, with a final line feed.
///
/// # Errors
/// None is known.
pub fn generated() -> Result<String, serde_json::Error> {
    let mut schema = study();
    schema["$schema"] = "http://json-schema.org/draft-07/schema#".into();
    schema["title"] = "A study of payspread".into();
    schema["description"] = "What may stand in a study file, and where.".into();
    schema["definitions"] = definitions();
    let mut text = serde_json::to_string_pretty(&schema)?;
    text.push('\n');
    Ok(text)
}

fn definitions() -> Value {
    let mut all = Map::new();
    rows::define(&mut all);
    homes::define(&mut all);
    Value::Object(all)
}

fn study() -> Value {
    let fields = [
        ("title", text("Heading of every answer.", "Does it pay back?")),
        ("question", text("What the reader wants to know.", "Does it pay for itself before it wears out?")),
        (
            "currency",
            json!({
                "description": "Code of the money: three capital letters.", "type": "string", "pattern": "^[A-Z]{3}$",
                "examples": ["EUR"],
            }),
        ),
        ("prices", words("Money of the first year, or of each year.", &["real", "nominal"])),
        (
            "inflation",
            text(
                "Name of the input or path that says how much dearer everything becomes, in 1/yr.",
                "inflation",
            ),
        ),
        ("first_year", whole("Calendar year of year 0.", 1900, 2200)),
        ("years", whole("Length of the horizon.", 1, 100)),
        ("headline", text("The result that tornado and break-even speak of.", "npv")),
        ("sampling", sampling()),
        (
            "units",
            json!({
                "description": "Units of the study's own, each by those known before it.", "type": "object",
                "additionalProperties": text("Its size in known units.", "0.01 EUR"),
            }),
        ),
        (
            "inputs",
            named("Named quantities: a value, a choice or a distribution each.", rows::refer("input")),
        ),
        ("paths", named("Prices and other inputs with a value for each year.", rows::refer("path"))),
        ("hotwater", named("Simulated homes, half hour by half hour.", rows::refer("home"))),
        ("correlations", list("What moves together.", correlation())),
        ("workings", named("Named formulas.", rows::refer("working"))),
        ("results", named("Workings that answer the question.", rows::refer("result"))),
        (
            "alternatives",
            named("Other courses: some inputs or workings set otherwise.", asked::alternative()),
        ),
        ("break_even", list("Where the answer flips.", asked::break_even())),
        ("comparison", asked::comparison()),
        ("indices", asked::indices()),
        ("measurements", list("What could be observed, to learn what that is worth.", asked::measurement())),
        ("conditions", asked::conditions()),
        ("claim", asked::claim()),
        ("groups", list("Results by groups of runs.", asked::group())),
        ("report", report()),
    ];
    object("", fields, &["title", "currency", "first_year", "years", "results"])
}

fn sampling() -> Value {
    let until = [
        ("result", text("The result; the headline if not given.", "npv")),
        (
            "statistic",
            json!({
                "description": "Which figure of it: mean, share, or a percentile.", "type": "string",
                "pattern": "^(mean|share|P[0-9]+(\\.[0-9]+)?)$", "examples": ["mean", "share", "P10"],
            }),
        ),
        (
            "within",
            json!({
                "description": "Half of its 95 % interval, with or without a unit.", "type": ["number", "string"],
                "examples": ["10 EUR", 0.01],
            }),
        ),
    ];
    let fields = [
        ("runs", whole("Number of runs; rounded up where the method needs it.", 1, 10_000_000_000)),
        ("seed", whole("Seed of the random draws.", 0, i64::MAX)),
        ("method", words("How runs are drawn.", &METHODS.map(|(word, _)| word))),
        ("replicates", whole("Independent replicates, by which intervals are made.", 1, 64)),
        (
            "dimensions",
            list(
                "Sobol dimensions in their order; `payspread check --pin` writes them.",
                json!({ "type": "string" }),
            ),
        ),
        ("repair", flag("Whether correlations that cannot hold together may be moved a little.")),
        ("linking", words("How linked inputs are made to go together.", &LINKINGS.map(|(word, _)| word))),
        (
            "until",
            object(
                "Precision at which the runs may end; `runs` is then the most.",
                until,
                &["statistic", "within"],
            ),
        ),
    ];
    object("How runs are drawn.", fields, &[])
}

fn correlation() -> Value {
    let share = |what: &str| json!({ "description": what, "type": "number", "minimum": -1, "maximum": 1 });
    let fields = [
        (
            "between",
            json!({
                "description": "Names of inputs, of paths (their yearly shocks), or NAME.start of paths.", "type": "array",
                "items": { "type": "string" }, "minItems": 2, "examples": [["gas_price", "export_price"]],
            }),
        ),
        ("rank", share("Rank correlation (Spearman).")),
        ("normal", share("Correlation of the normal scores.")),
    ];
    one_of_these(object("A correlation.", fields, &["between"]), &["rank", "normal"])
}

fn report() -> Value {
    let markdown = |what: &str| json!({ "description": format!("{what} Markdown."), "type": "string" });
    let agreed = [
        ("what", text("The assumption.", "Discount rate 4 % a year")),
        ("date", text("When.", "2026-11-03")),
        ("with", text("With whom.", "Housing association")),
    ];
    let prose = PARTS.map(|part| (part, markdown("The study's own words at the head of this part.")));
    let mut prose = object("The study's own words, part by part.", prose, &[]);
    prose["minProperties"] = 1.into();
    let fields = [
        ("client", text("For whom.", "Harbour Row residents")),
        ("reference", text("Number of the job.", "2026-14")),
        ("author", text("Who wrote it.", "A. Writer")),
        ("checker", text("Who checked it.", "B. Checker")),
        ("revision", text("Revision.", "B")),
        ("date", text("Its date, as the reader shall see it.", "3 November 2026")),
        (
            "numbers",
            words("How numbers are written, by the example of 1234.5.", &NUMBER_STYLES.map(|(word, _)| word)),
        ),
        ("decision", text("The decision that it serves.", "Whether to order before spring")),
        ("scope", markdown("What it covers.")),
        ("exclusions", markdown("What it leaves out.")),
        ("doubts", markdown("Doubts about the model itself that no distribution covers.")),
        ("agreed", list("Assumptions that were agreed on.", object("", agreed, &["what"]))),
        ("prose", prose),
    ];
    object("What the report says besides.", fields, &[])
}

/// A number that may have any value.
fn any_number(what: &str) -> Value {
    number(what, None, None)
}
