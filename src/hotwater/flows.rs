//! What crosses a home's meter on one day, before a controller acts.

/// Energy of each step in kWh: of step `s` and lane `l` at `[s * lanes + l]`.
#[derive(Debug, Clone, Default)]
pub struct MeterDay {
    /// Steps of the day.
    pub steps: usize,
    /// Runs side by side.
    pub lanes: usize,
    /// Sent to the grid.
    pub export: Vec<f64>,
    /// Taken from the grid.
    pub import: Vec<f64>,
    /// Made by the panels; empty where it is not known.
    pub generation: Vec<f64>,
}

impl MeterDay {
    /// Room for a day of `lanes` runs.
    pub fn new(steps: usize, lanes: usize) -> Self {
        let zeros = vec![0.0; steps * lanes];
        MeterDay { steps, lanes, export: zeros.clone(), import: zeros.clone(), generation: zeros }
    }
}

/// A year of such days for a batch of runs. Days are asked for in order from 0 to 364.
pub trait MeterYear {
    /// Fills `out` with day `day`.
    fn fill(&mut self, day: usize, out: &mut MeterDay);
}
