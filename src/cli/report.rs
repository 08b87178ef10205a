//! `report`: what people hand on, in the forms that they ask for.

use std::path::PathBuf;

use clap::Args;

use super::delivered::{self, Asked, Delivery};
use super::failure::Failure;
use super::files::OutputFolder;
use super::opened::Opened;
use super::options::{General, Sampling, StudyFile};
use super::run::pool;
use super::terminal::Terminal;
use super::timings::Timings;
use super::{appraised, browser, progress};
use crate::report::delivery::Kind;
use crate::report::numbers::clean;
use crate::report::terminal::headline;

/// Name of the form that a browser prints; it is not in the manifest, since a browser writes the time into it.
const PDF: &str = "pdf";

/// Write the report of a study: HTML, word-processor document, PDF
#[derive(Debug, Args)]
pub(super) struct Report {
    #[command(flatten)]
    study: StudyFile,
    /// Forms, with commas between them: html, docx, pdf, workbook, slides, charts, tables, answers, runs
    #[arg(long = "as", value_name = "FORMS", default_value = "html")]
    forms: String,
    #[command(flatten)]
    sampling: Sampling,
    /// Folder for the files [default: output/, the study's name and -report]
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Also what takes many more evaluations: global indices, and Shapley effects of what is correlated
    #[arg(long)]
    all: bool,
    /// Browser that prints the PDF [default: the first of the Chromium family that is found]
    #[arg(long, value_name = "PATH")]
    browser: Option<PathBuf>,
    /// Print where the time goes, to standard error
    #[arg(long)]
    timings: bool,
}

/// What is to be made.
struct Forms {
    kinds: Vec<Kind>,
    html_is_asked: bool,
    pdf: bool,
}

impl Report {
    pub(super) fn execute(&self, general: &General, terminal: &Terminal) -> Result<(), Failure> {
        let forms = forms(&self.forms)?;
        let mut timings = Timings::start();
        let opened = Opened::read_and_tell(&self.study.study, terminal, &mut timings)?;
        let asked =
            Asked { study: &self.study.study, sampling: &self.sampling, all: self.all, with_data: false };
        let folder = delivered::folder(&self.folder(), &asked, &opened)?;
        let pool = pool(general.threads)?;
        let control = progress::interruptible();
        let how = (&self.sampling, self.all);
        let answers = appraised::answers(&opened, how, (general, terminal), &pool, &control)?;
        timings.lap("draw, evaluate, analyse");
        // The answer comes before the files: a full disk must not swallow it.
        terminal.say(&headline(&answers))?;
        let delivery =
            pool.install(|| delivered::files(&forms.kinds, &asked, &opened, &answers, &control))?;
        timings.lap("make the files");
        let written = delivered::write_beside_edited(&folder, &delivery)?;
        timings.lap("write");
        terminal.say(&listed(&folder, &written, &delivery))?;
        if forms.pdf {
            self.print(&folder, forms.html_is_asked, terminal)?;
            timings.lap("print");
        }
        if self.timings {
            terminal.complain(&timings.text());
        }
        Ok(())
    }

    fn folder(&self) -> PathBuf {
        // A folder of its own: `run` and `report` each vouch for what lies in theirs.
        let named =
            || PathBuf::from("output").join(format!("{}-report", self.study.stem().unwrap_or_default()));
        self.out.clone().unwrap_or_else(named)
    }

    /// The PDF; without a browser the page is there, and it is told how to print it.
    fn print(&self, folder: &OutputFolder, html_is_asked: bool, terminal: &Terminal) -> Result<(), Failure> {
        let (html, pdf) = (folder.path().join("report.html"), folder.path().join("report.pdf"));
        match browser::print(self.browser.as_deref(), &html, &pdf) {
            Ok(()) => terminal.say(&format!("  {}\n", clean(&pdf.to_string_lossy()))),
            Err(why) => {
                let said = format!("{why}: {}", browser::by_hand(&html));
                if !html_is_asked {
                    return Err(Failure::Machine(said));
                }
                terminal.complain(&format!("no PDF: {said}\n"));
                Ok(())
            }
        }
    }
}

/// The forms of a list with commas. A PDF is printed from the page, so the page is made too.
fn forms(list: &str) -> Result<Forms, Failure> {
    let mut forms = Forms { kinds: Vec::new(), html_is_asked: false, pdf: false };
    for name in list.split(',').map(str::trim) {
        match Kind::of(name) {
            Some(kind) => forms.kinds.push(kind),
            None if name == PDF => forms.pdf = true,
            None => return Err(unknown(name)),
        }
    }
    forms.html_is_asked = forms.kinds.contains(&Kind::Html);
    if forms.pdf {
        forms.kinds.push(Kind::Html);
    }
    forms.kinds.sort_unstable();
    forms.kinds.dedup();
    Ok(forms)
}

fn unknown(name: &str) -> Failure {
    let known: Vec<&str> = Kind::ALL.into_iter().map(Kind::name).chain([PDF]).collect();
    let shown: String = clean(name).chars().take(60).collect();
    Failure::Usage {
        message: format!("there is no form \"{shown}\" of a report"),
        hint: format!("--as takes {}, with commas between them", known.join(", ")),
    }
}

fn listed(folder: &OutputFolder, written: &[(String, String)], delivery: &Delivery) -> String {
    let shown = |name: &str| clean(&folder.path().join(name).to_string_lossy());
    let mut text = String::from("Files:\n");
    for (name, as_name) in written {
        text.push_str(&format!("  {}\n", shown(as_name)));
        if name != as_name {
            text.push_str(&format!("    {} was edited by somebody and stays as it is\n", shown(name)));
        }
    }
    for (name, _) in &delivery.copies {
        text.push_str(&format!("  {}\n", shown(name)));
    }
    text
}
