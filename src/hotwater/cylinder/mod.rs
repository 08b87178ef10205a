//! The water and the electricity of homes with a hot-water cylinder, a surplus controller, back-up heat and a battery:
//! half hour by half hour, many runs side by side.
//!
//! Each step takes its events in this order: standby draw; a battery that comes before the water is filled; hot water is
//! drawn and cold water comes in; the controller heats with what surplus is left; back-up heat; pumped circulation;
//! standing loss and conduction between layers; a battery that comes after the water is filled, and serves the home; what
//! is left crosses the meter. Heat and electricity are each accounted for to the last digit:
//!
//! - heat: `heat_from_sun + heat_from_grid + heat_from_backup - heat_drawn - heat_lost_standing - heat_lost_circulating
//!   = stored_change`;
//! - electricity: `export before + imported + battery_out + battery_into_water = import before + exported + curtailed +
//!   diverted + battery_into_water + battery_in + standby_use (+ heat_from_backup where it is electric)`;
//! - element: `diverted + battery_into_water = heat_from_sun + heat_from_grid + controller_loss`;
//! - battery: `battery_in - battery_out - battery_into_water - battery_loss = battery_change`.
//!
//! How it is laid out: `lanes` (groups of runs), `home` (settings as factors of a step), `state`, then what happens:
//! `draw`, `power` (controller, battery), `backup` (and circulation) on `water`, the physics of one cylinder; `day` puts them
//! in order, `sums` adds them up.

mod backup;
mod day;
mod draw;
mod home;
mod lanes;
mod power;
mod state;
mod sums;
#[cfg(test)]
mod tests;
mod water;
mod windows;

use self::day::{Day, Group};
use self::home::{Home, Hours};
use self::lanes::{Lanes, W};
use self::state::State;
use self::sums::Sums;
use super::course::DayCourse;
use super::flows::MeterDay;
use super::outputs::Totals;
use super::settings::{Setting, Settings};
use super::time::month_of;
use crate::sampling::Vectors;

/// What is the same in all runs of a batch.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Make {
    /// Steps of a day.
    pub steps: usize,
    /// Layers of each cylinder, 1 (fully mixed) to 20.
    pub layers: usize,
    /// Whether the outlet of each cylinder feeds the next (then the back-up heats only the last, but for hygiene
    /// heat-ups, which reach all); else each gives an equal share of the draw.
    pub in_series: bool,
    /// Whether water hotter than `drawn_at` is mixed down to it; else the litres are taken as they are.
    pub mixed_at_tap: bool,
    /// Whether back-up heat is electricity.
    pub electric_backup: bool,
}

impl Default for Make {
    fn default() -> Self {
        Make { steps: 48, layers: 10, in_series: false, mixed_at_tap: true, electric_backup: false }
    }
}

/// Factors of a tariff, one for each step of a day, the same in all runs. Where there is none for a step, it is 1.
#[derive(Debug, Clone, Copy)]
pub struct TariffDay<'a> {
    /// On what is sent to the grid.
    pub export: &'a [f64],
    /// On what is taken from it.
    pub import: &'a [f64],
}

/// The homes of a batch of runs, as they stand after the days that have passed, and what these came to.
#[derive(Debug, Clone)]
pub struct Cylinder {
    settings: Settings,
    make: Make,
    controller: bool,
    vectors: Vectors,
    groups: Vec<Group>,
    totals: Totals,
    month: usize,
    homes_by_month: bool,
    hours_by_month: bool,
}

impl Cylinder {
    /// Homes as the year begins: water as the back-up leaves it (cold where there is none), batteries empty. Settings by
    /// month are followed, but for `cylinders`, `volume` and `battery`, whose January counts for the year: else heat would
    /// come from nowhere. Without a controller there is no standby draw and nothing is diverted.
    pub fn new(settings: &Settings, make: Make, with_controller: bool, vectors: Vectors) -> Cylinder {
        let make =
            Make { steps: make.steps.max(1), layers: make.layers.clamp(1, water::MOST_LAYERS), ..make };
        let lanes = settings.lanes();
        let group = |first: usize| {
            let home = Home::new(settings, make, with_controller, first, 0);
            let state = State::new(&home, make);
            let hours = Hours::new(settings, make, first, 0);
            Group { first, lanes: W.min(lanes - first), home, hours, state, sums: Sums::new() }
        };
        Cylinder {
            make,
            controller: with_controller,
            vectors,
            groups: (0..lanes).step_by(W).map(group).collect(),
            totals: Totals::new(lanes),
            month: 0,
            homes_by_month: Setting::ALL.iter().any(|&setting| settings.by_month(setting)),
            hours_by_month: Hours::by_month(settings),
            settings: settings.clone(),
        }
    }

    /// Lives through day `day` (0 to 364): what crosses the meter without a controller, the litres drawn in each step
    /// (`[step * lanes + lane]`, counted at `drawn_at`), and the tariff. Records the course of one lane if asked to.
    pub fn day(
        &mut self,
        day: usize,
        meter: &MeterDay,
        litres: &[f64],
        tariff: &TariffDay<'_>,
        mut trace: Option<(usize, &mut DayCourse)>,
    ) {
        self.enter(month_of(day));
        if let Some((_, course)) = trace.as_mut() {
            **course = DayCourse { day, steps: self.make.steps, ..DayCourse::default() };
        }
        let today = Day { day, make: self.make, meter, litres, tariff };
        for group in &mut self.groups {
            let within = group.first..group.first + group.lanes;
            let traced = trace.as_mut().filter(|(lane, _)| within.contains(lane));
            let traced = traced.map(|(lane, course)| (*lane - group.first, &mut **course));
            self.vectors.cylinder_day(group, today, traced);
            group.sums.flush(&mut self.totals, self.month, group.first, group.lanes);
        }
        if let Some((_, course)) = trace
            && meter.generation.is_empty()
        {
            course.generation.clear();
        }
    }

    /// Takes the settings of a month.
    fn enter(&mut self, month: usize) {
        if month == self.month {
            return;
        }
        self.month = month;
        for group in &mut self.groups {
            if self.homes_by_month {
                group.home = Home::new(&self.settings, self.make, self.controller, group.first, month);
            }
            if self.hours_by_month {
                group.hours = Hours::new(&self.settings, self.make, group.first, month);
            }
        }
    }

    /// What the days so far came to: all outputs but `displaced` and those "before", which need the same home without a
    /// controller.
    pub fn totals(&self) -> &Totals {
        &self.totals
    }

    /// Heat held by the water of a lane, above water of 0 degC: kWh. 0 for a lane that is not there.
    pub fn stored_kwh(&self, lane: usize) -> f64 {
        self.of(lane, |group| group.state.stored_kwh(&group.home))
    }

    /// Electricity held by the battery of a lane: kWh. 0 for a lane that is not there.
    pub fn battery_kwh(&self, lane: usize) -> f64 {
        self.of(lane, |group| group.state.battery)
    }

    fn of(&self, lane: usize, value: impl Fn(&Group) -> Lanes) -> f64 {
        let group = self.groups.get(lane / W).filter(|group| lane - group.first < group.lanes);
        group.map_or(0.0, |group| value(group)[lane % W])
    }
}
