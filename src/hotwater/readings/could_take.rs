//! From readings alone: what share of the export a cylinder could take, and the heat that hot water takes from gas.

use serde::Serialize;

use super::Readings;
use super::grid::SLOTS;
use super::options::Kind;

/// Hours of a half hour.
const HOURS: f64 = 0.5;

/// What a cylinder could take of the export, on the days used.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CouldTake {
    /// Export, kWh.
    pub export_kwh: f64,
    /// What of it could go into the water, kWh.
    pub taken_kwh: f64,
    /// The same as a share, 0 to 1; 0 where nothing is exported.
    pub share: f64,
    /// Share by month of the year, January first; none where there are no days or no export.
    pub share_by_month: [Option<f64>; 12],
    /// Days looked at.
    pub days: usize,
    /// Days on which the cylinder's room, not the export, is the limit.
    pub days_full: usize,
}

/// The share of the export that a cylinder could take which has room for `room_kwh` a day and an element of `element_kw`,
/// behind a controller that leaves `threshold_w` flowing out: on each day min(room, sum of min(export - threshold,
/// element)) over its half hours. An upper bound: within a half hour export comes and goes, and losses are not counted.
/// None without a column of export or days used.
pub fn could_take(
    readings: &Readings,
    room_kwh: f64,
    element_kw: f64,
    threshold_w: f64,
) -> Option<CouldTake> {
    let export = readings.series(Kind::Export)?;
    let (threshold, element) = (threshold_w / 1000.0 * HOURS, element_kw * HOURS);
    let (mut by_month, mut days, mut days_full) = ([(0.0, 0.0); 12], 0, 0);
    for (day, course) in export.chunks_exact(SLOTS).enumerate().filter(|(day, _)| readings.is_used(*day)) {
        let reachable: f64 = course.iter().map(|&kwh| (kwh - threshold).min(element).max(0.0)).sum();
        let month = usize::from(readings.date(day).1 - 1);
        by_month[month].0 += course.iter().sum::<f64>();
        by_month[month].1 += reachable.min(room_kwh);
        days += 1;
        days_full += usize::from(reachable >= room_kwh);
    }
    if days == 0 {
        return None;
    }
    let (export_kwh, taken_kwh) =
        by_month.iter().fold((0.0, 0.0), |sum, month| (sum.0 + month.0, sum.1 + month.1));
    let share = |(export, taken): (f64, f64)| (export > 0.0).then(|| taken / export);
    let share_by_month = by_month.map(share);
    let whole = share((export_kwh, taken_kwh)).unwrap_or(0.0);
    Some(CouldTake { export_kwh, taken_kwh, share: whole, share_by_month, days, days_full })
}

/// Heat that hot water takes, from the gas burnt on summer days, kWh a day.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SummerHeat {
    /// Half of the days take less.
    pub median_kwh: f64,
    /// One day in ten takes less.
    pub p10_kwh: f64,
    /// One day in ten takes more.
    pub p90_kwh: f64,
    /// Standard error of the median, from the spread of the days: 1.253 sd / sqrt(days), as for near-normal days.
    pub median_error_kwh: f64,
    /// Days looked at.
    pub days: usize,
}

/// The heat that hot water takes, from gas: daily gas of June to August (`southern`: December to February), when nothing
/// else is heated, times the boiler's summer efficiency on the gross calorific value. Cooking with gas is in it. None
/// without gas readings or with fewer than ten such days.
pub fn heat_from_summer_gas(readings: &Readings, efficiency: f64, southern: bool) -> Option<SummerHeat> {
    let gas = readings.series(Kind::Gas)?;
    let summer = |day: &usize| match readings.date(*day).1 {
        6..=8 => !southern,
        12 | 1 | 2 => southern,
        _ => false,
    };
    let days = (0..readings.days()).filter(summer).map(|day| &gas[day * SLOTS..(day + 1) * SLOTS]);
    let mut heat: Vec<f64> =
        days.map(|day| efficiency * day.iter().sum::<f64>()).filter(|kwh| kwh.is_finite()).collect();
    if heat.len() < 10 {
        return None;
    }
    heat.sort_by(f64::total_cmp);
    let count = heat.len() as f64;
    let mean = heat.iter().sum::<f64>() / count;
    let variance = heat.iter().map(|kwh| (kwh - mean) * (kwh - mean)).sum::<f64>() / (count - 1.0);
    Some(SummerHeat {
        median_kwh: quantile(&heat, 0.5),
        p10_kwh: quantile(&heat, 0.1),
        p90_kwh: quantile(&heat, 0.9),
        median_error_kwh: 1.253 * (variance / count).sqrt(),
        days: heat.len(),
    })
}

/// Quantile of sorted values, linear between them.
fn quantile(sorted: &[f64], p: f64) -> f64 {
    let place = p * (sorted.len() - 1) as f64;
    let below = place as usize;
    let above = (below + 1).min(sorted.len() - 1);
    sorted[below] + (sorted[above] - sorted[below]) * (place - below as f64)
}
