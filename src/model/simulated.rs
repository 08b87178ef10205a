//! A simulated home as a block operation of the engine: settings in, twelve amounts of each wanted output out.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};

use rayon::prelude::*;

use crate::engine::block::{BASE_RUN, BlockOp, Runs};
use crate::hotwater::chance::Chance;
use crate::hotwater::home::Home;
use crate::hotwater::outputs::{Output, Totals};
use crate::hotwater::settings::{Setting, Settings};
use crate::sampling::Vectors;
use crate::units::Unit;

/// Runs simulated side by side: as many as keep a day's flows in the second cache.
const LANES: usize = 128;
/// Years whose mean is the base case: the weather of one year alone would move it by several per cent. As many as the
/// cylinder takes side by side at the price of one.
pub const BASE_YEARS: usize = 16;
/// Most base cases that are remembered.
const MOST_KEPT: usize = 4096;

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
    /// Which compiled form of the loops is used.
    pub vectors: Vectors,
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
    /// Base cases made so far, by the bits of their operands: a tornado asks for the same one again and again.
    pub base_cases: BaseCases,
}

/// Outputs of base cases by the bits of their operands.
pub type BaseCases = Mutex<BTreeMap<Vec<u64>, Vec<f64>>>;

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
        let chance = Chance { seed: self.seed, name: &self.stream, first, lanes, vectors: self.vectors };
        let beside = self.wanted.iter().any(|(output, _)| output.needs_both());
        self.home.year(settings, &chance, beside)
    }

    /// Every lane by itself: the mean of the same few years.
    fn base_cases(&self, n: usize, args: &[&[f64]], out: &mut [Vec<f64>]) {
        let keys: Vec<Vec<u64>> =
            (0..n).map(|lane| args.iter().map(|column| column[lane].to_bits()).collect()).collect();
        // A thread that panicked with the lock has only left fewer entries.
        let lock = || self.base_cases.lock().unwrap_or_else(PoisonError::into_inner);
        let mut known = lock().clone();
        let mut new: BTreeMap<&Vec<u64>, usize> = BTreeMap::new();
        for (lane, key) in keys.iter().enumerate().filter(|(_, key)| !known.contains_key(*key)) {
            new.entry(key).or_insert(lane);
        }
        let made: Vec<(Vec<u64>, Vec<f64>)> =
            new.into_par_iter().map(|(key, lane)| (key.clone(), self.base_case(lane, args))).collect();
        known.extend(made);
        for (lane, key) in keys.iter().enumerate() {
            if let Some(values) = known.get(key) {
                out.iter_mut().zip(values).for_each(|(column, value)| column[lane] = *value);
            }
        }
        let mut kept = lock();
        if kept.len() + known.len() <= MOST_KEPT {
            kept.extend(known);
        }
    }

    fn base_case(&self, lane: usize, args: &[&[f64]]) -> Vec<f64> {
        let (settings, sound) = self.settings(args, BASE_YEARS, |_| lane);
        let totals = self.totals(BASE_RUN, &settings);
        let mut values = Vec::with_capacity(self.outputs());
        for (output, scale) in &self.wanted {
            for month in 0..12 {
                let sum: f64 = totals.at(*output, month).iter().sum();
                values.push(if sound[0] { sum / BASE_YEARS as f64 * scale } else { f64::NAN });
            }
        }
        values
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
            return self.base_cases(runs.n, args, out);
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
