//! A page printed to PDF by a browser of the Chromium family, if the machine has one.
//!
//! The browser runs without a window, in a profile of its own that is deleted afterwards, and never longer than
//! [`LONGEST`].

use std::env;
use std::ffi::OsString;
use std::fmt;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

use crate::report::numbers::clean;

/// Forty pages take a few seconds, and took half a minute where eight others wanted the same two cores.
const LONGEST: Duration = Duration::from_secs(120);

/// Names that such browsers have in the search path.
const NAMES: [&str; 9] = [
    "chromium",
    "chromium-browser",
    "google-chrome",
    "google-chrome-stable",
    "chrome",
    "microsoft-edge",
    "microsoft-edge-stable",
    "msedge",
    "brave-browser",
];

/// Where macOS has them, from the root or from the user's folder.
const MAC_PLACES: [&str; 4] = [
    "Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "Applications/Chromium.app/Contents/MacOS/Chromium",
    "Applications/Microsoft Edge.app/Contents/MacOS/Microsoft Edge",
    "Applications/Brave Browser.app/Contents/MacOS/Brave Browser",
];

/// Where Windows has them, from one of its folders of programs.
const WINDOWS_PLACES: [&str; 4] = [
    "Google/Chrome/Application/chrome.exe",
    "Microsoft/Edge/Application/msedge.exe",
    "Chromium/Application/chrome.exe",
    "BraveSoftware/Brave-Browser/Application/brave.exe",
];

/// How to call one: no window, no network, no second thoughts. Unknown switches are passed over by older ones.
const SWITCHES: [&str; 16] = [
    "--headless",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--no-default-browser-check",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-default-apps",
    "--disable-extensions",
    "--disable-sync",
    "--disable-crash-reporter",
    "--disable-dev-shm-usage",
    "--password-store=basic",
    "--no-pdf-header-footer",
    "--print-to-pdf-no-header",
    "--generate-pdf-document-outline",
];

/// Why there is no PDF.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum NoPdf {
    /// The machine has no such browser, or not where one looks for it.
    NoBrowser,
    /// The browser that was named is not there.
    NotThere(PathBuf),
    /// It was there and made no PDF.
    Failed {
        /// Which one.
        browser: PathBuf,
        /// What happened.
        why: String,
    },
    /// The disk is full or may not be written.
    Disk(String),
}

impl fmt::Display for NoPdf {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            NoPdf::NoBrowser => f.write_str("no browser of the Chromium family was found to print the PDF"),
            NoPdf::NotThere(path) => write!(f, "there is no browser at {}", shown(path)),
            NoPdf::Failed { browser, why } => write!(f, "{} made no PDF: {why}", shown(browser)),
            NoPdf::Disk(why) => write!(f, "the PDF cannot be written: {why}"),
        }
    }
}

/// What to do by hand instead; the page `html` is there.
pub(super) fn by_hand(html: &Path) -> String {
    format!(
        "open {} in any browser and choose Print, paper A4, \"Save as PDF\"; or name a browser with --browser",
        shown(html)
    )
}

fn shown(path: &Path) -> String {
    clean(&path.to_string_lossy())
}

/// Prints the page `html` to `pdf` with the named browser, or with the first that is found. A PDF that is already
/// there stays until the new one is complete.
pub(super) fn print(browser: Option<&Path>, html: &Path, pdf: &Path) -> Result<(), NoPdf> {
    let browser = match browser {
        Some(named) => named_browser(named).ok_or_else(|| NoPdf::NotThere(named.to_owned()))?,
        None => found().ok_or(NoPdf::NoBrowser)?,
    };
    print_within(&browser, html, pdf, LONGEST)
}

fn print_within(browser: &Path, html: &Path, pdf: &Path, longest: Duration) -> Result<(), NoPdf> {
    let disk = |error: io::Error| NoPdf::Disk(error.to_string());
    let failed = |why: String| NoPdf::Failed { browser: browser.to_owned(), why };
    let html = std::path::absolute(html).map_err(disk)?;
    let pdf = std::path::absolute(pdf).map_err(disk)?;
    let profile = Profile::new().map_err(disk)?;
    let printed = Unfinished(pdf.with_extension(format!("{}.part.pdf", std::process::id())));

    let mut command = Command::new(browser);
    command.args(SWITCHES).arg(switch("--user-data-dir=", &profile.0));
    if profile.is_roots() {
        // Chromium refuses to start as root inside its sandbox.
        command.arg("--no-sandbox");
    }
    command.arg(switch("--print-to-pdf=", &printed.0)).arg(address(&html));
    if cfg!(target_os = "linux") {
        // What it would leave in the user's folders goes with the profile.
        command.env("XDG_CONFIG_HOME", &profile.0).env("XDG_CACHE_HOME", &profile.0);
    }
    command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
    let mut child = command.spawn().map_err(|error| failed(error.to_string()))?;
    let Some(status) = ended(&mut child, longest).map_err(|error| failed(error.to_string()))? else {
        return Err(failed(format!("stopped after {} seconds", longest.as_secs())));
    };
    if !is_whole_pdf(&printed.0) {
        return Err(failed(format!("it ended with {status}")));
    }
    fs::rename(&printed.0, &pdf).map_err(disk)
}

/// Waits for the end of a process; `None` if it had to be ended.
fn ended(child: &mut Child, longest: Duration) -> io::Result<Option<ExitStatus>> {
    let start = Instant::now();
    while start.elapsed() < longest {
        if let Some(status) = child.try_wait()? {
            return Ok(Some(status));
        }
        sleep(Duration::from_millis(20));
    }
    child.kill()?;
    child.wait()?;
    Ok(None)
}

/// A file that begins and ends as a PDF does.
fn is_whole_pdf(path: &Path) -> bool {
    fs::read(path).is_ok_and(|bytes| {
        let end = &bytes[bytes.len().saturating_sub(32)..];
        bytes.starts_with(b"%PDF-") && end.windows(5).any(|five| five == b"%%EOF")
    })
}

fn switch(name: &str, path: &Path) -> OsString {
    let mut switch = OsString::from(name);
    switch.push(path);
    switch
}

/// Address of a file, whatever its name holds.
fn address(path: &Path) -> String {
    let mut address = String::from("file://");
    let bytes = path.as_os_str().as_encoded_bytes();
    if !bytes.starts_with(b"/") && !bytes.starts_with(b"\\") {
        address.push('/');
    }
    for &byte in bytes {
        match byte {
            b'\\' if cfg!(windows) => address.push('/'),
            b'/' | b':' | b'-' | b'.' | b'_' | b'~' => address.push(char::from(byte)),
            _ if byte.is_ascii_alphanumeric() => address.push(char::from(byte)),
            _ => address.push_str(&format!("%{byte:02X}")),
        }
    }
    address
}

/// The named browser: a file, or a name in the search path.
fn named_browser(named: &Path) -> Option<PathBuf> {
    if named.is_file() {
        return Some(named.to_owned());
    }
    let is_name = named.components().count() == 1;
    is_name.then(|| named.to_str()).flatten().and_then(in_search_path)
}

/// The first browser that the machine has.
fn found() -> Option<PathBuf> {
    NAMES.iter().find_map(|name| in_search_path(name)).or_else(|| places().into_iter().find(|p| p.is_file()))
}

fn in_search_path(name: &str) -> Option<PathBuf> {
    let name = format!("{name}{}", env::consts::EXE_SUFFIX);
    env::split_paths(&env::var_os("PATH")?).map(|folder| folder.join(&name)).find(|path| path.is_file())
}

/// Usual places outside the search path.
fn places() -> Vec<PathBuf> {
    let folder = |variable: &str| env::var_os(variable).map(PathBuf::from);
    let (roots, places): (Vec<Option<PathBuf>>, &[&str]) = if cfg!(windows) {
        (["ProgramFiles", "ProgramFiles(x86)", "LocalAppData"].map(folder).into(), &WINDOWS_PLACES)
    } else {
        (vec![Some("/".into()), folder("HOME")], &MAC_PLACES)
    };
    roots.iter().flatten().flat_map(|root| places.iter().map(|place| root.join(place))).collect()
}

/// What is half printed, deleted when dropped if it is still there.
struct Unfinished(PathBuf);

impl Drop for Unfinished {
    fn drop(&mut self) {
        // Mostly it is no longer there.
        let _ = fs::remove_file(&self.0);
    }
}

/// A folder for the browser's own files, deleted when dropped.
struct Profile(PathBuf);

impl Profile {
    fn new() -> io::Result<Profile> {
        for attempt in 0..1000 {
            let name = format!("payspread-browser-{}-{attempt}", std::process::id());
            let folder = env::temp_dir().join(name);
            let mut builder = fs::DirBuilder::new();
            #[cfg(unix)]
            std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
            match builder.create(&folder) {
                Ok(()) => return Ok(Profile(folder)),
                Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {}
                Err(error) => return Err(error),
            }
        }
        Err(io::ErrorKind::AlreadyExists.into())
    }

    /// Whether the system's administrator runs this: the folder that was just made belongs to who made it.
    #[cfg(unix)]
    fn is_roots(&self) -> bool {
        use std::os::unix::fs::MetadataExt;
        fs::metadata(&self.0).is_ok_and(|folder| folder.uid() == 0)
    }

    #[cfg(not(unix))]
    fn is_roots(&self) -> bool {
        false
    }
}

impl Drop for Profile {
    fn drop(&mut self) {
        // The browser's helpers may still be writing for a moment.
        for _ in 0..50 {
            match fs::remove_dir_all(&self.0) {
                Err(error) if error.kind() != io::ErrorKind::NotFound => sleep(Duration::from_millis(20)),
                _ => return,
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A folder of the test's own, deleted when dropped.
    fn folder() -> Profile {
        Profile::new().unwrap()
    }

    #[test]
    fn addresses_hold_any_name() {
        if cfg!(unix) {
            let path = Path::new("/a b/50%#?\u{e9}.html");
            assert_eq!(address(path), "file:///a%20b/50%25%23%3F%C3%A9.html");
        }
    }

    #[test]
    fn a_browser_that_is_not_there() {
        let nowhere = Path::new("no-such-browser-anywhere");
        let said = print(Some(nowhere), Path::new("a.html"), Path::new("a.pdf"));
        assert_eq!(said, Err(NoPdf::NotThere(nowhere.to_owned())));
    }

    /// Programs that stand for a browser: each gets the switches and does something else with them.
    #[cfg(unix)]
    fn stand_in(folder: &Path, script: &str) -> PathBuf {
        use std::os::unix::fs::PermissionsExt;
        let path = folder.join("browser");
        fs::write(&path, format!("#!/bin/sh\n{script}\n")).unwrap();
        fs::set_permissions(&path, fs::Permissions::from_mode(0o755)).unwrap();
        path
    }

    #[cfg(unix)]
    const TO: &str = "for a; do case \"$a\" in --print-to-pdf=*) to=\"${a#*=}\";; --user-data-dir=*) own=\"${a#*=}\";; esac; done";

    #[cfg(unix)]
    #[test]
    fn what_is_printed_takes_its_place_and_nothing_else_stays() {
        let folder = folder();
        let pdf = folder.0.join("report.pdf");
        let script = format!(
            "{TO}\nmkdir \"$own/deep\"; printf '%s' \"$own\" > '{}/own'\nprintf '%%PDF-1.4 new %%%%EOF\\n' > \"$to\"",
            folder.0.display()
        );
        let browser = stand_in(&folder.0, &script);
        fs::write(&pdf, "old").unwrap();
        print(Some(&browser), &folder.0.join("report.html"), &pdf).unwrap();
        assert_eq!(fs::read_to_string(&pdf).unwrap(), "%PDF-1.4 new %%EOF\n");
        let own = fs::read_to_string(folder.0.join("own")).unwrap();
        assert!(own.len() > 3 && !Path::new(&own).exists(), "{own}");
        assert_eq!(fs::read_dir(&folder.0).unwrap().count(), 3);
    }

    #[cfg(unix)]
    #[test]
    fn an_older_pdf_stays_if_the_browser_fails_or_writes_half() {
        for script in ["exit 7".to_owned(), format!("{TO}\nprintf '%%PDF-1.4 half' > \"$to\"")] {
            let folder = folder();
            let pdf = folder.0.join("report.pdf");
            fs::write(&pdf, "old").unwrap();
            let browser = stand_in(&folder.0, &script);
            let said = print(Some(&browser), &folder.0.join("report.html"), &pdf);
            assert!(matches!(said, Err(NoPdf::Failed { .. })), "{said:?}");
            assert_eq!(fs::read_to_string(&pdf).unwrap(), "old");
            assert_eq!(fs::read_dir(&folder.0).unwrap().count(), 2);
        }
    }

    #[cfg(unix)]
    #[test]
    fn one_that_never_ends_is_ended() {
        let folder = folder();
        let browser = stand_in(&folder.0, "exec sleep 600");
        let start = Instant::now();
        let said =
            print_within(&browser, Path::new("a.html"), &folder.0.join("a.pdf"), Duration::from_millis(200));
        assert!(matches!(said, Err(NoPdf::Failed { .. })), "{said:?}");
        assert!(start.elapsed() < Duration::from_secs(20));
    }
}
