//! A simulated home as a block operation of the engine: settings in, twelve amounts of each wanted output out.

use std::collections::{BTreeMap, HashMap};
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
/// Most memory that remembered years take, bytes.
const MOST_KEPT: usize = 128 * 1024 * 1024;

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
    /// Years simulated so far. Each question asked of the runs goes through them once more, and most change nothing that
    /// a home hangs on: without this three break-even questions take a study as long as four studies.
    pub years: Years,
}

/// Outputs of a run (or of the base case) by its number and the bits of its operands.
pub type Years = Mutex<HashMap<(u64, Vec<u64>), Arc<[f64]>>>;

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

    /// Key of a lane's year.
    fn key_of(run: u64, args: &[&[f64]], lane: usize) -> (u64, Vec<u64>) {
        (run, args.iter().map(|column| column[lane].to_bits()).collect())
    }

    /// The years of these keys, where all are known.
    fn known(&self, keys: &[(u64, Vec<u64>)]) -> Option<Vec<Arc<[f64]>>> {
        // A thread that panicked with the lock has only left fewer years.
        let years = self.years.lock().unwrap_or_else(PoisonError::into_inner);
        keys.iter().map(|key| years.get(key).map(Arc::clone)).collect()
    }

    fn keep(&self, new: impl Iterator<Item = ((u64, Vec<u64>), Arc<[f64]>)>) {
        let mut years = self.years.lock().unwrap_or_else(PoisonError::into_inner);
        for (key, values) in new {
            let each = 8 * (values.len() + key.1.len()) + 128;
            if (years.len() + 1) * each <= MOST_KEPT {
                years.insert(key, values);
            }
        }
    }

    /// Every lane by itself: the mean of the same few years. Equal lanes are made once.
    fn base_cases(&self, n: usize, args: &[&[f64]], out: &mut [Vec<f64>]) {
        let keys: Vec<(u64, Vec<u64>)> = (0..n).map(|lane| Self::key_of(BASE_RUN, args, lane)).collect();
        let mut different: BTreeMap<&(u64, Vec<u64>), usize> = BTreeMap::new();
        for (lane, key) in keys.iter().enumerate() {
            different.entry(key).or_insert(lane);
        }
        let made: BTreeMap<&(u64, Vec<u64>), Arc<[f64]>> = different
            .into_par_iter()
            .map(|(key, lane)| {
                let known = self.known(std::slice::from_ref(key)).and_then(|mut known| known.pop());
                (key, known.unwrap_or_else(|| self.base_case(lane, args).into()))
            })
            .collect();
        for (lane, key) in keys.iter().enumerate() {
            if let Some(values) = made.get(key) {
                out.iter_mut().zip(&**values).for_each(|(column, value)| column[lane] = *value);
            }
        }
        self.keep(made.into_iter().map(|(key, values)| (key.clone(), values)));
    }

    /// Years of the runs from `first` on, whose operands stand from lane `start` on.
    fn years_of(&self, first: u64, start: usize, n: usize, args: &[&[f64]]) -> Vec<Arc<[f64]>> {
        let keys: Vec<(u64, Vec<u64>)> =
            (0..n).map(|lane| Self::key_of(first + lane as u64, args, start + lane)).collect();
        if let Some(known) = self.known(&keys) {
            return known;
        }
        let (settings, sound) = self.settings(args, n, |lane| start + lane);
        let totals = self.totals(first, &settings);
        let made: Vec<Arc<[f64]>> = (0..n)
            .map(|lane| {
                let mut values = Vec::with_capacity(self.outputs());
                for (output, scale) in &self.wanted {
                    values.extend((0..12).map(|month| totals.at(*output, month)[lane] * scale));
                }
                if !sound[lane] {
                    values.fill(f64::NAN);
                }
                values.into()
            })
            .collect();
        self.keep(keys.into_iter().zip(made.iter().map(Arc::clone)));
        made
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
            let years = self.years_of(runs.first + start as u64, start, n, args);
            for (lane, values) in years.iter().enumerate() {
                out.iter_mut().zip(&**values).for_each(|(column, value)| column[start + lane] = *value);
            }
        }
    }
}
