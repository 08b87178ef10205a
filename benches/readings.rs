//! How long a three-year file of readings every five minutes takes to read: 315,360 rows, export and import.
//!
//! `cargo bench --bench readings`. The promise is less than 100 ms on one core.

#![allow(missing_docs, reason = "criterion's macros make public functions")]

use std::fmt::Write;
use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use payspread::hotwater::readings::{Options, read};

/// Days of three years.
const DAYS: usize = 1095;

/// A file as a portal writes it: plain, or with decimal commas, points between day, month and year, and CRLF.
fn file(plain: bool) -> String {
    let months = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];
    let mut text = String::from(if plain {
        "time,export_kwh,import_kwh\n"
    } else {
        "Zeit;Einspeisung kWh;Bezug kWh\r\n"
    });
    let (mut year, mut month, mut day) = (2021, 0, 1);
    let mut state = 1u32;
    for _ in 0..DAYS {
        for minute in (0..1440).step_by(5) {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let export = if (480..1080).contains(&minute) { state >> 23 } else { 0 };
            let (import, hour, minute) = (state >> 22 & 127, minute / 60, minute % 60);
            let line = if plain {
                writeln!(
                    text,
                    "{year}-{:02}-{day:02} {hour:02}:{minute:02},0.{export:03},0.{import:03}",
                    month + 1
                )
            } else {
                write!(
                    text,
                    "{day:02}.{:02}.{year} {hour:02}:{minute:02};0,{export:03};0,{import:03}\r\n",
                    month + 1
                )
            };
            line.unwrap_or_default();
        }
        day += 1;
        if day > months[month] {
            (month, day) = (month + 1, 1);
        }
        if month == 12 {
            (year, month) = (year + 1, 0);
        }
    }
    text
}

fn reading(criterion: &mut Criterion) {
    let dublin = Options { zone: Some("Europe/Dublin".into()), ..Options::default() };
    for (name, text, options) in [
        ("three years at five minutes", file(true), Options::default()),
        ("the same, in a zone", file(true), dublin),
        ("decimal commas, CRLF", file(false), Options::default()),
    ] {
        criterion.bench_function(name, |bench| {
            bench.iter(|| black_box(read(black_box(text.as_bytes()), &options)));
        });
    }
}

criterion_group!(benches, reading);
criterion_main!(benches);
