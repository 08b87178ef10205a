//! Signs in the export that something took part of the surplus already. Signs only: they are put as questions.

use super::Readings;
use super::grid::SLOTS;
use super::options::Kind;

/// Least bright days for a judgement.
const LEAST_DAYS: usize = 10;

/// Questions that the course of the export raises.
pub(super) fn hints(readings: &Readings) -> Vec<String> {
    let Some(export) = readings.series(Kind::Export) else { return Vec::new() };
    let days: Vec<&[f64]> =
        export.chunks_exact(SLOTS).zip(&readings.used).filter(|d| *d.1).map(|d| d.0).collect();
    let mut questions = Vec::new();
    let (bright, sudden) = sudden_days(&days);
    if bright >= LEAST_DAYS && sudden * 10 >= bright * 3 {
        questions.push(format!(
            "On {sudden} of {bright} bright days export begins all at once late in the morning: was something (a surplus controller, a battery) already taking the first hours of sun?"
        ));
    }
    if let Some(kw) = flat_top(&days) {
        questions.push(format!("Export stops at {kw:.2} kW again and again: is it limited there?"));
    }
    questions
}

fn highest(day: &[f64]) -> f64 {
    day.iter().copied().fold(0.0, f64::max)
}

/// Bright days, and those of them on which export goes from next to nothing to near half its peak within an hour,
/// after ten o'clock. The sun alone takes two to three hours for that.
fn sudden_days(days: &[&[f64]]) -> (usize, usize) {
    let mut peaks: Vec<f64> = days.iter().map(|day| highest(day)).collect();
    peaks.sort_by(f64::total_cmp);
    let Some(&high) = peaks.get(peaks.len().saturating_sub(1 + peaks.len() / 20)) else { return (0, 0) };
    if high <= 0.0 {
        return (0, 0);
    }
    let bright = days.iter().filter(|day| highest(day) >= 0.6 * high);
    let sudden = |day: &&&&[f64]| {
        let peak = highest(day);
        let rise = day.iter().position(|&kwh| kwh >= 0.4 * peak).unwrap_or(0);
        rise >= 20 && (day[rise - 1] <= 0.05 * peak || day[rise - 2] <= 0.02 * peak)
    };
    (bright.clone().count(), bright.filter(|day| sudden(&day)).count())
}

/// Power at which export stands for an hour and a half and more, within half a percent of its highest, on five days or more.
fn flat_top(days: &[&[f64]]) -> Option<f64> {
    let most = days.iter().map(|day| highest(day)).fold(0.0, f64::max);
    let stands = |day: &&&[f64]| day.windows(3).any(|hours| hours.iter().all(|&kwh| kwh >= 0.995 * most));
    (most > 0.0 && days.iter().filter(stands).count() >= 5).then_some(2.0 * most)
}
