use super::*;

const STUDY: &str = "\
# A study of our own.
title = \"T\"   # what it is called

[sampling]
runs = 64

# The household.

# How many live here.
[inputs.people]
label  = \"People\"   # you too
unit   = \"person\"
value  = 3          # counted

[inputs.outlay]
unit       = \"EUR\"
pert       = { min = 370, mode = 560, max = 890 }   # the offers
base       = 560
note       = \"kept\"

[paths.gas]
unit  = \"EUR/kWh\"
start = { pert = { min = 0.09, mode = 0.112, max = 0.14 } }
base  = 0.112

[inputs.rate]
choice = [0.02, 0.04]
base   = 0.04

# What is saved.
[workings.saving]
unit    = \"EUR\"
formula = \"people * outlay\"  # simple

[results.gain]
formula = \"saving - outlay\"
at_least = 0
# The end.
";

fn set(row: &str, field: &str, value: &str) -> Edit {
    Edit::Set { row: row.into(), field: field.into(), value: value.into() }
}

fn done(edit: Edit) -> String {
    apply(STUDY, &[edit]).unwrap()
}

/// Lines of `before` that are not in `after`, and the other way round, each in order.
fn changed(before: &str, after: &str) -> (Vec<String>, Vec<String>) {
    let only = |one: &str, other: &str| {
        let mut others: Vec<&str> = other.lines().collect();
        let mut own = Vec::new();
        for line in one.lines() {
            match others.iter().position(|other| *other == line) {
                Some(at) => drop(others.remove(at)),
                None => own.push(line.to_owned()),
            }
        }
        own
    };
    (only(before, after), only(after, before))
}

#[test]
fn a_field_changes_its_line_and_no_other() {
    for (edit, old, new) in [
        (set("inputs.people", "base", "4"), "value  = 3          # counted", "value  = 4          # counted"),
        (
            set("inputs.people", "label", "Who lives here"),
            "label  = \"People\"   # you too",
            "label  = \"Who lives here\"   # you too",
        ),
        (set("inputs.outlay", "base", "580,5"), "base       = 560", "base       = 580.5"),
        (
            set("inputs.outlay", "parameter.mode", "600"),
            "pert       = { min = 370, mode = 560, max = 890 }   # the offers",
            "pert       = { min = 370, mode = 600, max = 890 }   # the offers",
        ),
        (
            set("inputs.outlay", "given", "pert = { min = 370, mode = 560, max = 1000 }"),
            "pert       = { min = 370, mode = 560, max = 890 }   # the offers",
            "pert       = { min = 370, mode = 560, max = 1000 }   # the offers",
        ),
        (
            set("paths.gas", "parameter.max", "0.15"),
            "start = { pert = { min = 0.09, mode = 0.112, max = 0.14 } }",
            "start = { pert = { min = 0.09, mode = 0.112, max = 0.15 } }",
        ),
        (set("inputs.rate", "base", "0.02"), "base   = 0.04", "base   = 0.02"),
        (
            set("workings.saving", "formula", "people * 2"),
            "formula = \"people * outlay\"  # simple",
            "formula = \"people * 2\"  # simple",
        ),
        // A wrong formula is a text all the same: its fault is told where it is.
        (
            set("results.gain", "formula", "saving -"),
            "formula = \"saving - outlay\"",
            "formula = \"saving -\"",
        ),
    ] {
        let after = done(edit.clone());
        assert_eq!(changed(STUDY, &after), (vec![old.to_owned()], vec![new.to_owned()]), "{edit:?}");
    }
}

#[test]
fn what_is_there_already_changes_no_byte() {
    for edit in [
        set("inputs.people", "base", "3.0"),
        set("inputs.people", "label", " People "),
        set("inputs.outlay", "parameter.max", "890"),
        set("inputs.outlay", "given", "pert = { min = 370, mode = 560, max = 890 }"),
        set("workings.saving", "formula", "people * outlay"),
        set("inputs.people", "source", ""),
    ] {
        assert_eq!(done(edit.clone()), STUDY, "{edit:?}");
    }
}

#[test]
fn another_kind_stands_where_the_old_one_stood() {
    let after = done(set("inputs.outlay", "given", "triangular = { min = 1, mode = 2, max = 3 }"));
    let at = after.find("triangular").unwrap();
    assert!(after.find("[inputs.outlay]").unwrap() < at && at < after.find("base       = 560").unwrap());
    assert!(!after[..after.find("[paths").unwrap()].contains("pert"));
    // A known value has no base beside it.
    let known = done(set("inputs.outlay", "given", "value = 500"));
    assert!(
        known.contains("value = 500")
            && !known.contains("base       = 560")
            && known.contains("note       = \"kept\"")
    );
}

#[test]
fn an_empty_text_takes_the_key_away_and_a_new_one_puts_it_there() {
    let without = done(set("inputs.outlay", "note", ""));
    assert_eq!(changed(STUDY, &without), (vec!["note       = \"kept\"".into()], vec![]));
    let path = done(set("paths.gas", "given", "uniform = { min = 0.1, max = 0.2 }"));
    let read: toml::Table = path.parse().unwrap();
    assert_eq!(read["paths"]["gas"]["start"]["uniform"]["max"].as_float(), Some(0.2));
    let named = done(set("inputs.outlay", "parameter.mode", "people"));
    assert!(named.contains("mode = \"people\""));
    let with = done(set("inputs.people", "source", "Counted \"by hand\"\n=1+1"));
    let (gone, new) = changed(STUDY, &with);
    assert!(gone.is_empty() && new.len() == 1, "{new:?}");
    let read: toml::Table = with.parse().unwrap();
    assert_eq!(read["inputs"]["people"]["source"].as_str(), Some("Counted \"by hand\" =1+1"));
}

#[test]
fn rows_come_and_go() {
    let edit = Edit::Add {
        section: "inputs".into(),
        after: Some("inputs.people".into()),
        name: "cats".into(),
        label: "Cats".into(),
    };
    let after = done(edit);
    let (gone, new) = changed(STUDY, &after);
    assert!(gone.is_empty());
    assert_eq!(new.iter().filter(|line| !line.is_empty()).count(), 3, "{new:?}");
    let at = |text: &str| after.find(text).unwrap();
    assert!(at("[inputs.people]") < at("[inputs.cats]") && at("[inputs.cats]") < at("[inputs.outlay]"));

    // The row goes with its own remark; what is set apart stays.
    let after = done(Edit::Delete { row: "inputs.people".into() });
    assert!(
        after.contains("# The household.")
            && !after.contains("How many live here")
            && !after.contains("people]")
    );
    assert!(after.find("# The household.").unwrap() < after.find("[inputs.outlay]").unwrap());
    let after = done(Edit::Delete { row: "results.gain".into() });
    assert!(after.ends_with("# The end.\n") && after.contains("# What is saved."));
}

#[test]
fn rows_move_with_their_remark() {
    let up = done(Edit::Move { row: "inputs.rate".into(), before: Some("inputs.people".into()) });
    assert_eq!(changed(STUDY, &up), (vec![], vec![]), "{up}");
    let at = |text: &str, of: &str| of.find(text).unwrap();
    // The remark that heads both stays above both.
    assert!(at("# The household.", &up) < at("[inputs.rate]", &up));
    assert!(at("[inputs.rate]", &up) < at("# How many live here.\n[inputs.people]", &up));
    // `[inputs.rate]` is the last of its section, behind a path.
    let down = done(Edit::Move { row: "inputs.people".into(), before: None });
    assert!(at("[inputs.rate]", &down) < at("# How many live here.\n[inputs.people]", &down));
    assert!(at("# The household.", &down) < at("[inputs.outlay]", &down));
    assert_eq!(changed(STUDY, &down), (vec![], vec![]), "{down}");
    // There and back.
    let back =
        apply(&down, &[Edit::Move { row: "inputs.people".into(), before: Some("inputs.outlay".into()) }])
            .unwrap();
    assert_eq!(back, STUDY);
}

#[test]
fn what_cannot_be_a_text_is_refused_with_what_would_be_right() {
    let add = |section: &str, name: &str| Edit::Add {
        section: section.into(),
        after: None,
        name: name.into(),
        label: String::new(),
    };
    for edit in [
        set("inputs.nobody", "base", "3"),
        set("sampling.runs", "base", "3"),
        set("inputs", "base", "3"),
        set("inputs.people", "base", "three"),
        set("inputs.people", "base", "1,800"),
        set("inputs.people", "colour", "blue"),
        set("inputs.people", "formula", "1"),
        set("inputs.people", "parameter.mode", "1"),
        set("inputs.rate", "base", "0.03"),
        set("paths.gas", "given", "choice = [1, 2]"),
        set("inputs.outlay", "parameter.nothing", "1"),
        set("inputs.outlay", "given", "pert = {"),
        set("inputs.outlay", "given", "pert = {}\nbase = 3"),
        set("inputs.outlay", "given", "statue = { min = 1 }"),
        set("inputs.outlay", "given", "[inputs.x]\nvalue = 1"),
        set("workings.saving", "base", "1"),
        set("inputs.people", "label", "a\u{0}b"),
        set("inputs.people", "name", "folk"),
        add("results", "x"),
        add("inputs", "people"),
        add("inputs", "saving"),
        add("inputs", "Not a name"),
        add("inputs", "1st"),
        add("inputs", ""),
        Edit::Move { row: "inputs.people".into(), before: Some("workings.saving".into()) },
        Edit::Move { row: "inputs.people".into(), before: Some("inputs.nobody".into()) },
        Edit::Delete { row: "workings.people".into() },
    ] {
        // The second of two: the first is not made either.
        let refused = apply(STUDY, &[set("inputs.people", "base", "9"), edit.clone()]).unwrap_err();
        assert_eq!(refused.edit, 1, "{edit:?}");
        assert!(!refused.message.is_empty() && refused.hint.is_some_and(|hint| !hint.is_empty()), "{edit:?}");
    }
    assert!(apply("not = toml = at all", &[set("inputs.people", "base", "9")]).is_err());
}

#[test]
fn line_ends_and_marks_stay() {
    let windows = format!("\u{feff}{}", STUDY.replace('\n', "\r\n"));
    let after = apply(&windows, &[set("inputs.people", "base", "4")]).unwrap();
    assert_eq!(after, windows.replace("value  = 3 ", "value  = 4 "));
}

#[test]
fn edits_as_the_page_sends_them() {
    let edit: Edit =
        serde_json::from_str(r#"{"op":"set","row":"inputs.people","field":"base","value":"3"}"#).unwrap();
    assert_eq!(edit, set("inputs.people", "base", "3"));
    for text in
        [r#"{"op":"move","row":"inputs.people","before":null}"#, r#"{"op":"delete","row":"inputs.people"}"#]
    {
        assert!(serde_json::from_str::<Edit>(text).is_ok(), "{text}");
    }
    for text in [
        r#"{"op":"burn","row":"inputs.people"}"#,
        r#"{"op":"delete","row":"a","force":true}"#,
        r#"{"op":"set"}"#,
    ] {
        assert!(serde_json::from_str::<Edit>(text).is_err(), "{text}");
    }
}
