//! A home without readings: simulated sun on its panels, less what the household uses. What is left over is exported.

use super::chance::Chance;
use super::flows::{MeterDay, MeterYear};
use super::household::{Household, HouseholdBatch};
use super::settings::{Setting, Settings};
use super::time;
use crate::sampling::Vectors;
use crate::sampling::maths::kernels;

/// Panels' output before losses, a year at a time for a batch of runs.
pub trait PanelOutput {
    /// Fills `kwh_per_kwp[step * lanes + lane]` with what each rated kilowatt of the panels makes in each step of a day,
    /// at the panels and before all losses. Days are asked for in order from 0.
    fn day(&mut self, day: usize, kwh_per_kwp: &mut [f64]);
}

/// Meter of such a home, for a batch of runs.
#[derive(Debug)]
pub struct SimulatedHome<'a, O> {
    settings: &'a Settings,
    household: HouseholdBatch<'a>,
    output: O,
    steps: usize,
    vectors: Vectors,
    month: Option<usize>,
    /// Panels less their losses, and the most kWh in a step, by lane.
    factor: Vec<f64>,
    limit: Vec<f64>,
}

impl<'a, O: PanelOutput> SimulatedHome<'a, O> {
    /// The household's use against the output of the panels (settings `panels`, `sun_loss`, `inverter_limit`).
    pub fn new(household: &'a Household, settings: &'a Settings, chance: &Chance<'_>, output: O) -> Self {
        let batch = household.batch(settings, chance);
        SimulatedHome {
            settings,
            household: batch,
            output,
            steps: household.steps(),
            vectors: chance.vectors,
            month: None,
            factor: Vec::new(),
            limit: Vec::new(),
        }
    }

    /// From output of a rated kilowatt to that of the home's panels at the inverter's far side.
    fn scale(&mut self, day: usize, generation: &mut [f64]) {
        let month = time::month_of(day);
        if self.month != Some(month) {
            self.month = Some(month);
            let panels = self.settings.at(Setting::Panels, month);
            let losses = self.settings.at(Setting::SunLoss, month);
            self.factor = panels.iter().zip(losses).map(|(panels, loss)| panels * (1.0 - loss)).collect();
            let hours = 24.0 / self.steps as f64;
            let limits = self.settings.at(Setting::InverterLimit, month);
            self.limit = limits.iter().map(|limit| limit * hours).collect();
        }
        self.vectors.scale_generation(&self.factor, &self.limit, generation);
    }
}

kernels! {
    /// Output times the factor of its lane, from 0 to the limit of its lane.
    fn scale_generation(factor: &[f64], limit: &[f64], generation: &mut [f64]) = scale_all;
}

#[inline(always)]
fn scale_all(factor: &[f64], limit: &[f64], generation: &mut [f64]) {
    for step in generation.chunks_exact_mut(factor.len().max(1)) {
        for ((g, factor), limit) in step.iter_mut().zip(factor).zip(limit) {
            let made = *g * factor;
            let made = if made > 0.0 { made } else { 0.0 };
            *g = if made > *limit { *limit } else { made };
        }
    }
}

impl<O: PanelOutput> MeterYear for SimulatedHome<'_, O> {
    fn fill(&mut self, day: usize, out: &mut MeterDay) {
        self.output.day(day, &mut out.generation);
        self.scale(day, &mut out.generation);
        self.household.day(day, &out.generation, &mut out.export, &mut out.import);
    }
}

#[cfg(test)]
mod tests;
