//! Electricity that a home uses, and what of its generation is left: export and import at the meter.
//!
//! Use is steady (`base`: a profile over day and year) plus bursts of appliances switched on by chance (`bursts`).
//! When nobody is there only what is always on remains. The expected use of a year *with* its days away is the setting
//! `electricity`, as a bill would say: so use at home is scaled up by what days away are expected to save.

pub(crate) mod base;
pub(crate) mod bursts;
pub(crate) mod settle;

use super::away::{AwayBatch, Hemisphere};
use super::chance::{Chance, Stream};
use super::phases::{Netting, Phases};
use super::settings::{Setting, Settings};
use super::time;
use crate::sampling::Vectors;
use base::{ALWAYS_ON, Base};
use bursts::{Chances, Habits, NONE, SLOTS};
use settle::{Bursts, Steady};

/// What all runs have in common: profiles, phases, the hemisphere.
#[derive(Debug, Clone)]
pub struct Household {
    steps: usize,
    /// The day's smallest common parts of steps and slots.
    windows: usize,
    base: Base,
    chances: Chances,
    phases: Phases,
    hemisphere: Hemisphere,
}

impl Household {
    /// In days of `steps` steps (at least one).
    pub fn new(hemisphere: Hemisphere, phases: Phases, steps: usize) -> Household {
        let steps = steps.max(1);
        let windows = steps / common_divisor(steps, SLOTS) * SLOTS;
        Household {
            steps,
            windows,
            base: Base::new(hemisphere.coldest_day(), windows),
            chances: Chances::new(windows),
            phases,
            hemisphere,
        }
    }

    /// Steps of a day.
    pub fn steps(&self) -> usize {
        self.steps
    }

    /// The year of a batch of runs. `settings` has a value for each of its lanes.
    pub fn batch<'a>(&'a self, settings: &'a Settings, chance: &Chance<'_>) -> HouseholdBatch<'a> {
        debug_assert_eq!(settings.lanes(), chance.lanes);
        let away = AwayBatch::new(self.hemisphere, settings, chance);
        let away_days = (0..chance.lanes).map(|lane| expected_away(&away, lane)).collect();
        let phases: Vec<PhaseShare> = self.metered_phases();
        HouseholdBatch {
            lanes: Lanes::new(chance.lanes, phases.len()),
            phases,
            household: self,
            settings,
            away,
            away_days,
            stream: chance.stream("appliances"),
            phase_stream: chance.stream("phases"),
            vectors: chance.vectors,
            month: None,
        }
    }

    /// The phases that are settled apart.
    fn metered_phases(&self) -> Vec<PhaseShare> {
        match self.phases.netting() {
            Netting::AllPhases => vec![PhaseShare { demand: 1.0, demand_before: 0.0, generation: 1.0 }],
            Netting::EachPhase => {
                let mut demand_before = 0.0;
                let shares = self.phases.demand().into_iter().zip(self.phases.generation());
                shares
                    .map(|(demand, generation)| {
                        let phase = PhaseShare { demand, demand_before, generation };
                        demand_before += demand;
                        phase
                    })
                    .collect()
            }
        }
    }
}

/// Share of a phase that is settled by itself.
#[derive(Debug, Clone, Copy)]
struct PhaseShare {
    demand: f64,
    /// Sum of the phases before it.
    demand_before: f64,
    generation: f64,
}

fn common_divisor(a: usize, b: usize) -> usize {
    if b == 0 { a } else { common_divisor(b, a % b) }
}

/// Days of each month on which nobody is expected to be there.
fn expected_away(away: &AwayBatch, lane: usize) -> [f64; 12] {
    let mut days = [0.0; 12];
    if away.any() {
        for day in 0..time::DAYS {
            days[time::month_of(day)] += away.chance_of(lane, day);
        }
    }
    days
}

/// Values by lane.
#[derive(Debug)]
struct Lanes {
    always_on: Vec<f64>,
    people: Vec<f64>,
    extra: Vec<f64>,
    inverse: Vec<f64>,
    power: Vec<f64>,
    people_today: Vec<f64>,
    extra_today: Vec<f64>,
    inverse_today: Vec<f64>,
    uniforms: Vec<f64>,
    phase_uniforms: Vec<f64>,
    kw: Vec<f64>,
    from: Vec<f64>,
    to: Vec<f64>,
    left_to: Vec<f64>,
    /// Of each phase that is settled apart: power still on from before, and power switched on.
    left_kw: Vec<Vec<f64>>,
    phase_kw: Vec<Vec<f64>>,
}

impl Lanes {
    fn new(lanes: usize, phases: usize) -> Lanes {
        let zeros = || vec![0.0; lanes];
        Lanes {
            always_on: zeros(),
            people: zeros(),
            extra: zeros(),
            inverse: zeros(),
            power: zeros(),
            people_today: zeros(),
            extra_today: zeros(),
            inverse_today: zeros(),
            uniforms: zeros(),
            phase_uniforms: zeros(),
            kw: zeros(),
            from: zeros(),
            to: zeros(),
            left_to: zeros(),
            left_kw: vec![zeros(); phases],
            phase_kw: vec![zeros(); phases],
        }
    }

    /// Who is away has no one to switch anything on.
    fn of_today(&mut self, away: &[f64]) {
        for (lane, &away) in away.iter().enumerate() {
            let gone = away > 0.0;
            self.people_today[lane] = if gone { 0.0 } else { self.people[lane] };
            self.extra_today[lane] = if gone { 0.0 } else { self.extra[lane] };
            self.inverse_today[lane] = if gone { NONE } else { self.inverse[lane] };
        }
    }
}

/// The use of a batch of runs, day by day.
#[derive(Debug)]
pub struct HouseholdBatch<'a> {
    household: &'a Household,
    settings: &'a Settings,
    phases: Vec<PhaseShare>,
    away: AwayBatch,
    away_days: Vec<[f64; 12]>,
    stream: Stream,
    phase_stream: Stream,
    vectors: Vectors,
    lanes: Lanes,
    month: Option<usize>,
}

impl HouseholdBatch<'_> {
    /// Export and import of each step of a day, at `[step * lanes + lane]` in kWh, given what the panels make in each
    /// step. Days are asked for in order from 0.
    pub fn day(&mut self, day: usize, generation: &[f64], export: &mut [f64], import: &mut [f64]) {
        let month = time::month_of(day);
        if self.month != Some(month) {
            self.month_begins(month);
            if self.month.is_none() {
                // The last half hour before New Year, for what is still on.
                self.lanes.of_today(&vec![0.0; self.settings.lanes()]);
                self.switch_on(SLOTS - 1, 500 * 64);
                self.carry();
            }
            self.month = Some(month);
        }
        self.lanes.of_today(self.away.day(day));
        let (windows, steps) = (self.household.windows, self.household.steps);
        let (in_slot, in_step) = (windows / SLOTS, windows / steps);
        let lanes = self.settings.lanes();
        for slot in 0..SLOTS {
            self.switch_on(slot, (day * 64 + slot) as u32);
            for part in 0..in_slot {
                let window = slot * in_slot + part;
                let at = window / in_step * lanes;
                let range = at..at + lanes;
                let ends = (part as f64 / in_slot as f64, (part + 1) as f64 / in_slot as f64);
                let (export, import) = (&mut export[range.clone()], &mut import[range.clone()]);
                if window % in_step == 0 {
                    export.fill(0.0);
                    import.fill(0.0);
                }
                self.settle((month, window), ends, &generation[range], export, import);
            }
            self.carry();
        }
    }

    /// Levels of a month from its settings.
    fn month_begins(&mut self, month: usize) {
        let yearly = self.settings.at(Setting::Electricity, month);
        let shares = self.settings.at(Setting::ApplianceShare, month);
        let days = time::DAYS as f64;
        let lanes = &mut self.lanes;
        for lane in 0..yearly.len() {
            let share = shares[lane];
            let (people, bursts) = ((1.0 - share) * (1.0 - ALWAYS_ON), share);
            let saved: f64 = (self.away_days[lane].iter().zip(&self.household.base.day_kwh))
                .map(|(away, day_kwh)| away * (people * day_kwh + bursts / days))
                .sum();
            let level = yearly[lane] / (1.0 - saved);
            let rate = self.household.chances.rate(level * bursts / days);
            lanes.always_on[lane] = level * (1.0 - share) * ALWAYS_ON / (days * 24.0);
            lanes.people[lane] = level * people;
            lanes.extra[lane] = rate.steady_kwh;
            lanes.inverse[lane] = rate.inverse;
            lanes.power[lane] = rate.power;
        }
    }

    /// Appliances of a slot.
    fn switch_on(&mut self, slot: usize, part: u32) {
        let Lanes { uniforms, phase_uniforms, inverse_today, power, kw, from, to, phase_kw, .. } =
            &mut self.lanes;
        // A slot and the one before it share their uniforms.
        let second = slot % 2 == 1;
        if !second || self.month.is_none() {
            self.stream.uniforms(part / 2, uniforms);
        }
        let limits = self.household.chances.limits(slot);
        let habits = Habits { inverse: inverse_today, power, limits };
        if let [all] = phase_kw.as_mut_slice() {
            self.vectors.start_bursts(uniforms, second, habits, all, from, to);
            return;
        }
        self.vectors.start_bursts(uniforms, second, habits, kw, from, to);
        self.phase_stream.uniforms(part, phase_uniforms);
        let last = self.phases.len() - 1;
        for (at, (of_phase, share)) in phase_kw.iter_mut().zip(&self.phases).enumerate() {
            let least = share.demand_before;
            let most = if at == last { 2.0 } else { least + share.demand };
            for ((of_phase, &kw), &u) in of_phase.iter_mut().zip(kw.iter()).zip(phase_uniforms.iter()) {
                *of_phase = if u >= least && u < most { kw } else { 0.0 };
            }
        }
    }

    /// What of it is still on in the next slot.
    fn carry(&mut self) {
        let Lanes { to, left_kw, left_to, phase_kw, .. } = &mut self.lanes;
        for (left_kw, phase_kw) in left_kw.iter_mut().zip(phase_kw) {
            self.vectors.carry_bursts(phase_kw, to, left_kw, left_to);
        }
    }

    /// Adds a window of a slot, phase by phase.
    fn settle(
        &self,
        (month, window): (usize, usize),
        ends: (f64, f64),
        generation: &[f64],
        export: &mut [f64],
        import: &mut [f64],
    ) {
        let (household, lanes) = (self.household, &self.lanes);
        let dark = self.vectors.is_dark(generation);
        for (at, phase) in self.phases.iter().enumerate() {
            let bursts = Bursts {
                old_kw: &lanes.left_kw[at],
                old_to: &lanes.left_to,
                kw: &lanes.phase_kw[at],
                from: &lanes.from,
                to: &lanes.to,
            };
            let steady = Steady {
                always_on: &lanes.always_on,
                people: &lanes.people_today,
                people_kw: household.base.month(month)[window],
                extra: &lanes.extra_today,
                extra_kw: household.chances.spread_kw[window],
                demand_share: phase.demand,
                generation,
                generation_kw: phase.generation * household.steps as f64 / 24.0,
            };
            if dark {
                self.vectors.settle_dark(ends, bursts, steady, import);
            } else {
                self.vectors.settle_window(ends, bursts, steady, export, import);
            }
        }
    }
}

#[cfg(test)]
mod tests;
