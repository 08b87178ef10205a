//! The manifest: what is needed to rebuild an answer and to check that
//! nothing was changed. No clock and no absolute path, so that the same study
//! gives the same bytes.

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use crate::analysis::SamplingFacts;

/// Format number of the manifest.
pub const FORMAT: u32 = 2;

/// A file by its name and the hash of its bytes.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Hashed {
    /// Name, relative, with forward slashes.
    pub file: String,
    /// SHA-256 of its bytes, in hexadecimal.
    pub sha256: String,
    /// What it is made as, where somebody's work lay under that name and the file got another.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub made_as: Option<String>,
}

impl Hashed {
    /// A file that lies beside the study or in the output folder. Of an
    /// absolute path or one that climbs out, only the last part is kept.
    pub fn of(file: &str, bytes: &[u8]) -> Self {
        Hashed { file: relative(file), sha256: sha256(bytes), made_as: None }
    }
}

/// What was asked for, so that it can be made again.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Made {
    /// Kinds of things made ([`crate::report::delivery::Kind::name`]), in their order.
    pub kinds: Vec<String>,
    /// Whether what takes many more evaluations was asked for.
    pub all: bool,
    /// Runs given in place of the study's own; `until` of the study is not looked at then.
    pub runs: Option<u64>,
    /// Seed given in place of the study's own.
    pub seed: Option<u64>,
}

/// What went in, how it was drawn, what came out.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Manifest {
    /// Format number of this structure.
    pub format: u32,
    /// Version of payspread.
    pub payspread: String,
    /// Version of what decides sampled values.
    pub engine: u32,
    /// The study; a copy of it lies in the folder under this name.
    pub study: Hashed,
    /// Data files that the study reads, in its order; they are in the folder only if that was asked for.
    pub data: Vec<Hashed>,
    /// What was asked for.
    pub made: Made,
    /// Method, runs, replicates, seed and the pinned dimensions.
    pub sampling: SamplingFacts,
    /// Files written, by name.
    pub files: Vec<Hashed>,
}

impl Manifest {
    /// For a study text of this name; data and files are added by the caller.
    pub fn new(study_file: &str, study_text: &[u8], made: Made, sampling: &SamplingFacts) -> Self {
        Manifest {
            format: FORMAT,
            payspread: env!("CARGO_PKG_VERSION").into(),
            engine: sampling.engine,
            study: Hashed { file: study_copy(study_file), sha256: sha256(study_text), made_as: None },
            data: Vec::new(),
            made,
            sampling: sampling.clone(),
            files: Vec::new(),
        }
    }

    /// Notes a data file that the study reads.
    pub fn read(&mut self, file: &str, bytes: &[u8]) {
        self.data.push(Hashed::of(file, bytes));
    }

    /// Notes a file that was made as `name` and written as `file`; kept in the order of names.
    pub fn wrote(&mut self, name: &str, file: &str, bytes: &[u8]) {
        let made_as = (name != file).then(|| relative(name));
        self.files.push(Hashed { made_as, ..Hashed::of(file, bytes) });
        self.files.sort_by(|a, b| a.file.cmp(&b.file));
    }

    /// Indented JSON with a final line feed.
    ///
    /// # Errors
    /// None is known: every field can be written.
    pub fn to_json(&self) -> Result<String, serde_json::Error> {
        let mut text = serde_json::to_string_pretty(self)?;
        text.push('\n');
        Ok(text)
    }
}

/// The name under which a study is copied into its output folder. It ends in `.toml`, as no file that is made does.
pub fn study_copy(study_file: &str) -> String {
    let name = last_part(study_file);
    match name.as_str() {
        "" | "-" | "." | ".." => "study.toml".into(),
        _ if name.ends_with(".toml") => name,
        _ => format!("{name}.toml"),
    }
}

/// SHA-256 in hexadecimal (FIPS 180-4).
pub fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

fn last_part(path: &str) -> String {
    path.rsplit(['/', '\\']).find(|part| !part.is_empty()).unwrap_or("").to_string()
}

fn relative(path: &str) -> String {
    let path = path.replace('\\', "/");
    let absolute = path.starts_with('/') || path.get(1..2) == Some(":");
    if absolute || path.split('/').any(|part| part == "..") {
        return last_part(&path);
    }
    path.trim_start_matches("./").to_string()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::fixture;

    #[test]
    fn hashes_of_fips_180() {
        // FIPS 180-4 examples: the empty text and "abc".
        assert_eq!(sha256(b""), "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
        assert_eq!(sha256(b"abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    }

    #[test]
    fn a_copied_study_is_called_as_no_file_that_is_made() {
        for (name, copy) in [
            ("a/first-look.toml", "first-look.toml"),
            ("results.csv", "results.csv.toml"),
            ("manifest.json", "manifest.json.toml"),
            ("-", "study.toml"),
            ("", "study.toml"),
            ("x/..", "study.toml"),
        ] {
            assert_eq!(study_copy(name), copy);
        }
    }

    #[test]
    fn no_path_leaks_and_order_is_by_name() {
        let facts = fixture::answers().sampling;
        let made = Made { kinds: vec!["charts".into()], runs: Some(1024), ..Made::default() };
        let mut manifest = Manifest::new("/home/somebody/studies/first-look.toml", b"x", made, &facts);
        manifest.read("C:\\Users\\somebody\\readings.csv", b"1");
        manifest.read("data/prices.csv", b"2");
        manifest.read("../secret/other.csv", b"3");
        manifest.wrote("charts/b.svg", "charts/b.svg", b"b");
        manifest.wrote("charts/a.svg", "charts/a.svg", b"a");
        manifest.wrote("report.docx", "report-2.docx", b"c");
        let text = manifest.to_json().unwrap();
        assert!(!text.contains("somebody") && !text.contains("secret") && !text.contains(".."));
        let json: serde_json::Value = serde_json::from_str(&text).unwrap();
        assert_eq!(json["study"]["file"], "first-look.toml");
        assert_eq!(json["made"]["runs"], 1024);
        assert!(json["made"]["seed"].is_null());
        assert_eq!(json["data"][1]["file"], "data/prices.csv");
        assert_eq!(json["files"][0]["file"], "charts/a.svg");
        assert!(json["files"][0].get("made_as").is_none());
        assert_eq!(json["files"][2]["file"], "report-2.docx");
        assert_eq!(json["files"][2]["made_as"], "report.docx");
        assert_eq!(json["sampling"]["dimensions"][0], "people");
        assert_eq!(text, manifest.to_json().unwrap());
    }
}
