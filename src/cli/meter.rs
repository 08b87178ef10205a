//! `meter`: what a file of meter readings holds.

use std::fs;
use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};
use serde::Serialize;

use super::failure::Failure;
use super::files::OutputFolder;
use super::numbers::columns;
use super::terminal::{Terminal, speaks_utf8};
use crate::chart::{self, MapWords, year_map};
use crate::hotwater::readings::told::WORDS;
use crate::hotwater::readings::{
    self, BeforeEquipment, CouldTake, Found, Kind, Options, Readings, SummerHeat, could_take,
    heat_from_summer_gas,
};
use crate::report::inputs::Page;
use crate::report::meter::{Cylinder, SummerGas, text};
use crate::report::numbers::{clean, grouped, percent_of};

/// Largest file that is read.
const MOST_BYTES: u64 = 64 * 1024 * 1024;

/// Show what a file of meter readings holds: span, gaps, months, what a cylinder could take of the export
#[derive(Debug, Args)]
#[command(after_help = options_help())]
pub(super) struct Meter {
    /// File of readings (CSV)
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// How to read what the file does not say itself, such as export="to grid"; several times
    #[arg(long = "as", value_name = "OPTION=VALUE", value_parser = option)]
    options: Vec<(String, String)>,
    /// Whether the readings were made before a surplus controller was fitted
    #[arg(long, value_enum, value_name = "YES|NO")]
    before_equipment: Option<Before>,
    /// Electricity that warms the cylinder from cold to hot, kWh a day
    #[arg(long, value_name = "KWH", default_value_t = 6.5, value_parser = positive)]
    room: f64,
    /// Rating of the element, kW
    #[arg(long, value_name = "KW", default_value_t = 2.75, value_parser = positive)]
    element: f64,
    /// Power that a controller leaves flowing out, W
    #[arg(long, value_name = "W", default_value_t = 60.0, value_parser = not_below)]
    threshold: f64,
    /// Efficiency of the boiler in summer, for the heat in the gas
    #[arg(long, value_name = "SHARE", default_value_t = 0.73, value_parser = share)]
    boiler_efficiency: f64,
    /// Summer is December to February
    #[arg(long)]
    southern: bool,
    /// What is printed
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
    /// Folder for the heat-maps of the year [default: none is drawn]; they show when nobody is at home
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Columns that the text keeps to, 72 to 400
    #[arg(long, value_name = "N", value_parser = columns, default_value_t = 100)]
    width: usize,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Before {
    /// Before it was fitted
    Yes,
    /// After it was fitted
    No,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Format {
    /// For people
    Text,
    /// Everything found, for machines
    Json,
}

/// The report as JSON.
#[derive(Serialize)]
struct Report<'a> {
    format: u32,
    found: &'a Found,
    could_take: Option<CouldTake>,
    summer_heat: Option<SummerHeat>,
}

impl Meter {
    pub(super) fn execute(&self, terminal: &Terminal) -> Result<(), Failure> {
        let options = self.options()?;
        let bytes = bytes(&self.file)?;
        let read = readings::read(&bytes, &options).map_err(|error| self.unreadable(&error))?;
        let folder = self.out.as_deref().map(OutputFolder::open).transpose()?;
        let take = could_take(&read, self.room, self.element, self.threshold);
        let heat = heat_from_summer_gas(&read, self.boiler_efficiency, self.southern);
        terminal.say(&match self.format {
            Format::Text => self.page(&read, take, heat),
            Format::Json => {
                let report = Report { format: 1, found: &read.found, could_take: take, summer_heat: heat };
                let json = serde_json::to_string_pretty(&report);
                json.map_err(|e| Failure::Machine(format!("cannot write the report: {e}")))? + "\n"
            }
        })?;
        if let Some(folder) = folder {
            self.draw(&read, &folder)?;
            if self.format == Format::Text {
                terminal.say(&format!("Heat-maps: {}\n", clean(&folder.path().to_string_lossy())))?;
            }
        }
        Ok(())
    }

    fn page(&self, read: &Readings, take: Option<CouldTake>, heat: Option<SummerHeat>) -> String {
        let (room_kwh, element_kw, threshold_w) = (self.room, self.element, self.threshold);
        let cylinder = take.map(|take| Cylinder { room_kwh, element_kw, threshold_w, take });
        let gas = heat.map(|heat| SummerGas { efficiency: self.boiler_efficiency, heat });
        let title = format!("Meter readings: {}", self.name());
        let page = Page { width: self.width, blocks: speaks_utf8() };
        text(&title, &read.found, cylinder.as_ref(), gas.as_ref(), page)
    }

    fn name(&self) -> String {
        self.file.file_name().map_or_else(String::new, |name| clean(&name.to_string_lossy()))
    }

    fn options(&self) -> Result<Options, Failure> {
        let before_equipment = match self.before_equipment {
            None => BeforeEquipment::Unknown,
            Some(Before::Yes) => BeforeEquipment::Yes,
            Some(Before::No) => BeforeEquipment::No,
        };
        let mut options = Options { before_equipment, ..Options::default() };
        for (word, value) in &self.options {
            options.tell(word, value).map_err(|hint| Failure::Usage {
                message: format!("--as {}={} says nothing", clean(word), clean(value)),
                hint,
            })?;
        }
        Ok(options)
    }

    fn unreadable(&self, error: &readings::ReadingsError) -> Failure {
        let line = error.line.map_or_else(String::new, |line| format!(":{line}"));
        Failure::Data {
            message: format!("{}{line}: {}", self.name(), clean(&error.what)),
            hint: clean(&error.right),
        }
    }

    /// Heat-maps of what is known.
    fn draw(&self, read: &Readings, folder: &OutputFolder) -> Result<(), Failure> {
        let failed = |e: chart::ChartError| Failure::Machine(e.to_string());
        let kinds = [
            (Kind::Export, "export", "Sent to the grid"),
            (Kind::Import, "import", "Taken from the grid"),
            (Kind::Generation, "generation", "Made by the panels"),
        ];
        for (kind, name, quantity) in kinds {
            let Some(map) = read.year_map(kind) else { continue };
            let known: f64 = map.values.iter().filter(|v| v.is_finite()).sum();
            let dark = map.values.iter().filter(|v| v.is_finite()).count().max(1) as f64;
            let flowing = map.values.iter().filter(|v| **v > 0.005).count() as f64 / dark;
            let words = MapWords {
                name: format!("readings-{name}"),
                title: format!("{}: {}", self.name(), quantity.to_lowercase()),
                finding: format!(
                    "{} kWh {} in the time shown, in {} of its half hours",
                    grouped(known, 0),
                    quantity.to_lowercase(),
                    percent_of(flowing)
                ),
                quantity: quantity.to_owned(),
                note: "Made from the readings; it shows when nobody is at home.".to_owned(),
            };
            let chart = year_map(&map, &words).map_err(failed)?;
            folder.write(&format!("{}.svg", chart.name), chart::standalone(&chart).as_bytes())?;
            folder.write(&format!("{}.png", chart.name), &chart::png(&chart).map_err(failed)?)?;
        }
        Ok(())
    }
}

/// The file's bytes, unless there are too many.
pub(super) fn bytes(path: &Path) -> Result<Vec<u8>, Failure> {
    let failed = |error: &std::io::Error| Failure::at_file("cannot read", path, error);
    let size = fs::metadata(path).map_err(|e| failed(&e))?;
    if !size.is_file() || size.len() > MOST_BYTES {
        return Err(Failure::Data {
            message: format!("{} is no file of at most 64 MB", clean(&path.to_string_lossy())),
            hint: "give a file of readings as CSV; a longer span can be split by years".to_owned(),
        });
    }
    fs::read(path).map_err(|e| failed(&e))
}

fn options_help() -> String {
    let mut help = "Options of --as:\n".to_owned();
    for (word, what) in WORDS {
        help.push_str(&format!("  {word:<15} {what}\n"));
    }
    help + "\nExamples:\n  payspread meter readings.csv --before-equipment yes\n  payspread meter readings.csv --as export=\"to grid\" --as unit=kW --out pictures"
}

fn option(text: &str) -> Result<(String, String), String> {
    let (word, value) = text.split_once('=').ok_or("write it as OPTION=VALUE, such as unit=kW")?;
    Ok((word.trim().to_owned(), value.trim().to_owned()))
}

fn number(text: &str, right: &str, check: impl Fn(f64) -> bool) -> Result<f64, String> {
    text.trim().parse::<f64>().ok().filter(|x| x.is_finite() && check(*x)).ok_or_else(|| right.to_owned())
}

fn positive(text: &str) -> Result<f64, String> {
    number(text, "it must be a number above 0", |x| x > 0.0 && x < 1.0e9)
}

fn not_below(text: &str) -> Result<f64, String> {
    number(text, "it must be a number not below 0", |x| (0.0..1.0e9).contains(&x))
}

fn share(text: &str) -> Result<f64, String> {
    number(text, "it must be a share above 0, at most 1.1", |x| x > 0.0 && x <= 1.1)
}
