//! Any clean series reads back to the same totals in any supported way of writing; no bytes at all make the reader panic.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot read its own files has failed")]

use std::fmt::Write;
use std::fs;
use std::path::Path;
use std::sync::LazyLock;

use payspread::hotwater::readings::{Kind, Options, read};
use proptest::prelude::*;

/// A way of writing a file.
#[derive(Debug, Clone)]
struct Written {
    separator: char,
    comma: bool,
    date: u8,
    words: u8,
    end_of_line: &'static str,
    encoding: u8,
    quoted: bool,
    preamble: bool,
    latest_first: bool,
    import_first: bool,
    /// 0 kWh, 1 Wh, 2 kW.
    unit: u8,
    step: usize,
}

fn ways() -> impl Strategy<Value = Written> {
    let first = (0..3usize, any::<bool>(), 0..7u8, 0..4u8, any::<bool>(), 0..4u8, any::<bool>());
    let second = (any::<bool>(), any::<bool>(), any::<bool>(), 0..3u8, 0..5usize);
    (first, second).prop_map(|(a, b)| Written {
        separator: [';', '\t', ','][a.0],
        // A decimal comma between commas is quoted.
        comma: a.1,
        date: a.2,
        words: a.3,
        end_of_line: if a.4 { "\r\n" } else { "\n" },
        encoding: a.5,
        quoted: a.6 || (a.0 == 2 && a.1),
        preamble: b.0,
        latest_first: b.1,
        import_first: b.2,
        unit: b.3,
        step: [5, 10, 15, 30, 60][b.4],
    })
}

/// Day of June 2024 and minute of the day, as written.
fn stamp(date: u8, day: usize, minute: usize) -> String {
    let (h, m) = (minute / 60, minute % 60);
    let half = if h < 12 { "am" } else { "PM" };
    match date {
        0 => format!("2024-06-{day:02} {h:02}:{m:02}"),
        1 => format!("2024-06-{day:02}T{h:02}:{m:02}:00+02:00"),
        2 => format!("{day:02}/06/2024 {h:02}:{m:02}"),
        3 => format!("6/{day}/2024 {}:{m:02} {half}", (h + 11) % 12 + 1),
        4 => format!("{day}.6.2024 {h}:{m:02}"),
        5 => format!("{day} June 2024 {h:02}:{m:02}:00"),
        _ => format!("202406{day:02}{h:02}{m:02}"),
    }
}

fn value(way: &Written, wh: u32) -> String {
    let (whole, three) = match way.unit {
        1 => return wh.to_string(),
        // kW times the hours of the step are kWh: so many kW that the energy is `wh` watt-hours.
        2 => (wh * (60 / way.step as u32) / 1000, wh * (60 / way.step as u32) % 1000),
        _ => (wh / 1000, wh % 1000),
    };
    format!("{whole}{}{three:03}", if way.comma { ',' } else { '.' })
}

const HEADINGS: [[&str; 3]; 4] = [
    ["time", "export", "import"],
    ["Beginn", "Einspeisung", "Netzbezug"],
    ["Fecha", "Vertido", "Importe de red"],
    ["start", "Sent to grid", "Consumption"],
];

fn text(way: &Written, wh: &[(u32, u32)]) -> String {
    let cell = |text: String| if way.quoted { format!("\"{text}\"") } else { text };
    let row = |cells: [String; 3]| {
        let [time, export, import] = cells.map(cell);
        let (a, b) = if way.import_first { (import, export) } else { (export, import) };
        format!("{time}{s}{a}{s}{b}", s = way.separator)
    };
    let unit = ["kWh", "Wh", "kW"][usize::from(way.unit)];
    let [time, export, import] = HEADINGS[usize::from(way.words)];
    let mut lines = Vec::new();
    let per_day = 1440 / way.step;
    for (at, (e, i)) in wh.iter().enumerate() {
        let (day, minute) = (14 + at / per_day, at % per_day * way.step);
        lines.push(row([stamp(way.date, day, minute), value(way, *e), value(way, *i)]));
    }
    if way.latest_first {
        lines.reverse();
    }
    let mut out = String::new();
    if way.preamble {
        write!(out, "# a comment{e}{e}Readings of a home{e}", e = way.end_of_line).unwrap();
    }
    let heading = row([time.to_string(), format!("{export} ({unit})"), format!("{import} [{unit}]")]);
    lines.insert(0, heading);
    out + &lines.join(way.end_of_line) + way.end_of_line
}

fn encoded(way: &Written, text: &str) -> Vec<u8> {
    let wide = |of: fn(u16) -> [u8; 2]| text.encode_utf16().flat_map(of).collect::<Vec<u8>>();
    match way.encoding {
        0 => text.as_bytes().to_vec(),
        1 => [&[0xEF, 0xBB, 0xBF], text.as_bytes()].concat(),
        2 => [vec![0xFF, 0xFE], wide(u16::to_le_bytes)].concat(),
        _ => [vec![0xFE, 0xFF], wide(u16::to_be_bytes)].concat(),
    }
}

/// Two whole days of export (none by night) and import, watt-hours, with numbers from a seed.
fn energies(step: usize, seed: u64) -> Vec<(u32, u32)> {
    let mut state = seed | 1;
    let mut dice = || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as u32
    };
    let one = |at: usize| {
        let hour = at * step % 1440 / 60;
        let (e, i) = (dice() % (25 * step as u32), 1 + dice() % (15 * step as u32));
        (if (6..20).contains(&hour) { e } else { 0 }, i)
    };
    (0..2 * 1440 / step).map(one).collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn any_way_of_writing_reads_back(way in ways(), seed in any::<u64>()) {
        let wh = energies(way.step, seed);
        let text = text(&way, &wh);
        let readings = read(&encoded(&way, &text), &Options::default());
        let readings = match readings {
            Ok(readings) => readings,
            Err(error) => return Err(TestCaseError::fail(format!("{error}\n{text}"))),
        };
        for (kind, sum) in [
            (Kind::Export, wh.iter().map(|w| f64::from(w.0)).sum::<f64>() / 1000.0),
            (Kind::Import, wh.iter().map(|w| f64::from(w.1)).sum::<f64>() / 1000.0),
        ] {
            let months = readings.found.months.iter().flat_map(|m| &m.totals);
            let got: f64 = months.filter(|t| t.kind == kind).map(|t| t.measured_kwh).sum();
            prop_assert!((got - sum).abs() < 1e-9, "{} {got} {sum}\n{}\n{text}", kind.name(), readings.found);
        }
        prop_assert_eq!(readings.found.days_used, 2, "{}", readings.found);
    }

    #[test]
    fn no_bytes_make_it_panic(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
        let _ = read(&bytes, &Options::default());
    }

    #[test]
    fn no_digits_and_signs_make_it_panic(text in "([0-9]{1,5}[-/.:, ;T+\n\"']{1,2}){0,60}") {
        let _ = read(text.as_bytes(), &Options { zone: Some("Europe/Dublin".into()), ..Options::default() });
    }
}

static GOOD: LazyLock<Vec<Vec<u8>>> = LazyLock::new(|| {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests").join("readings");
    let mut paths: Vec<_> = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    paths.retain(|path| path.extension().is_some_and(|e| e == "csv"));
    paths.sort();
    paths.iter().map(|path| fs::read(path).unwrap()).collect()
});

proptest! {
    #![proptest_config(ProptestConfig::with_cases(600))]

    #[test]
    fn no_damage_makes_it_panic(
        file in 0..1000usize,
        cuts in proptest::collection::vec((any::<prop::sample::Index>(), any::<u8>(), 0..4u8), 1..12),
        zone in 0..3usize,
    ) {
        let mut bytes = GOOD[file % GOOD.len()].clone();
        for (at, byte, what) in cuts {
            if bytes.is_empty() {
                break;
            }
            let at = at.index(bytes.len());
            match what {
                0 => bytes[at] = byte,
                1 => { bytes.remove(at); }
                2 => bytes.insert(at, byte),
                _ => bytes.truncate(at.max(1)),
            }
        }
        let zone = [None, Some("Europe/Berlin"), Some("Australia/Sydney")][zone].map(str::to_string);
        if let Ok(readings) = read(&bytes, &Options { zone, ..Options::default() }) {
            let months = readings.found.months.iter().flat_map(|m| &m.totals);
            for total in months {
                prop_assert!(total.measured_kwh >= 0.0 && total.measured_kwh.is_finite());
            }
        }
    }
}

#[test]
fn a_file_too_large_is_refused() {
    let bytes = vec![b'1'; (64 << 20) + 1];
    assert!(read(&bytes, &Options::default()).unwrap_err().to_string().contains("64 MB"));
}
