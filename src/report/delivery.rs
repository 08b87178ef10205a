//! What can be handed on, each kind as files. A folder is made of some of them; [`Kind::name`] is how the command line
//! and the manifest call them.

use rayon::prelude::*;

use super::material::{File, Material};
use crate::chart::{self, Chart};

/// A kind of thing that can be handed on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Kind {
    /// Each chart as SVG and PNG.
    Charts,
    /// Each table as CSV.
    Tables,
    /// All answers as JSON.
    Answers,
    /// The report as one page of HTML.
    Html,
    /// The report for a word processor.
    Docx,
    /// The study as a workbook with live formulas.
    Workbook,
    /// Every run by itself, as Parquet.
    Runs,
}

impl Kind {
    /// All of them.
    pub const ALL: [Kind; 7] =
        [Kind::Charts, Kind::Tables, Kind::Answers, Kind::Html, Kind::Docx, Kind::Workbook, Kind::Runs];

    /// Its name on the command line and in the manifest.
    pub fn name(self) -> &'static str {
        match self {
            Kind::Charts => "charts",
            Kind::Tables => "tables",
            Kind::Answers => "answers",
            Kind::Html => "html",
            Kind::Docx => "docx",
            Kind::Workbook => "workbook",
            Kind::Runs => "runs",
        }
    }

    /// The kind of this name.
    pub fn of(name: &str) -> Option<Kind> {
        Kind::ALL.into_iter().find(|kind| kind.name() == name)
    }
}

/// Why a file could not be made: a fault of ours.
#[derive(Debug)]
pub struct DeliveryError(pub String);

impl std::fmt::Display for DeliveryError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.0)
    }
}

/// The files of one kind. `go_on` is asked between pieces of work; at its no nothing is made.
///
/// # Errors
/// A fault of ours; never because of what the study says.
pub fn files(
    kind: Kind,
    material: &Material<'_>,
    go_on: &(dyn Fn() -> bool + Sync),
) -> Result<Vec<File>, DeliveryError> {
    let error = |e: &dyn std::fmt::Display| DeliveryError(e.to_string());
    let report = || super::pages::document(material);
    match kind {
        Kind::Charts => {
            let drawn = material.charts.par_iter().map(|chart| pictures(chart, go_on));
            let drawn: Vec<[File; 2]> = drawn.collect::<Result<_, _>>()?;
            Ok(drawn.into_iter().flatten().collect())
        }
        Kind::Tables => super::tables::tables(material.answers).map_err(|e| error(&e)),
        Kind::Answers => {
            let json = super::json::answers(material.answers).map_err(|e| error(&e))?;
            Ok(vec![("answers.json".into(), json.into_bytes())])
        }
        Kind::Html => Ok(vec![("report.html".into(), super::html::html(&report()).into_bytes())]),
        Kind::Docx => {
            let bytes = super::docx::docx(&report()).map_err(|e| error(&e.0))?;
            Ok(vec![("report.docx".into(), bytes)])
        }
        Kind::Workbook => {
            let bytes = super::workbook::workbook(material).map_err(|e| error(&e.0))?;
            Ok(vec![("workbook.xlsx".into(), bytes)])
        }
        Kind::Runs => {
            let bytes = super::runs::runs(material, go_on).map_err(|e| error(&e.0))?;
            Ok(vec![(super::runs::FILE.into(), bytes)])
        }
    }
}

/// A chart as SVG and as PNG.
fn pictures(chart: &Chart, go_on: &(dyn Fn() -> bool + Sync)) -> Result<[File; 2], DeliveryError> {
    if !go_on() {
        return Err(DeliveryError("stopped".into()));
    }
    let png = chart::png(chart).map_err(|e| DeliveryError(e.to_string()))?;
    let svg = chart::standalone(chart).into_bytes();
    Ok([(format!("{}.svg", chart.name), svg), (format!("{}.png", chart.name), png)])
}
