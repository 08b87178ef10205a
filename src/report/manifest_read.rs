//! A manifest read back. It may come from anybody, so nothing in it is believed before it is looked at: names lead nowhere
//! but downwards from the folder, numbers are those that a study may have.

use serde::Deserialize;

use super::delivery::Kind;
use super::manifest::{FORMAT, Hashed, Made};

/// Most bytes of a manifest.
pub const MAX_BYTES: u64 = 4 * 1024 * 1024;
/// Most files that one may list.
const MAX_FILES: usize = 10_000;
/// Most runs, as in a study.
const MAX_RUNS: u64 = 10_000_000_000;

/// What a manifest says.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct KeptManifest {
    /// Format number.
    pub format: u32,
    /// Version of payspread that made the folder.
    pub payspread: String,
    /// Version of what decides sampled values.
    pub engine: u32,
    /// The study.
    pub study: Hashed,
    /// Data files that it reads.
    pub data: Vec<Hashed>,
    /// What was asked for.
    pub made: Made,
    /// How it was drawn.
    pub sampling: serde_json::Value,
    /// Files that were made.
    pub files: Vec<Hashed>,
}

/// What is wrong with a manifest, and what would be right.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ManifestError {
    /// One sentence without a full stop.
    pub message: String,
    /// What would be right.
    pub hint: String,
}

impl KeptManifest {
    /// From the bytes of a manifest.
    ///
    /// # Errors
    /// When it is none, or one that cannot be trusted to name files and numbers.
    pub fn parse(bytes: &[u8]) -> Result<KeptManifest, ManifestError> {
        let json: serde_json::Value = serde_json::from_slice(bytes)
            .map_err(|e| wrong(format!("the manifest is no JSON: {e}"), "it was changed, or cut short"))?;
        match json["format"].as_u64() {
            Some(format) if format == u64::from(FORMAT) => {}
            Some(1) => {
                return Err(wrong(
                    "the manifest is of format 1, which does not say what was asked for",
                    "run the study again: its new folder can be made again",
                ));
            }
            _ => {
                return Err(wrong(
                    format!("the manifest is not of format {FORMAT}, which is what is read here"),
                    "use the version of payspread that it names",
                ));
            }
        }
        let kept: KeptManifest = serde_json::from_value(json).map_err(|e| {
            wrong(format!("the manifest does not hold what it should: {e}"), "it was changed by hand")
        })?;
        kept.check()?;
        Ok(kept)
    }

    fn check(&self) -> Result<(), ManifestError> {
        if self.files.len() + self.data.len() > MAX_FILES {
            return Err(changed(format!("the manifest lists more than {MAX_FILES} files")));
        }
        if self.study.file.contains('/') {
            return Err(changed("the manifest names a study that is not in the folder itself".into()));
        }
        for listed in std::iter::once(&self.study).chain(&self.data).chain(&self.files) {
            if !leads_downwards(&listed.file) {
                let shown: String = listed.file.chars().take(60).collect();
                return Err(changed(format!("the manifest names a file outside the folder: {shown:?}")));
            }
            if listed.sha256.len() != 64 || !listed.sha256.bytes().all(|b| b.is_ascii_hexdigit()) {
                return Err(changed(format!("the hash of {:?} is none", listed.file)));
            }
            // Only compared with names of ours, never opened; all the same.
            if listed.made_as.as_deref().is_some_and(|name| !leads_downwards(name)) {
                return Err(changed(format!("{:?} is made as a file outside the folder", listed.file)));
            }
        }
        if self.made.runs.is_some_and(|runs| runs == 0 || runs > MAX_RUNS) {
            return Err(changed(format!(
                "the manifest asks for a number of runs that is not 1 to {MAX_RUNS}"
            )));
        }
        Ok(())
    }

    /// The kinds of things made that are known here, and the names of the others.
    pub fn kinds(&self) -> (Vec<Kind>, Vec<&str>) {
        let mut known = Vec::new();
        let mut unknown = Vec::new();
        for name in &self.made.kinds {
            match Kind::of(name) {
                Some(kind) if !known.contains(&kind) => known.push(kind),
                Some(_) => {}
                None => unknown.push(name.as_str()),
            }
        }
        (known, unknown)
    }
}

/// Whether a name leads from a folder downwards, on any platform.
fn leads_downwards(file: &str) -> bool {
    let parts_are_plain = file.split('/').all(|part| !matches!(part, "" | "." | ".."));
    parts_are_plain && file.len() <= 1000 && !file.contains(['\\', ':']) && !file.contains(char::is_control)
}

fn wrong(message: impl Into<String>, hint: &str) -> ManifestError {
    ManifestError { message: message.into(), hint: hint.into() }
}

fn changed(message: String) -> ManifestError {
    wrong(
        message,
        "payspread never writes such a manifest: it was changed by hand, and nothing is made from it",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn manifest(study: &str, file: &str, runs: &str) -> String {
        let hash = "0".repeat(64);
        format!(
            r#"{{"format":2,"payspread":"0.1.0","engine":2,"study":{{"file":{study:?},"sha256":"{hash}"}},"data":[],
            "made":{{"kinds":["charts","charts","statues"],"all":false,"runs":{runs},"seed":null}},"sampling":{{}},
            "files":[{{"file":{file:?},"sha256":"{hash}"}}]}}"#
        )
    }

    #[test]
    fn a_sound_one_is_read() {
        let kept = KeptManifest::parse(manifest("a.toml", "x/b.svg", "null").as_bytes()).unwrap();
        assert_eq!(kept.kinds(), (vec![Kind::Charts], vec!["statues"]));
    }

    #[test]
    fn hostile_ones_are_refused() {
        for (study, file, runs) in [
            ("../a.toml", "b.svg", "null"),
            ("x/a.toml", "b.svg", "null"),
            ("/a.toml", "b.svg", "null"),
            ("a.toml", "../b.svg", "null"),
            ("a.toml", "x/../../b.svg", "null"),
            ("a.toml", "/etc/b.svg", "null"),
            ("a.toml", "C:b.svg", "null"),
            ("a.toml", "x\\\\..\\\\b.svg", "null"),
            ("a.toml", "", "null"),
            ("a.toml", "b\n.svg", "null"),
            ("a.toml", "b.svg", "0"),
            ("a.toml", "b.svg", "-1"),
            ("a.toml", "b.svg", "1e99"),
            ("a.toml", "b.svg", "99999999999999999999999999"),
            ("a.toml", "b.svg", "10000000001"),
            ("a.toml", "b.svg", "\"many\""),
        ] {
            let text = manifest(study, file, runs);
            assert!(KeptManifest::parse(text.as_bytes()).is_err(), "{text}");
        }
        for text in ["", "[]", "null", "{}", "{\"format\":1}", "{\"format\":3}", "{\"format\":2}"] {
            assert!(KeptManifest::parse(text.as_bytes()).is_err(), "{text}");
        }
        let deep = "[".repeat(100_000);
        assert!(KeptManifest::parse(deep.as_bytes()).is_err());
    }
}
