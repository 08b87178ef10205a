//! What was found when a folder was made again: a line for each item, and one sentence.

use std::fmt::Write as _;

use serde::Serialize;

use super::agreement::RELATIVE;
use super::manifest_read::KeptManifest;
use super::numbers::clean;

/// What is said of an item.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// The same bytes.
    Same,
    /// Other bytes whose figures agree.
    Agrees,
    /// Something else is made now.
    Differs,
    /// It is not what was written then.
    Changed,
    /// It is not there.
    Missing,
    /// As it was, but it is not made again.
    NotMade,
    /// Not listed in the manifest.
    NotOurs,
}

impl Verdict {
    /// In words.
    fn words(self) -> &'static str {
        match self {
            Verdict::Same => "same bytes",
            Verdict::Agrees => "agrees",
            Verdict::Differs => "DIFFERS",
            Verdict::Changed => "CHANGED",
            Verdict::Missing => "MISSING",
            Verdict::NotMade => "not made again",
            Verdict::NotOurs => "not ours",
        }
    }

    /// Whether it speaks against the folder.
    fn is_apart(self) -> bool {
        matches!(self, Verdict::Differs | Verdict::Changed | Verdict::Missing)
    }
}

/// One thing that was looked at.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Item {
    /// "study", "data", "sampling" or "file".
    pub sort: &'static str,
    /// Its name.
    pub name: String,
    /// What is said of it.
    pub verdict: Verdict,
    /// How so; may be empty.
    pub how: String,
}

impl Item {
    /// With its name as text that can be printed.
    pub fn new(sort: &'static str, name: &str, verdict: Verdict, how: &str) -> Self {
        Item { sort, name: clean(name), verdict, how: clean(how) }
    }
}

/// Everything that was found.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Reproduced {
    /// Format number of this structure.
    pub format: u32,
    /// Version that made the folder.
    pub made_by: String,
    /// Engine that made it.
    pub engine_then: u32,
    /// Engine that makes it again.
    pub engine_now: u32,
    /// Kinds of things in the manifest that this version does not know.
    pub unknown_kinds: Vec<String>,
    /// Largest relative difference of figures that agree.
    pub tolerance: f64,
    /// Item by item.
    pub items: Vec<Item>,
}

impl Reproduced {
    /// Nothing looked at yet.
    pub fn new(kept: &KeptManifest) -> Self {
        Reproduced {
            format: 1,
            made_by: clean(&kept.payspread),
            engine_then: kept.engine,
            engine_now: crate::ENGINE_VERSION,
            unknown_kinds: kept.kinds().1.into_iter().map(clean).collect(),
            tolerance: RELATIVE,
            items: Vec::new(),
        }
    }

    /// Notes an item.
    pub fn add(&mut self, sort: &'static str, name: &str, verdict: Verdict, how: &str) {
        self.items.push(Item::new(sort, name, verdict, how));
    }

    /// How many items do not agree.
    pub fn apart(&self) -> usize {
        self.items.iter().filter(|item| item.verdict.is_apart()).count()
    }

    /// For machines.
    ///
    /// # Errors
    /// None is known.
    pub fn json(&self) -> Result<String, serde_json::Error> {
        let mut json = serde_json::to_value(self)?;
        json["agrees"] = (self.apart() == 0).into();
        Ok(serde_json::to_string_pretty(&json)? + "\n")
    }

    /// For people.
    pub fn text(&self) -> String {
        let mut out = String::new();
        let now = env!("CARGO_PKG_VERSION");
        if self.made_by != now {
            let _ = writeln!(out, "Made by payspread {}, made again by {now}.", self.made_by);
        }
        if self.engine_then != self.engine_now {
            let _ = writeln!(
                out,
                "Engine {} made this folder, engine {} makes it again: a higher number means that sampled values may \
                 differ for the same seed. It is compared all the same.",
                self.engine_then, self.engine_now
            );
        }
        if !self.unknown_kinds.is_empty() {
            let _ = writeln!(out, "Not known to this version: {}.", self.unknown_kinds.join(", "));
        }
        let width = self.items.iter().map(|item| item.name.chars().count()).max().unwrap_or(0);
        for item in &self.items {
            let gap = " ".repeat(width - item.name.chars().count());
            let line =
                format!("{:<9} {}{gap}  {:<14}  {}", item.sort, item.name, item.verdict.words(), item.how);
            let _ = writeln!(out, "{}", line.trim_end());
        }
        let _ = writeln!(out, "\n{}", self.sentence());
        out
    }

    fn sentence(&self) -> String {
        let count = |verdict| self.items.iter().filter(|item| item.verdict == verdict).count();
        let (same, agrees, apart) = (count(Verdict::Same), count(Verdict::Agrees), self.apart());
        let not_made = count(Verdict::NotMade);
        let mut parts = vec![format!("{same} the same to the last byte")];
        if agrees > 0 {
            parts.push(format!("{agrees} with other bytes whose figures agree to {:.0e}", self.tolerance));
        }
        if not_made > 0 {
            parts.push(format!("{not_made} as they were and not made again"));
        }
        if apart > 0 {
            parts.push(format!("{apart} that do not agree"));
        }
        let verdict = match (apart, not_made) {
            (0, 0) => "The folder can be made again from its study",
            (0, _) => "What can be made again agrees",
            _ => "The folder is not what its study makes",
        };
        format!("{verdict}: {}.", crate::wording::listed(&parts))
    }
}
