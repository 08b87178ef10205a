//! Writing a distribution into an input of a study's text, all else left as it is.

use toml_edit::{InlineTable, Item, Table, Value};

use super::written::{edited, number, set};
use crate::sampling::distributions::catalogue::KINDS;

/// What an input is to say.
#[derive(Debug, Clone, PartialEq)]
pub struct InputRow<'a> {
    /// Its name.
    pub name: &'a str,
    /// Plain name, for an input that is new.
    pub label: &'a str,
    /// Unit, for an input that is new; "" for none.
    pub unit: &'a str,
    /// Kind of its distribution.
    pub kind: &'a str,
    /// Parameters of it.
    pub parameters: &'a [(&'a str, f64)],
    /// Base value.
    pub base: f64,
    /// Where the figure comes from.
    pub source: &'a str,
}

/// Keys that say what value an input has, beside the kinds of distributions.
const OTHER_VALUES: [&str; 6] = ["value", "monthly", "labels", "choice", "truncate", "weights"];

/// The study's text with the row in the place of what the input said of its value, base, source and date; a new input is
/// appended to `[inputs]`. None when the text is no TOML or `[inputs]` no table.
pub fn with_input(text: &str, row: &InputRow<'_>) -> Option<String> {
    edited(text, |document| {
        let inputs = document.entry("inputs").or_insert_with(implicit).as_table_mut()?;
        match inputs.get_mut(row.name) {
            Some(Item::Table(there)) => replace(there, row),
            Some(_) => return None,
            None => {
                let mut table = Table::new();
                table.decor_mut().set_prefix("\n");
                table.insert("label", row.label.into());
                if !row.unit.is_empty() {
                    table.insert("unit", row.unit.into());
                }
                replace(&mut table, row);
                inputs.insert(row.name, Item::Table(table));
            }
        }
        Some(())
    })
}

fn implicit() -> Item {
    let mut table = Table::new();
    table.set_implicit(true);
    Item::Table(table)
}

fn replace(table: &mut Table, row: &InputRow<'_>) {
    let kinds = KINDS.iter().map(|kind| kind.name);
    let old: Vec<&str> =
        kinds.chain(OTHER_VALUES).filter(|key| *key != row.kind && table.contains_key(key)).collect();
    // The new value stands where the old one stood.
    let order: Vec<String> = table.iter().map(|(key, _)| key.to_owned()).collect();
    let place = old.first().and_then(|key| order.iter().position(|k| k == key)).unwrap_or(order.len());
    // Where signs of equality stand below each other they stay so.
    let blanks = |key: &str| table.key(key)?.leaf_decor().suffix()?.as_str().map(str::len);
    let aligned = order.iter().any(|key| blanks(key).is_some_and(|n| n > 1));
    let width = old.first().filter(|_| aligned).map(|key| key.len() + blanks(key).unwrap_or(1));
    for key in &old {
        table.remove(key);
    }
    let mut parameters = InlineTable::new();
    for (key, value) in row.parameters {
        parameters.insert(*key, number(*value));
    }
    set(table, row.kind, Value::InlineTable(parameters));
    set(table, "base", number(row.base));
    set(table, "source", row.source.into());
    // The date of the old figure is none of the new one's.
    table.remove("as_of");
    if let (Some(width), Some(mut key)) = (width, table.key_mut(row.kind)) {
        key.leaf_decor_mut().set_suffix(" ".repeat(width.saturating_sub(row.kind.len()).max(1)));
    }
    let rank = |key: &str| match order.iter().position(|k| k == key) {
        Some(at) => (at, 1),
        None if key == row.kind => (place, 0),
        None if key == "base" => (place, 2),
        None => (order.len(), 3),
    };
    table.sort_values_by(|a, _, b, _| rank(a.get()).cmp(&rank(b.get())));
}

#[cfg(test)]
mod tests {
    use super::*;

    const ROW: InputRow<'static> = InputRow {
        name: "displaced",
        label: "Heat saved",
        unit: "",
        kind: "beta",
        parameters: &[("mean", 0.92), ("sd", 0.02)],
        base: 0.93,
        source: "simulated",
    };

    #[test]
    fn the_value_changes_and_remarks_stay() {
        let text = "# head\n[inputs.displaced] # what matters\nlabel = \"Heat\"   # mine\ntriangular = { min = 0.7, mode = 0.8, max = 0.9 }\nbase = 0.8 # once\nsource = \"guess\"\n\n# tail\n[inputs.other]\nvalue = 1\n";
        let written = with_input(text, &ROW).unwrap();
        assert_eq!(
            written,
            "# head\n[inputs.displaced] # what matters\nlabel = \"Heat\"   # mine\nbeta = { mean = 0.92, sd = 0.02 }\nbase = 0.93 # once\nsource = \"simulated\"\n\n# tail\n[inputs.other]\nvalue = 1\n"
        );
    }

    #[test]
    fn a_new_input_is_appended() {
        let written = with_input("title = \"t\"\n[inputs.other]\nvalue = 1\n", &ROW).unwrap();
        assert!(
            written.contains("[inputs.displaced]\nlabel = \"Heat saved\"\nbeta = { mean = 0.92, sd = 0.02 }"),
            "{written}"
        );
        assert!(written.contains("[inputs.other]\nvalue = 1\n"));
    }

    #[test]
    fn line_ends_stay_those_of_the_file() {
        let written = with_input("[inputs.displaced]\r\nvalue = 1\r\n", &ROW).unwrap();
        assert_eq!(written.matches("\r\n").count(), written.matches('\n').count());
    }

    #[test]
    fn what_is_no_study_is_left_alone() {
        assert_eq!(with_input("inputs = 3", &ROW), None);
        assert_eq!(with_input("[inputs", &ROW), None);
        assert_eq!(with_input("[inputs]\ndisplaced = { value = 1 }\n", &ROW), None);
    }
}
