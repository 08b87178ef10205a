//! CSV tables of what single runs say: what drives a result, results by groups, courses side by side, what it is worth to
//! know, when a result fails, what was promised. Laid out as the other tables: a unit beside each figure, its interval in
//! columns of its own, no digit that the interval does not support.

mod conditions;
mod courses;

use crate::analysis::sensitivity::dummy::DUMMIES;
use crate::analysis::sensitivity::{
    End, Floor, Group, Sensitivity, SensitivityOf, SensitivityRow, TenthStatistic, TenthsRow, Whole,
};
use crate::analysis::{Answers, ChoiceAnswer, Drivers, Estimate, Percentile, ResultByGroup, Share};

use super::cells::{Cells, about, alone, cell, drawn, estimate, half, part, share};
use super::numbers::half_width;
use super::tables::{TableFile, below, file, head};

/// A table before it is written.
struct Sheet {
    name: String,
    head: Vec<String>,
    rows: Vec<Vec<String>>,
}

impl Sheet {
    fn new(name: &str, head: Vec<String>, rows: impl IntoIterator<Item = Vec<String>>) -> Self {
        Sheet { name: name.to_owned(), head, rows: rows.into_iter().collect() }
    }
}

/// Those tables that the answers have rows for.
pub(super) fn tables(answers: &Answers) -> Result<Vec<TableFile>, csv::Error> {
    let mut sheets = Vec::new();
    sheets.extend(answers.drivers.iter().flat_map(|found| [drivers(found), tenths(found)]));
    sheets.push(groups(&answers.groups));
    sheets.extend(answers.alternatives.iter().flat_map(courses::tables));
    sheets.extend(answers.knowing.as_ref().map(courses::information));
    sheets.extend(answers.failing.iter().flat_map(conditions::tables));
    sheets.extend(answers.claim.as_ref().map(conditions::claim));
    sheets.extend(by_choice(answers, |choice| choice.alternatives.as_ref().map(courses::alternatives)));
    sheets.extend(by_choice(answers, |choice| choice.knowing.as_ref().map(courses::information)));
    sheets.extend(by_choice(answers, |choice| choice.failing.as_ref().map(conditions::conditions)));
    let told = sheets.into_iter().filter(|sheet| !sheet.rows.is_empty());
    told.map(|sheet| file(&sheet.name, &sheet.head, sheet.rows)).collect()
}

/// The same table for each value of each choice, with the choice before it.
fn by_choice(answers: &Answers, make: impl Fn(&ChoiceAnswer) -> Option<Sheet>) -> Option<Sheet> {
    let mut all: Option<Sheet> = None;
    for choice in &answers.choices {
        let Some(sheet) = make(choice) else { continue };
        let before = [cell(&choice.choice), cell(&choice.label), cell(&choice.value), yes(choice.is_base)];
        let all = all.get_or_insert_with(|| {
            let mut names = head(&["choice", "choice label", "choice value", "base value"]);
            names.extend(sheet.head);
            Sheet::new(&format!("choices_{}", sheet.name), names, [])
        });
        all.rows.extend(sheet.rows.into_iter().map(|row| before.iter().cloned().chain(row).collect()));
    }
    all
}

fn yes(is: bool) -> String {
    if is { "yes" } else { "no" }.to_owned()
}

/// A text of the study, which may be a number: a plain negative number is no formula.
fn word(text: &str) -> String {
    if text.parse::<f64>().is_ok_and(f64::is_finite) { text.to_owned() } else { cell(text) }
}

fn with_interval(what: &str) -> [String; 4] {
    ["", ": 95 % interval from", ": 95 % interval to", ": interval by"].map(|end| format!("{what}{end}"))
}

fn some_estimate(found: Option<&Estimate>) -> Cells {
    found.map_or_else(Cells::default, estimate)
}

fn some_share(found: Option<&Share>) -> Cells {
    found.map_or_else(Cells::default, share)
}

fn percentile(all: &[Percentile], p: f64) -> Cells {
    some_estimate(all.iter().find(|q| (q.p - p).abs() < 1e-9).map(|q| &q.estimate))
}

/// A figure that there may not be.
fn some(x: Option<f64>, known: Option<f64>) -> String {
    x.map_or_else(String::new, |x| about(x, known))
}

fn drivers(found: &Drivers) -> Sheet {
    let mut names = head(&["result", "result label", "what varies", "row", "input", "label", "unit"]);
    names.extend(with_interval("first-order index (share of the variance of what varies)"));
    names.extend(head(&[
        "classes",
        "mean Kolmogorov distance",
        "mean Kolmogorov distance, corrected",
        "delta",
        "delta, corrected",
    ]));
    names.extend(with_interval("Spearman rank correlation"));
    names.extend(head(&[
        "standardised regression coefficient",
        "standardised rank regression coefficient",
        "partial rank correlation",
        "linked to other inputs",
        "R squared of the regression",
        "R squared of the regression of ranks",
        "regression explains enough to order inputs",
        "regression of ranks explains enough to order inputs",
        "condition number of the rank correlations among inputs",
        "runs",
        "runs without a value",
        "runs that are never",
    ]));
    let sensitivity = &found.sensitivity;
    let varies = match sensitivity.of {
        SensitivityOf::Value => "the value",
        SensitivityOf::Never => "whether it is never",
    };
    let inputs = sensitivity.rows.iter().map(|row| driver(found, row));
    let rows = inputs.chain([noise(&sensitivity.floor)]).map(|own| {
        let mut row = vec![cell(&found.result), cell(&found.label), varies.to_owned()];
        row.extend(own);
        row.extend(of_all(sensitivity));
        row
    });
    Sheet::new("drivers", names, rows)
}

/// One input: a measure without an interval is known to about what inputs without effect show.
fn driver(found: &Drivers, row: &SensitivityRow) -> Vec<String> {
    let floor = &found.sensitivity.floor;
    let unit = found.tenths.rows.iter().find(|t| t.name == row.name).map_or("", |t| t.unit.as_str());
    let mut first_order = estimate(&row.first_order);
    // Less than nothing is noise.
    for text in first_order.iter_mut().take(3).filter(|text| text.starts_with('-')) {
        *text = "0".into();
    }
    let mut cells = vec!["input".into(), cell(&row.name), cell(&row.label), cell(unit)];
    cells.extend(first_order);
    cells.push(if row.classes == 0 { String::new() } else { row.classes.to_string() });
    cells.extend(whole(row.kolmogorov, floor.kolmogorov));
    cells.extend(whole(row.delta, floor.delta));
    cells.extend(estimate(&row.spearman));
    let known = half_width(&row.spearman);
    cells.extend([row.src, row.srrc, row.prcc].map(|x| some(x, known)));
    cells.push(yes(row.linked));
    cells
}

fn whole(found: Option<Whole>, floor: Option<f64>) -> [String; 2] {
    [some(found.map(|w| w.value), floor), some(found.and_then(|w| w.corrected), floor)]
}

/// The most that inputs without effect show.
fn noise(floor: &Floor) -> Vec<String> {
    let text = |x: Option<f64>| x.map_or_else(String::new, half);
    let label = format!("noise floor ({DUMMIES} inputs without effect)");
    let mut cells = vec!["noise floor".into(), String::new(), label, String::new()];
    cells.extend(alone(text(floor.first_order)));
    cells.push(String::new());
    cells
        .extend([floor.kolmogorov, floor.kolmogorov_corrected, floor.delta, floor.delta_corrected].map(text));
    cells.extend(alone(text(floor.spearman)));
    cells.extend([const { String::new() }; 4]);
    cells
}

/// What stands on every row, for it is about all of them.
fn of_all(found: &Sensitivity) -> [String; 8] {
    [
        some(found.r_squared, None),
        some(found.rank_r_squared, None),
        yes(!found.withheld),
        yes(!found.rank_withheld),
        some(found.condition_number, None),
        found.runs.to_string(),
        found.without_value.to_string(),
        found.never.to_string(),
    ]
}

fn tenths(found: &Drivers) -> Sheet {
    let mut names = head(&["result", "result label", "unit of the result", "statistic"]);
    names.extend(with_interval("result over all runs"));
    names.extend(head(&["input", "label", "unit of the input"]));
    for end in ["lowest", "highest"] {
        names.extend(["from", "to", "label", "runs"].map(|what| format!("where {end}: {what}")));
        names.extend(with_interval(&format!("result where {end}")));
    }
    names.extend(head(&["difference (highest less lowest)", "linked to other inputs"]));
    let tenths = &found.tenths;
    let statistic = match tenths.statistic {
        TenthStatistic::Mean => "mean",
        TenthStatistic::Median => "half of runs lie below",
        TenthStatistic::Share => "share of yes",
    };
    let rows = tenths.rows.iter().map(|row| {
        let mut cells =
            vec![cell(&found.result), cell(&found.label), cell(&found.unit), statistic.to_owned()];
        cells.extend(estimate(&tenths.all));
        cells.extend([cell(&row.name), cell(&row.label), cell(&row.unit)]);
        cells.extend(end(&row.low));
        cells.extend(end(&row.high));
        cells.extend([some(row.difference, known(row)), yes(row.linked)]);
        cells
    });
    Sheet::new("tenths", names, rows)
}

/// A difference is known no better than its ends are.
fn known(row: &TenthsRow) -> Option<f64> {
    [&row.low, &row.high].into_iter().filter_map(|end| half_width(&end.result)).reduce(f64::max)
}

fn end(end: &End) -> Vec<String> {
    let word = end.word.as_deref().map_or_else(String::new, word);
    let mut cells = vec![drawn(end.from), drawn(end.to), word, end.runs.to_string()];
    cells.extend(estimate(&end.result));
    cells
}

/// Percentiles of a group.
const OF_GROUPS: [f64; 3] = [0.10, 0.50, 0.90];

fn groups(all: &[ResultByGroup]) -> Sheet {
    let mut names = head(&[
        "result",
        "result label",
        "unit of the result",
        "by",
        "by: label",
        "unit of what it is by",
        "group",
        "from",
        "to",
        "runs",
        "share of runs",
    ]);
    names.extend(with_interval("mean"));
    names.extend(OF_GROUPS.iter().flat_map(|&p| with_interval(&below(p))));
    names.push("success means".into());
    names.extend(with_interval("share of the group's runs: success"));
    names.extend(with_interval("share of the group's runs: never"));
    names.push("asked for by the study".into());
    let rows = all.iter().flat_map(|found| found.by.groups.iter().map(move |group| group_row(found, group)));
    Sheet::new("groups", names, rows)
}

fn group_row(found: &ResultByGroup, group: &Group) -> Vec<String> {
    let by = &found.by;
    let mut row =
        [&found.result, &found.label, &found.unit, &by.name, &by.label, &by.unit].map(|t| cell(t)).to_vec();
    row.extend([word(&group.label), drawn(group.from), drawn(group.to)]);
    row.extend([group.runs.to_string(), part(group.share)]);
    row.extend(some_estimate(group.mean.as_ref()));
    row.extend(OF_GROUPS.iter().flat_map(|&p| percentile(&group.percentiles, p)));
    row.push(found.rule.as_deref().map_or_else(String::new, cell));
    row.extend(some_share(group.success.as_ref()));
    row.extend(some_share(group.never.as_ref()));
    row.push(yes(found.asked));
    row
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::fixture;

    fn answers() -> Answers {
        let mut answers = fixture::answers();
        fixture::single_runs(&mut answers);
        answers
    }

    fn read(bytes: &[u8]) -> Vec<Vec<String>> {
        let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(bytes);
        reader.records().map(|r| r.unwrap().iter().map(ToString::to_string).collect()).collect()
    }

    /// A table whose cells are found by their headings.
    struct Table(Vec<Vec<String>>);

    impl Table {
        fn of(answers: &Answers, name: &str) -> Self {
            let files = tables(answers).unwrap();
            Table(read(&files.iter().find(|(file, _)| file == name).unwrap().1))
        }

        fn len(&self) -> usize {
            self.0.len() - 1
        }

        fn place(&self, heading: &str) -> usize {
            let found: Vec<usize> = (0..self.0[0].len()).filter(|&k| self.0[0][k] == heading).collect();
            assert_eq!(found.len(), 1, "{heading}: {:?}", self.0[0]);
            found[0]
        }

        fn at(&self, row: usize, heading: &str) -> &str {
            &self.0[row][self.place(heading)]
        }

        /// A figure and its interval.
        fn figure(&self, row: usize, heading: &str) -> [&str; 3] {
            let k = self.place(heading);
            assert_eq!(self.0[0][k..k + 4], with_interval(heading));
            [k, k + 1, k + 2].map(|k| self.0[row][k].as_str())
        }

        fn column(&self, heading: &str) -> Vec<&str> {
            (1..self.0.len()).map(|row| self.at(row, heading)).collect()
        }
    }

    #[test]
    fn drivers_with_the_noise_beside_them() {
        let table = Table::of(&answers(), "drivers.csv");
        let index = "first-order index (share of the variance of what varies)";
        assert_eq!(table.column("row"), ["input", "input", "input", "input", "noise floor"]);
        assert_eq!(table.at(1, "what varies"), "whether it is never");
        assert_eq!(table.at(1, "unit"), "EUR/kWh");
        assert_eq!(table.figure(1, index), ["0.412", "0.4", "0.425"]);
        // Inputs without effect show 0.0235 and 0.0312: two decimals are known.
        assert_eq!(table.at(1, "mean Kolmogorov distance"), "0.31");
        assert_eq!(table.at(1, "mean Kolmogorov distance, corrected"), "0.29");
        assert_eq!(table.at(1, "delta"), "0.2");
        assert_eq!(table.figure(1, "Spearman rank correlation"), ["-0.634", "-0.645", "-0.623"]);
        let coefficients = [
            "standardised regression coefficient",
            "standardised rank regression coefficient",
            "partial rank correlation",
        ];
        assert_eq!(coefficients.map(|c| table.at(1, c)), ["-0.641", "-0.656", "-0.712"]);
        assert_eq!(coefficients.map(|c| table.at(2, c)), [""; 3]);
        assert_eq!(table.at(2, "label"), "'=Heater, \"the big one\"");
        assert_eq!(table.figure(2, "Spearman rank correlation"), [""; 3]);
        assert_eq!(table.figure(3, index), ["0", "0", "0.001"], "less than nothing is noise");
        assert_eq!(table.figure(4, index), [""; 3]);
        assert_eq!(table.at(4, "classes"), "");
        assert_eq!(table.at(5, "label"), "noise floor (20 inputs without effect)");
        assert_eq!(table.figure(5, index), ["0.0023", "", ""]);
        assert_eq!(table.figure(5, "Spearman rank correlation"), ["0.019", "", ""]);
        assert_eq!([table.at(5, "mean Kolmogorov distance"), table.at(5, "delta")], ["0.023", "0.031"]);
        assert_eq!(table.column("linked to other inputs"), ["yes", "no", "no", "no", ""]);
        for row in 1..=5 {
            assert_eq!(table.at(row, "R squared of the regression"), "0.512");
            assert_eq!(table.at(row, "regression explains enough to order inputs"), "no");
            assert_eq!(table.at(row, "R squared of the regression of ranks"), "0.812");
            assert_eq!(table.at(row, "regression of ranks explains enough to order inputs"), "yes");
            assert_eq!(table.at(row, "condition number of the rank correlations among inputs"), "3.12");
            let counts = ["runs", "runs without a value", "runs that are never"];
            assert_eq!(counts.map(|c| table.at(row, c)), ["16384", "3", "5734"]);
        }
    }

    #[test]
    fn lowest_and_highest_with_never_as_the_word() {
        let table = Table::of(&answers(), "tenths.csv");
        assert_eq!(table.column("statistic"), ["half of runs lie below"; 2]);
        assert_eq!(table.figure(1, "result over all runs"), ["13.5", "13.2", "never"]);
        assert_eq!(
            [table.at(1, "where lowest: from"), table.at(1, "where lowest: to")],
            ["0.031235", "0.052346"]
        );
        assert_eq!(table.figure(1, "result where lowest"), ["7.12", "7.01", "7.23"]);
        assert_eq!(table.at(1, "where highest: from"), "0.10432");
        assert_eq!(table.figure(1, "result where highest"), ["never"; 3]);
        assert_eq!(table.column("difference (highest less lowest)"), ["", "4.2"]);
        assert_eq!(table.at(2, "where lowest: label"), "'+large, \"old\"");
        assert_eq!(table.at(2, "where highest: label"), "-5", "a number is no formula");
        assert_eq!(table.at(2, "where highest: runs"), "1638");
        assert_eq!(table.at(1, "unit of the result"), "yr");
    }

    #[test]
    fn groups_asked_for_and_not() {
        let table = Table::of(&answers(), "groups.csv");
        assert_eq!(table.len(), 6);
        assert_eq!(table.column("group")[..4], ["-1", "2", "4", "lowest third"]);
        assert_eq!(table.column("asked for by the study"), ["yes", "yes", "yes", "no", "no", "no"]);
        assert_eq!(table.figure(1, "mean"), [""; 3]);
        assert_eq!(table.figure(1, "10 % of runs lie below"), ["15.2", "14.1", "never"]);
        assert_eq!(table.figure(2, "50 % of runs lie below"), ["12.4", "12.2", "12.6"]);
        assert_eq!(table.figure(2, "90 % of runs lie below"), ["never"; 3]);
        assert_eq!(table.at(1, "success means"), "at most 20 yr");
        assert_eq!(table.figure(1, "share of the group's runs: success")[0], "0.31");
        assert_eq!(table.figure(1, "share of the group's runs: never")[0], "0.69");
        assert_eq!(table.figure(4, "mean"), ["262", "254", "271"]);
        assert_eq!([table.at(4, "to"), table.at(4, "share of runs")], ["0.067123", "0.3333"]);
        assert_eq!(table.figure(4, "share of the group's runs: never"), [""; 3]);
        assert_eq!(table.at(4, "result label"), "Carbon change, \"all\" of it");
    }

    #[test]
    fn courses_and_their_differences() {
        let answers = answers();
        let table = Table::of(&answers, "alternatives.csv");
        assert_eq!(table.column("course"), ["study", "heater", "nothing"]);
        assert_eq!(table.column("base case"), ["9.25", "", "0"]);
        assert_eq!(table.figure(1, "mean"), ["75", "70", "80"]);
        assert_eq!(table.figure(3, "mean"), ["0"; 3]);
        assert_eq!(table.figure(1, "share of runs in which it is best")[0], "0.52");
        let regret = "expected regret (mean shortfall from the best course of each run)";
        assert_eq!(table.figure(1, regret), ["61", "59", "63"]);
        assert_eq!(table.column("largest regret of any run"), ["712", "1230", "1390"]);
        assert_eq!(table.column("is doing nothing"), ["no", "no", "yes"]);
        assert_eq!(table.column("is best in the mean"), ["yes", "no", "no"]);
        assert_eq!([table.at(1, "runs"), table.at(1, "runs left out")], ["16381", "3"]);

        let table = Table::of(&answers, "differences.csv");
        assert_eq!(table.column("second"), ["heater", "nothing", "nothing"]);
        assert_eq!(table.at(1, "second label"), "'=Heater, \"the big one\"");
        assert_eq!(table.figure(1, "mean advantage of the first over the second")[..2], ["27", "22"]);
        assert_eq!(table.at(1, "standard error of the mean advantage"), "2.2");
        // 27.2 - 1.6449 x 330 = -515.6.
        assert_eq!(table.figure(1, "advantage: 5 % of runs lie below"), ["-516", "-524", "-508"]);
        assert_eq!(table.figure(1, "advantage: 95 % of runs lie below")[0], "570");
        let words: Vec<&[String]> = table.0[1..].iter().map(|row| &row[row.len() - 4..]).collect();
        assert_eq!(words[0], ["within sampling error", "yes", "no", "no"]);
        assert_eq!(words[2], ["no", "no", "no", "within sampling error"]);
    }

    #[test]
    fn along_an_input_and_where_the_best_changes() {
        let table = Table::of(&answers(), "along.csv");
        assert_eq!(table.len(), 10);
        assert_eq!(
            table.column("is best in the mean"),
            ["no", "yes", "no", "yes", "no", "no", "", "", "", ""]
        );
        assert_eq!(table.at(4, "value of the input"), "0.062512");
        assert_eq!(table.figure(4, "mean"), ["61", "46", "76"]);
        let change =
            "best course changes from =Heater, \"the big one\" to Surplus controller, \"as offered\" at";
        assert_eq!(table.at(10, "row"), change);
        assert_eq!([table.at(10, "value of the input"), table.at(10, "course")], ["0.06221", "study"]);
        assert_eq!(table.figure(10, "mean"), [""; 3]);
    }

    #[test]
    fn worth_of_knowing() {
        let table = Table::of(&answers(), "information.csv");
        let worth = "worth of knowing it before choosing";
        let rows = [
            "perfect information",
            "input",
            "group",
            "input",
            "input",
            "noise floor",
            "noise floor",
            "measurement",
        ];
        assert_eq!(table.column("row"), rows);
        assert_eq!(table.figure(1, worth), ["61", "59", "63"]);
        assert_eq!(table.figure(2, worth)[0], "25");
        let raw = "worth before it was cut to what is possible";
        assert_eq!(table.column(raw), ["", "24.6", "26.1", "-0.4", "", "", "", "6.8"]);
        let error = "standard error of the worth";
        assert_eq!(table.column(error), ["", "1.2", "1.2", "1.2", "", "", "", "0.56"]);
        assert_eq!(table.at(2, "share of the worth of perfect information"), "0.4");
        assert_eq!(table.column("about 0"), ["", "no", "no", "yes", "", "", "", ""]);
        assert_eq!(table.column("can be found out"), ["", "no", "yes", "yes", "yes", "", "", ""]);
        assert_eq!(table.column("several inputs together"), ["", "no", "yes", "no", "no", "", "", ""]);
        assert_eq!(table.figure(4, worth), ["0", "0", "1.3"]);
        assert_eq!(table.figure(5, worth), [""; 3]);
        assert_eq!(table.figure(2, "share of runs in which the choice changes")[0], "0.21");
        assert_eq!(table.figure(5, "share of runs in which the choice changes")[0], "");
        assert_eq!([table.figure(6, worth)[0], table.figure(7, worth)[0]], ["0.41", "1.2"]);
        assert_eq!(table.figure(8, worth), ["6.8", "5.7", "7.9"]);
        let last = ["observations", "standard deviation of one observation", "cost of the observations"];
        assert_eq!(last.map(|c| table.at(8, c)), ["7", "12.5", "15.5"]);
        assert_eq!(table.at(8, "label"), "A week of hot water, \"by meter\"");

        let mut singles = answers();
        singles.knowing.as_mut().unwrap().information.floor_of_several = 0.0;
        assert_eq!(Table::of(&singles, "information.csv").len(), 7);
    }

    #[test]
    fn conditions_and_the_way_to_them() {
        let answers = answers();
        let table = Table::of(&answers, "conditions.csv");
        let rows = ["all runs", "box", "condition", "condition", "condition", "goes along", "note"];
        assert_eq!(table.column("row"), rows);
        assert_eq!(table.column("box"), ["", "1", "1", "1", "1", "1", ""]);
        assert_eq!(table.column("looked for"), ["runs that fail"; 7]);
        let counts = ["runs (of a box: held out)", "of these, runs looked for"];
        assert_eq!(counts.map(|c| table.at(1, c)), ["16384", "6717"]);
        assert_eq!(counts.map(|c| table.at(2, c)), ["2902", "2351"]);
        assert_eq!(table.figure(1, "share of all runs that fail")[0], "0.41");
        let of = |what: &str, half: &str| table.figure(2, &format!("{what}, {half}"))[0].to_owned();
        let (coverage, density) = (
            "coverage (share of those looked for in the box)",
            "density (share of the box's runs looked for)",
        );
        let (finding, other) = ("half of the runs that found it", "half of the runs held out");
        assert_eq!([of(coverage, finding), of(density, finding)], ["0.71", "0.82"]);
        assert_eq!([of(coverage, other), of(density, other)], ["0.7", "0.81"]);
        assert_eq!(table.at(2, &format!("share of runs in the box, {finding}")), "0.355");
        assert_eq!(table.at(2, &format!("share of runs in the box, {other}")), "0.3543");
        assert_eq!(table.column("from (included)"), ["", "", "0.074", "", "never", "", ""]);
        assert_eq!(table.at(4, "labels"), "'=large, \"old\"; small");
        let chance = "chance that a random condition does as well";
        assert_eq!(table.column(chance), ["", "", "3.1e-42", "0.012", "0", "", ""]);
        let without =
            |what: &str| table.column(&format!("{what} without this condition (half of the runs held out)"));
        assert_eq!(without("coverage"), ["", "", "0.912", "0.801", "0.75", "", ""]);
        assert_eq!(without("density"), ["", "", "0.523", "", "0.7", "", ""]);
        let along = ["input", "goes along with the input", "rank correlation of the two"];
        assert_eq!(along.map(|c| table.at(6, c)), ["gas_price", "export_price", "0.512"]);
        assert_eq!(table.at(7, "in words"), "'+ Only half of the runs find a box.");

        let table = Table::of(&answers, "conditions_path.csv");
        assert_eq!(table.column("step"), ["0", "1", "2"]);
        assert_eq!(table.column("restricted inputs"), ["0", "1", "3"]);
        assert_eq!(table.at(2, "coverage (share of those looked for in the box)"), "0.9523");
    }

    /// What is looked for where most runs fail are successes: 16,384 less 6,717 of them.
    #[test]
    fn successes_looked_for() {
        let mut answers = answers();
        answers.failing.as_mut().unwrap().conditions.of = crate::analysis::conditions::Of::Successes;
        let table = Table::of(&answers, "conditions.csv");
        assert_eq!(table.at(1, "looked for"), "runs that succeed");
        assert_eq!(table.at(1, "of these, runs looked for"), "9667");
        assert_eq!(table.figure(1, "share of all runs that fail")[0], "0.41");
    }

    #[test]
    fn promises_kept() {
        let table = Table::of(&answers(), "claim.csv");
        let names = ["'-Saving in a year, \"guaranteed\"", "Payback", "all promises together"];
        assert_eq!(table.column("promise"), names);
        assert_eq!(table.column("at least or at most"), ["at least", "at most", ""]);
        assert_eq!(table.column("promised value"), ["120.5", "7", ""]);
        assert_eq!(table.column("share of runs that keep it"), ["0.22", "0.18", "0.11"]);
        assert_eq!(table.column("kept in so many of ten runs"), ["2", "2", "1"]);
        assert_eq!(table.column("share of runs that lie below the promised value"), ["0.78", "0.18", ""]);
        assert_eq!(table.column("unit"), ["EUR", "yr", ""]);
    }

    #[test]
    fn each_value_of_a_choice_side_by_side() {
        let answers = answers();
        for (name, alone) in [
            ("choices_alternatives.csv", "alternatives.csv"),
            ("choices_information.csv", "information.csv"),
            ("choices_conditions.csv", "conditions.csv"),
        ] {
            let (table, alone) = (Table::of(&answers, name), Table::of(&answers, alone));
            assert_eq!(table.len(), 3 * alone.len(), "{name}");
            assert_eq!(table.0[0][..4], ["choice", "choice label", "choice value", "base value"]);
            assert_eq!(table.0[0][4..], alone.0[0], "{name}");
            for (k, row) in table.0[1..].iter().enumerate() {
                let (value, base) =
                    [("0.02 1/yr", "no"), ("0.04 1/yr", "yes"), ("0.07 1/yr", "no")][k / alone.len()];
                assert_eq!(row[..4], ["discount", "Discount rate", value, base].map(String::from), "{name}");
                assert_eq!(row[4..], alone.0[1 + k % alone.len()], "{name}");
            }
        }
    }

    /// Not a run with a value of every course, no errors known, no box: blank, and never said where it is not so.
    #[test]
    fn what_is_not_known_is_blank() {
        let mut answers = answers();
        let none = || Estimate::alone(crate::analysis::Figure::None);
        let courses = answers.alternatives.as_mut().unwrap();
        for row in &mut courses.comparison.rows {
            (row.mean, row.regret, row.best_share) = (none(), none(), Share::unknown());
            row.largest_regret = f64::INFINITY;
        }
        for pair in &mut courses.comparison.pairs {
            pair.standard_error = Some(f64::NAN);
            pair.percentiles.clear();
        }
        courses.base.clear();
        courses.along[0].flips[0].to = 99;
        let information = &mut answers.knowing.as_mut().unwrap().information;
        (information.evpi, information.floor) = (none(), f64::NAN);
        for row in &mut information.rows {
            (row.raw, row.standard_error) = (f64::NEG_INFINITY, Some(f64::INFINITY));
            row.share_of_evpi = f64::NAN;
        }
        let drivers = answers.drivers.as_mut().unwrap();
        drivers.sensitivity.r_squared = Some(f64::NAN);
        (drivers.tenths.rows[0].low.from, drivers.tenths.rows[0].difference) = (f64::NAN, Some(f64::NAN));
        let failing = answers.failing.as_mut().unwrap();
        failing.conditions.boxes.clear();
        failing.conditions.trajectory.clear();
        failing.conditions.share_failing = Share::unknown();
        answers.claim.as_mut().unwrap().all = Share::unknown();

        let files = tables(&answers).unwrap();
        assert!(!files.iter().any(|(name, _)| name == "conditions_path.csv"));
        assert_eq!(Table::of(&answers, "conditions.csv").column("row"), ["all runs", "note"]);
        let table = Table::of(&answers, "alternatives.csv");
        assert_eq!(table.len(), 3);
        for heading in ["base case", "mean", "largest regret of any run", "share of runs in which it is best"]
        {
            assert_eq!(table.column(heading), [""; 3], "{heading}");
        }
        for (name, bytes) in files {
            for text in read(&bytes).into_iter().flatten() {
                assert!(
                    text.parse::<f64>().is_ok_and(f64::is_finite) || text.parse::<f64>().is_err(),
                    "{name}: {text}"
                );
            }
        }
    }

    #[test]
    fn no_label_becomes_a_formula_and_no_figure_is_unreadable() {
        for (name, bytes) in tables(&answers()).unwrap() {
            for text in read(&bytes).into_iter().flatten() {
                let number = text.parse::<f64>();
                assert!(!text.starts_with(['=', '+', '-', '@']) || number.is_ok(), "{name}: {text:?}");
                assert!(number.is_err() || number.is_ok_and(f64::is_finite), "{name}: {text:?}");
            }
        }
    }

    #[test]
    fn nothing_asked_nothing_written() {
        assert!(tables(&fixture::answers()).unwrap().is_empty());
    }
}
