//! The first sheet: what the workbook is, how to read it, and what it is made from.

use rust_xlsxwriter::XlsxError;

use super::formulas::Formulas;
use super::places::Page;
use super::text::cell_text;
use crate::report::manifest::{Made, Manifest};
use crate::report::material::Material;

impl Formulas<'_> {
    pub(super) fn about(&mut self, material: &Material<'_>) -> Result<(), XlsxError> {
        let page = Page::About;
        let (title, strong) = (self.grid.looks.title.clone(), self.grid.looks.result.clone());
        let wrapped = self.grid.looks.wrapped.clone();
        self.grid.text_as(page, 0, 0, &self.model.title, &title)?;
        if let Some(question) = &self.model.question {
            self.grid.text_as(page, 1, 0, question, &strong)?;
        }
        let mut row = 3;
        for (head, lines) in [
            ("How to read it", self.how_to_read()),
            ("What it is made from", made_from(material)),
            ("Constants in the place of formulas", self.constants_in_words()),
            ("Cautions", cautions(material)),
        ] {
            if lines.is_empty() {
                continue;
            }
            self.grid.text_as(page, row, 0, head, &strong)?;
            for (what, text) in lines {
                row += 1;
                self.grid.text_as(page, row, 0, &what, &wrapped)?;
                self.grid.text_as(page, row, 1, &text, &wrapped)?;
            }
            row += 2;
        }
        Ok(())
    }

    fn how_to_read(&self) -> Vec<(String, String)> {
        let live = format!(
            "{} formulas. Change a yellow base value on \"Inputs\" and the base case moves, down to \"Results\".",
            self.grid.live
        );
        let lines = [
            ("Inputs", "What goes in, with its source. Yellow cells may be changed."),
            (
                "Workings",
                "Each named formula of the study: its value, or on which sheet its values by month or year stand.",
            ),
            (
                "Years, Months, Months by year",
                "Values by year and month, each a formula. Rows in italics are parts of longer formulas.",
            ),
            ("Cash", "Behind each payback, present value and rate of return: cash period by period."),
            ("Results", "The base case as a formula; beside it, as constants, what the runs say."),
            (
                "Run statistics, Charts",
                "What the runs say, with 95 % intervals. Constants: they do not follow changed inputs.",
            ),
            (
                "Units",
                "Cells are in the unit beside them. Formulas bring units together by factors such as *0.01 for ct in EUR.",
            ),
            (
                "never",
                "A payback that is not reached within the horizon. The word counts as greater than every number.",
            ),
        ];
        let mut lines: Vec<(String, String)> = lines.map(|(a, b)| (a.to_owned(), b.to_owned())).to_vec();
        lines.insert(0, ("Live".into(), live));
        lines.retain(|(what, _)| what != "Cash" || self.grid.has_rows(Page::Cash));
        lines
    }

    fn constants_in_words(&self) -> Vec<(String, String)> {
        let given = self.model.inputs.iter().filter(|i| i.given().is_some());
        let given =
            given.map(|i| format!("{} (its base value hangs on other inputs; here it stays)", i.about.name));
        let all: Vec<String> = self.constants.iter().cloned().chain(given).collect();
        let count = all.len();
        if count == 0 {
            return vec![("0".into(), "Every working and result is a formula.".into())];
        }
        all.into_iter().enumerate().map(|(k, text)| (format!("{} of {count}", k + 1), text)).collect()
    }
}

fn made_from(material: &Material<'_>) -> Vec<(String, String)> {
    let sampling = &material.answers.sampling;
    let text = material.study_text.as_bytes();
    let mut manifest = Manifest::new(material.study_file, text, Made::default(), sampling);
    for data in &material.model.data {
        manifest.read(&data.file, &data.bytes);
    }
    let money = format!("{}, {} prices", material.model.currency, material.answers.study.prices);
    let horizon = format!("{} years from {}", material.model.years, material.model.first_year);
    let mut lines = vec![
        ("Money".to_owned(), money),
        ("Horizon".into(), horizon),
        ("Runs".into(), sampling.runs.to_string()),
        ("Method".into(), sampling.method.clone()),
        ("Seed".into(), sampling.seed.to_string()),
        ("payspread".into(), format!("{}, engine {}", manifest.payspread, manifest.engine)),
        (format!("SHA-256 of {}", manifest.study.file), manifest.study.sha256.clone()),
    ];
    lines.extend(manifest.data.iter().map(|d| (format!("SHA-256 of {}", d.file), d.sha256.clone())));
    lines
}

fn cautions(material: &Material<'_>) -> Vec<(String, String)> {
    let of_study = material.model.cautions.iter().map(|c| c.message.clone());
    let all = of_study.chain(material.answers.remarks.iter().cloned());
    all.map(|text| (String::new(), cell_text(&text))).collect()
}
