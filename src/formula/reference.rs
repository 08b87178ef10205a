//! The reference pages, written from the tables.

use std::fmt::Write;

use super::functions::{Function, TABLE};
use crate::units::UnitTable;

/// All functions as plain text for the terminal.
pub fn functions_text() -> String {
    let mut out = String::new();
    for family in &TABLE {
        let _ = writeln!(out, "{}\n", family.heading);
        for f in family.functions {
            let _ = writeln!(out, "  {}\n      {}", f.signature, f.summary);
            let _ = writeln!(out, "      {} = {}", f.example, f.expected);
            if !f.source.is_empty() {
                let _ = writeln!(out, "      source: {}", f.source);
            }
            out.push('\n');
        }
    }
    out
}

/// One function as plain text.
pub fn function_text(f: &Function) -> String {
    let source = if f.source.is_empty() { String::new() } else { format!("source: {}\n", f.source) };
    format!("{}\n{}\nexample: {} = {}\n{source}", f.signature, f.summary, f.example, f.expected)
}

/// All functions as Markdown.
pub fn functions_markdown() -> String {
    let mut out = "# Functions\n\nExamples are for a horizon of five years.\n".to_owned();
    for family in &TABLE {
        let _ = write!(
            out,
            "\n## {}\n\n| function | what it gives | example | source |\n|---|---|---|---|\n",
            family.heading
        );
        for f in family.functions {
            let _ = writeln!(
                out,
                "| `{}` | {} | `{}` = {} | {} |",
                f.signature, f.summary, f.example, f.expected, f.source
            );
        }
    }
    out
}

/// The table of units as plain text for the terminal.
pub fn units_text(units: &UnitTable) -> String {
    let lines = units.lines();
    let width = |f: fn(&crate::units::UnitLine) -> &str| lines.iter().map(|l| f(l).len()).max().unwrap_or(0);
    let (name, what, dimension) = (width(|l| &l.name), width(|l| &l.what), width(|l| &l.dimension));
    let mut out = String::new();
    for l in &lines {
        let row = format!("{:name$}  {:what$}  {:dimension$}  {}", l.name, l.what, l.dimension, l.size);
        let _ = writeln!(out, "{}", row.trim_end());
    }
    out.push_str("\nCompound units: EUR/kWh, L/person/day, kJ/kg/K, kWh/(kWp yr), m2 or m^2, 1/yr; a/b/c is a/(b c).\n");
    out
}

/// The table of units as Markdown.
pub fn units_markdown(units: &UnitTable) -> String {
    let mut out = "# Units\n\n| unit | what | measures | size |\n|---|---|---|---|\n".to_owned();
    for l in units.lines() {
        let _ = writeln!(out, "| `{}` | {} | {} | {} |", l.name, l.what, l.dimension, l.size);
    }
    out
}
