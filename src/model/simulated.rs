//! A simulated home as a block operation of the engine: settings in, twelve amounts of each wanted output out.

use std::sync::Arc;

use crate::engine::block::{BASE_RUN, BlockOp, Runs};
use crate::hotwater::chance::Chance;
use crate::hotwater::home::Home;
use crate::hotwater::outputs::{Output, Totals};
use crate::hotwater::settings::{Setting, Settings};
use crate::sampling::Vectors;
use crate::units::Unit;

/// Runs simulated side by side: as many as keep a day's flows in the second cache.
const LANES: usize = 128;
/// Years whose mean is the base case: the weather of one year alone would move it by several per cent.
pub const BASE_YEARS: usize = 8;

/// Where a value of a setting comes from.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// The same in all runs, in the setting's unit.
    Held(f64),
    /// An operand, in base units.
    Operand(usize),
}

/// A setting with its unit and its cells: one, or one for each month.
#[derive(Debug, Clone)]
pub struct SettingCells {
    /// Which.
    pub setting: Setting,
    /// In which the simulation takes it.
    pub unit: Unit,
    /// Its values.
    pub cells: Vec<Cell>,
}

/// The year of a simulated home. Outputs: those wanted, twelve months each, in base units.
pub struct SimulatedYear {
    /// Seed of the study.
    pub seed: u64,
    /// Name of its streams.
    pub stream: String,
    /// What is the same in all runs, in words that are equal only for equal homes.
    pub content: String,
    /// What is the same in all runs.
    pub home: Arc<Home>,
    /// Settings that are not at their defaults.
    pub settings: Vec<SettingCells>,
    /// Outputs with the size of their unit in base units.
    pub wanted: Vec<(Output, f64)>,
}

impl SimulatedYear {
    /// Settings of lanes `from..from + n`, or of one lane `n` times over; and whether each lane's can be simulated.
    fn settings(&self, args: &[&[f64]], n: usize, place: impl Fn(usize) -> usize) -> (Settings, Vec<bool>) {
        let mut settings = Settings::new(n);
        let mut sound = vec![true; n];
        for SettingCells { setting, unit, cells } in &self.settings {
            let info = setting.info();
            let column = |cell: &Cell| -> Vec<f64> {
                (0..n)
                    .map(|lane| match cell {
                        Cell::Held(value) => *value,
                        Cell::Operand(k) => unit.from_base(args[*k][place(lane)]),
                    })
                    .collect()
            };
            let mut columns: Vec<Vec<f64>> = cells.iter().map(column).collect();
            for column in &mut columns {
                for (value, sound) in column.iter_mut().zip(&mut sound) {
                    if !(info.least..=info.most).contains(value) {
                        *sound = false;
                        *value = info.default.unwrap_or(info.least);
                    }
                }
            }
            settings.set(*setting, columns);
        }
        (settings, sound)
    }

    fn totals(&self, first: u64, settings: &Settings) -> Totals {
        let lanes = settings.lanes();
        let chance = Chance { seed: self.seed, name: &self.stream, first, lanes, vectors: Vectors::Widest };
        let beside = self.wanted.iter().any(|(output, _)| output.needs_both());
        self.home.year(settings, &chance, beside)
    }

    /// Every lane by itself: the mean of the same few years.
    fn base_case(&self, n: usize, args: &[&[f64]], out: &mut [Vec<f64>]) {
        for lane in 0..n {
            let (settings, sound) = self.settings(args, BASE_YEARS, |_| lane);
            let totals = self.totals(BASE_RUN, &settings);
            for (k, (output, scale)) in self.wanted.iter().enumerate() {
                for month in 0..12 {
                    let sum: f64 = totals.at(*output, month).iter().sum();
                    let mean = sum / BASE_YEARS as f64 * scale;
                    out[12 * k + month][lane] = if sound[0] { mean } else { f64::NAN };
                }
            }
        }
    }
}

impl BlockOp for SimulatedYear {
    fn key(&self) -> String {
        let settings: Vec<String> =
            self.settings.iter().map(|s| format!("{:?} {:?}", s.setting, s.cells)).collect();
        let wanted: Vec<Output> = self.wanted.iter().map(|(output, _)| *output).collect();
        format!("year of {} with {settings:?}: {wanted:?}; {}", self.stream, self.content)
    }

    fn outputs(&self) -> usize {
        12 * self.wanted.len()
    }

    fn draws(&self) -> bool {
        true
    }

    fn evaluate(&self, runs: Runs, args: &[&[f64]], out: &mut [Vec<f64>], _scratch: &mut Vec<f64>) {
        if runs.are_base_case() {
            return self.base_case(runs.n, args, out);
        }
        for start in (0..runs.n).step_by(LANES) {
            let n = LANES.min(runs.n - start);
            let (settings, sound) = self.settings(args, n, |lane| start + lane);
            let totals = self.totals(runs.first + start as u64, &settings);
            for (k, (output, scale)) in self.wanted.iter().enumerate() {
                for month in 0..12 {
                    let to = &mut out[12 * k + month][start..start + n];
                    for ((to, from), sound) in to.iter_mut().zip(totals.at(*output, month)).zip(&sound) {
                        *to = if *sound { from * scale } else { f64::NAN };
                    }
                }
            }
        }
    }
}
