//! The course of one simulated or metered day, and a whole year by day and hour: what charts are drawn from.

use schemars::JsonSchema;
use serde::Serialize;

/// One run's day, step by step. Energies are kWh in each step, temperatures degC at its end.
#[derive(Debug, Clone, Default, PartialEq, Serialize, JsonSchema)]
pub struct DayCourse {
    /// Day of the year, 0 to 364.
    pub day: usize,
    /// Steps of the day; every list has as many values, but for those said to be empty.
    pub steps: usize,
    /// Made by the panels; empty where it is not known.
    pub generation: Vec<f64>,
    /// Sent to the grid without a controller.
    pub export_before: Vec<f64>,
    /// Taken from the grid without a controller.
    pub import_before: Vec<f64>,
    /// Taken by the controller for the water.
    pub diverted: Vec<f64>,
    /// Put into a battery (below 0: taken out of it).
    pub battery: Vec<f64>,
    /// Still sent to the grid.
    pub export: Vec<f64>,
    /// Taken from the grid.
    pub import: Vec<f64>,
    /// Heat from the back-up.
    pub backup_heat: Vec<f64>,
    /// Heat drawn with the water.
    pub drawn_heat: Vec<f64>,
    /// Hot water drawn, litres counted at `drawn_at`.
    pub litres: Vec<f64>,
    /// At the top of the (first) cylinder.
    pub top_degc: Vec<f64>,
    /// Mean of all cylinders.
    pub mean_degc: Vec<f64>,
    /// At the bottom of the (first) cylinder.
    pub bottom_degc: Vec<f64>,
}

/// A quantity over a year, by day and step of the day.
#[derive(Debug, Clone, PartialEq)]
pub struct YearMap {
    /// Steps of a day.
    pub steps: usize,
    /// Value of step `s` of day `d` at `[d * steps + s]`; NaN where nothing is known. Days follow each other from the first.
    pub values: Vec<f64>,
    /// Date of the first day: year (none for a simulated year), month 1 to 12, day of the month.
    pub first: (Option<i32>, u8, u8),
}
