//! One day of a group of runs, step by step.

use super::super::course::DayCourse;
use super::super::flows::MeterDay;
use super::super::outputs::Output;
use super::backup::{self, Clock};
use super::draw;
use super::home::{Home, Hours};
use super::lanes::{Lanes, W, ZERO, each, flag, low};
use super::power::{self, Power};
use super::state::State;
use super::sums::Sums;
use super::{Make, TariffDay, water};
use crate::hotwater::HEAT_PER_VOLUME_KELVIN;
use crate::sampling::maths::kernels;

/// A back-up that gave less than this on a day, kWh, did not heat.
const NO_HEAT: f64 = 1e-9;

/// Runs of a batch that are computed in one go.
#[derive(Debug, Clone)]
pub(super) struct Group {
    pub(super) first: usize,
    pub(super) lanes: usize,
    pub(super) home: Home,
    pub(super) hours: Hours,
    pub(super) state: State,
    pub(super) sums: Sums,
}

/// What a day brings.
#[derive(Clone, Copy)]
pub(super) struct Day<'a> {
    pub(super) day: usize,
    pub(super) make: Make,
    pub(super) meter: &'a MeterDay,
    pub(super) litres: &'a [f64],
    pub(super) tariff: &'a TariffDay<'a>,
}

kernels! {
    /// A day of the water and the electricity of a group of runs.
    pub(super) fn cylinder_day(group: &mut Group, day: Day<'_>, trace: Option<(usize, &mut DayCourse)>) = day_of_group;
}

/// What a step brings: kWh, and litres.
struct Brought {
    export: Lanes,
    import: Lanes,
    generation: Lanes,
    litres: Lanes,
}

impl Group {
    /// Its lanes' values of a step; 0 in those that only fill it up, and where a list is too short.
    #[inline(always)]
    fn load(&self, from: &[f64], step: usize, lanes: usize) -> Lanes {
        let start = step * lanes + self.first;
        if let Some(values) = from.get(start..).and_then(<[f64]>::first_chunk::<W>)
            && self.lanes == W
        {
            return Lanes(*values);
        }
        let values = from.get(start..start + self.lanes).unwrap_or(&[]);
        let mut out = ZERO;
        for (lane, value) in values.iter().enumerate().take(W) {
            out[lane] = *value;
        }
        out
    }

    #[inline(always)]
    fn brought(&self, day: &Day<'_>, step: usize) -> Brought {
        let lanes = day.meter.lanes;
        Brought {
            export: self.load(&day.meter.export, step, lanes),
            import: self.load(&day.meter.import, step, lanes),
            generation: self.load(&day.meter.generation, step, lanes),
            litres: self.load(day.litres, step, lanes),
        }
    }
}

#[inline(always)]
fn day_of_group(group: &mut Group, day: Day<'_>, mut trace: Option<(usize, &mut DayCourse)>) {
    let stored = group.state.stored_kwh(&group.home);
    let battery = group.state.battery;
    let hygiene_today = hygiene_today(&group.home, day.day);
    for step in 0..day.make.steps {
        one_step(group, &day, step, &hygiene_today, trace.as_mut());
    }
    close(group, &stored, &battery);
}

/// 1 where a hygiene heat-up begins on the day.
#[inline(always)]
fn hygiene_today(home: &Home, day: usize) -> Lanes {
    home.backup.hygiene_days.map(|days| flag(days >= 1.0 && day.is_multiple_of(days as usize)))
}

#[inline(always)]
fn one_step(
    group: &mut Group,
    day: &Day<'_>,
    step: usize,
    hygiene_today: &Lanes,
    trace: Option<&mut (usize, &mut DayCourse)>,
) {
    let hours = 24.0 / day.make.steps as f64;
    let brought = group.brought(day, step);
    let Group { home, hours: times, state, sums, .. } = group;
    let drawn_before = *sums.of(Output::HeatDrawn);
    let mut power = Power::new(&brought.export, &brought.import, &home.controller.standby);
    if home.battery.there {
        power.charge(&mut state.battery, &home.battery, &home.battery.first);
    }
    let wanted = brought.litres.map(|litres| litres * (HEAT_PER_VOLUME_KELVIN / 1000.0));
    draw::draw(state, &home.store, &wanted, hours, sums);
    power::divert(state, home, &mut power, sums);
    let clock = Clock { hour: step as f64 * hours, hours, may_heat: &times.backup[step], hygiene_today };
    let heat = backup::heat(state, home, clock);
    if day.make.electric_backup {
        power.load(&heat);
    }
    if times.circulates {
        backup::circulate(state, home, &times.pump[step], sums);
    }
    rest(state, home, sums);
    if home.battery.there {
        power::settle(state, &home.battery, &mut power, sums);
    }
    let exported = meter(sums, home, &power, &heat, day.tariff, step);
    if !day.meter.generation.is_empty() {
        sums.add(Output::Generated, &brought.generation);
    }
    if let Some((lane, course)) = trace {
        let drawn = sums.of(Output::HeatDrawn)[*lane] - drawn_before[*lane];
        let after = After { power: &power, heat: &heat, exported: &exported, drawn };
        record(course, *lane, &brought, &after, home, state);
    }
}

/// Standing loss and conduction.
#[inline(always)]
fn rest(state: &mut State, home: &Home, sums: &mut Sums) {
    let store = &home.store;
    for c in 0..state.cylinders {
        let fade = &store.fade[c];
        let above = water::rest(state.cylinder(c), &store.ambient, fade, &store.exchange);
        sums.add(Output::StandingLoss, &each(|l| above[l] * fade[l] * store.capacity[l]));
    }
}

/// The factor of a step; 1 where none is given.
#[inline(always)]
fn factor(factors: &[f64], step: usize) -> f64 {
    factors.get(step).copied().unwrap_or(1.0)
}

/// What crosses the meter in the end. Returns the export.
#[inline(always)]
fn meter(
    sums: &mut Sums,
    home: &Home,
    power: &Power,
    heat: &Lanes,
    tariff: &TariffDay<'_>,
    step: usize,
) -> Lanes {
    let exported = each(|l| low(power.surplus[l], home.export_limit[l]));
    sums.add(Output::Exported, &exported);
    sums.add(Output::Curtailed, &each(|l| power.surplus[l] - exported[l]));
    sums.add(Output::Imported, &power.need);
    sums.add(Output::StandbyUse, &home.controller.standby);
    sums.add(Output::HeatFromBackup, heat);
    let (export, import) = (factor(tariff.export, step), factor(tariff.import, step));
    sums.add_times(Output::DivertedByTariff, &power.diverted, export);
    sums.add_times(Output::ExportedByTariff, &exported, export);
    sums.add_times(Output::ImportedByTariff, &power.need, import);
    sums.add_times(Output::BackupByTariff, heat, import);
    exported
}

/// What only the whole day tells.
#[inline(always)]
fn close(group: &mut Group, stored: &Lanes, battery: &Lanes) {
    let Group { home, state, sums, .. } = group;
    let now = state.stored_kwh(home);
    sums.add(Output::StoredChange, &each(|l| now[l] - stored[l]));
    sums.add(Output::BatteryChange, &each(|l| state.battery[l] - battery[l]));
    let (heat, too_cold) = (*sums.of(Output::HeatFromBackup), *sums.of(Output::HoursBelowComfort));
    let free = heat.map(|kwh| flag(kwh < NO_HEAT));
    sums.add(Output::BackupFreeDays, &free);
    sums.add(Output::DaysBySun, &each(|l| free[l] * flag(too_cold[l] <= 0.0)));
}

/// How a step went.
struct After<'a> {
    power: &'a Power,
    heat: &'a Lanes,
    exported: &'a Lanes,
    drawn: f64,
}

/// Writes down a step of one lane.
fn record(
    course: &mut DayCourse,
    l: usize,
    brought: &Brought,
    after: &After<'_>,
    home: &Home,
    state: &State,
) {
    let power = after.power;
    course.generation.push(brought.generation[l]);
    course.export_before.push(brought.export[l]);
    course.import_before.push(brought.import[l]);
    course.diverted.push(power.diverted[l]);
    course.battery.push(power.charged[l] - power.discharged[l] - power.drained[l]);
    course.export.push(after.exported[l]);
    course.import.push(power.need[l]);
    course.backup_heat.push(after.heat[l]);
    course.drawn_heat.push(after.drawn);
    course.litres.push(brought.litres[l]);
    course.top_degc.push(state.top(0)[l]);
    course.bottom_degc.push(state.water[0][l]);
    let capacity: f64 = home.store.there.iter().map(|there| there[l]).sum::<f64>() * state.layers as f64;
    course.mean_degc.push(state.stored_kwh(home)[l] * home.store.per_capacity[l] / capacity);
}
