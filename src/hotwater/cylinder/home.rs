//! What the settings of a group of runs come to in a month: factors for each step, worked out once.

use super::super::HEAT_PER_VOLUME_KELVIN;
use super::super::settings::{Setting, Settings};
use super::Make;
use super::lanes::{Lanes, ZERO, any, each, flag, high, low};
use super::windows::{hours_within, hours_within_either};

/// Most cylinders of a home.
pub(super) const MOST_CYLINDERS: usize = 4;

/// Effective conductivity between layers, W/m/K: 0.6 of still water and 0.9 of a steel wall of 2 mm (50 W/m/K) around
/// a cylinder of 0.45 m, per area of water. Newton 1995 (*Modeling of solar storage tanks*, University of
/// Wisconsin-Madison) treats the wall in the same way.
const CONDUCTIVITY: f64 = 1.5;

/// Height of a cylinder over its diameter.
const SLENDERNESS: f64 = 3.0;

/// Standing losses are stated for this difference between water and surroundings, K.
const LOSS_STATED_AT: f64 = 45.0;

/// Pumped circulation takes no heat from water colder than this, degC: a loop that cold serves no tap.
pub(super) const CIRCULATED_ABOVE: f64 = 40.0;

/// The layer that lies at a height, and the lanes in which it does.
#[derive(Debug, Clone)]
pub(super) struct Spot {
    pub(super) layer: usize,
    pub(super) here: Lanes,
}

/// A setting's values in the lanes of a group: of lane `first` on, the last one repeated to fill the group.
struct Columns<'a> {
    settings: &'a Settings,
    month: usize,
    first: usize,
}

impl Columns<'_> {
    fn of(&self, setting: Setting) -> Lanes {
        let all = self.settings.at(setting, self.month);
        let last = all.len().saturating_sub(1);
        each(|l| all.get((self.first + l).min(last)).copied().unwrap_or(0.0))
    }

    /// Where it shapes what holds heat or electricity, the year's first month counts: else heat would come from nowhere.
    fn of_year(&self, setting: Setting) -> Lanes {
        Columns { month: 0, ..*self }.of(setting)
    }

    fn spots(&self, setting: Setting, layers: usize) -> Vec<Spot> {
        let top = layers as f64 - 1.0;
        let at = self.of(setting).map(|height| low((height * layers as f64).floor(), top));
        let spot = |layer| Spot { layer, here: each(|l| flag(at[l] == layer as f64)) };
        (0..layers).map(spot).filter(|spot| any(&spot.here)).collect()
    }
}

/// Water, walls and taps.
#[derive(Debug, Clone)]
pub(super) struct Store {
    /// Whether the outlet of each cylinder feeds the next.
    pub(super) in_series: bool,
    /// Heat capacity of a layer, kWh/K.
    pub(super) capacity: Lanes,
    pub(super) per_capacity: Lanes,
    /// Share of the draw that passes through each cylinder; 0 for those that are not there.
    pub(super) share: [Lanes; MOST_CYLINDERS],
    /// Share of each cylinder's top in what comes out.
    pub(super) outlet: [Lanes; MOST_CYLINDERS],
    /// 1 where the cylinder is there.
    pub(super) there: [Lanes; MOST_CYLINDERS],
    /// Most water that a move takes, kWh/K: a layer of each cylinder that takes part.
    pub(super) move_limit: Lanes,
    pub(super) ambient: Lanes,
    /// Share of the excess over the surroundings that a step loses.
    pub(super) fade: [Lanes; MOST_CYLINDERS],
    pub(super) exchange: Lanes,
    pub(super) cold: Lanes,
    pub(super) drawn_at: Lanes,
    /// Above this, water is mixed down at the tap; infinite where it is taken as it is.
    pub(super) mixed_above: Lanes,
    /// Kelvins from cold to `drawn_at`, not below 0.
    pub(super) lift: Lanes,
    pub(super) comfort: Lanes,
    /// kWh a step that circulation takes, of each cylinder, while the pump runs.
    pub(super) circulation: [Lanes; MOST_CYLINDERS],
}

impl Store {
    fn new(of: &Columns<'_>, make: Make) -> Store {
        let hours = 24.0 / make.steps as f64;
        let (volume, n) = (of.of_year(Setting::Volume), of.of_year(Setting::Cylinders));
        // At least one, also where the number is none.
        let n = n.map(|n| low(high(n.round(), 1.0), MOST_CYLINDERS as f64));
        let litre = HEAT_PER_VOLUME_KELVIN / 1000.0;
        let capacity = each(|l| volume[l] * litre / make.layers as f64);
        let share = each(|l| if make.in_series { 1.0 } else { 1.0 / n[l] });
        let there: [Lanes; MOST_CYLINDERS] = std::array::from_fn(|c| each(|l| flag((c as f64) < n[l])));
        let last: [Lanes; MOST_CYLINDERS] = std::array::from_fn(|c| each(|l| flag(c as f64 + 1.0 == n[l])));
        let outlet =
            std::array::from_fn(|c| if make.in_series { last[c] } else { each(|l| there[c][l] / n[l]) });
        let loss = of.of(Setting::StandingLoss);
        // Per hour and kelvin, over the heat capacity of a whole cylinder.
        let rate = each(|l| loss[l] / (24.0 * LOSS_STATED_AT * volume[l] * litre));
        let (cold, drawn_at) = (of.of(Setting::Cold), of.of(Setting::DrawnAt));
        let circulation = of.of(Setting::CirculationLoss);
        Store {
            in_series: make.in_series,
            per_capacity: each(|l| 1.0 / capacity[l]),
            share: std::array::from_fn(|c| each(|l| there[c][l] * share[l])),
            move_limit: each(|l| capacity[l] / share[l]),
            fade: std::array::from_fn(|c| each(|l| there[c][l] * -libm::expm1(-rate[l] * hours))),
            exchange: each(|l| exchange(volume[l], make.layers, hours)),
            circulation: std::array::from_fn(|c| each(|l| circulation[l] / 1000.0 * hours * outlet[c][l])),
            lift: each(|l| high(drawn_at[l] - cold[l], 0.0)),
            mixed_above: drawn_at.map(|degc| if make.mixed_at_tap { degc } else { f64::INFINITY }),
            ambient: of.of(Setting::Ambient),
            comfort: of.of(Setting::Comfort),
            capacity,
            there,
            outlet,
            cold,
            drawn_at,
        }
    }
}

/// Share of their difference that two neighbouring layers exchange in a step: exact for two layers on their own.
fn exchange(litres: f64, layers: usize, hours: f64) -> f64 {
    let volume = litres / 1000.0;
    let diameter = libm::cbrt(4.0 * volume / (std::f64::consts::PI * SLENDERNESS));
    let area = std::f64::consts::PI / 4.0 * diameter * diameter;
    let thickness = SLENDERNESS * diameter / layers as f64;
    let kwh_per_kelvin = CONDUCTIVITY * area / thickness * hours / 1000.0;
    let capacity = volume * HEAT_PER_VOLUME_KELVIN / layers as f64;
    -0.5 * libm::expm1(-2.0 * kwh_per_kelvin / capacity)
}

/// The controller and the elements it feeds; energies are kWh in a step.
#[derive(Debug, Clone)]
pub(super) struct Controller {
    pub(super) threshold: Lanes,
    pub(super) smallest: Lanes,
    pub(super) largest: Lanes,
    /// What of the electricity becomes heat, and one over it (0 if nothing does).
    pub(super) kept: Lanes,
    pub(super) per_kept: Lanes,
    pub(super) standby: Lanes,
    /// Most that each cylinder's element takes.
    pub(super) element: [Lanes; MOST_CYLINDERS],
    pub(super) spots: Vec<Spot>,
    pub(super) set_point: Lanes,
}

impl Controller {
    fn new(of: &Columns<'_>, make: Make, there: bool, store: &Store) -> Controller {
        let hours = 24.0 / make.steps as f64;
        let watts = |setting| of.of(setting).map(|w| w / 1000.0 * hours);
        let kept = of.of(Setting::ConversionLoss).map(|loss| 1.0 - loss);
        let element = of.of(Setting::Element);
        Controller {
            threshold: watts(Setting::Threshold),
            smallest: watts(Setting::SmallestPower),
            largest: if there { watts(Setting::LargestPower) } else { ZERO },
            per_kept: kept.map(|kept| if kept > 0.0 { 1.0 / kept } else { 0.0 }),
            kept,
            standby: if there { watts(Setting::Standby) } else { ZERO },
            element: std::array::from_fn(|c| each(|l| element[l] * hours * store.there[c][l])),
            spots: of.spots(Setting::ElementHeight, make.layers),
            set_point: of.of(Setting::SetPoint),
        }
    }
}

/// Back-up heat.
#[derive(Debug, Clone)]
pub(super) struct Backup {
    /// kW, and one over it (0 if there is none).
    pub(super) power: Lanes,
    pub(super) per_power: Lanes,
    pub(super) spots: Vec<Spot>,
    /// Layer of the sensor.
    pub(super) sensor: Vec<Spot>,
    pub(super) below: Lanes,
    pub(super) up_to: Lanes,
    /// 1 where the cylinder has a coil.
    pub(super) serves: [Lanes; MOST_CYLINDERS],
    pub(super) hygiene: Lanes,
    pub(super) hygiene_days: Lanes,
    pub(super) hygiene_from: Lanes,
}

impl Backup {
    fn new(of: &Columns<'_>, make: Make, store: &Store) -> Backup {
        let power = of.of(Setting::BackupPower);
        Backup {
            per_power: power.map(|p| if p > 0.0 { 1.0 / p } else { 0.0 }),
            power,
            spots: of.spots(Setting::BackupHeight, make.layers),
            sensor: of.spots(Setting::BackupSensor, make.layers),
            below: of.of(Setting::BackupBelow),
            up_to: of.of(Setting::BackupUpTo),
            // In a row only the last has one; then its outlet share is 1, else 1/n.
            serves: std::array::from_fn(|c| store.outlet[c].map(|share| flag(share > 0.0))),
            hygiene: of.of(Setting::Hygiene),
            hygiene_days: of.of(Setting::HygieneDays).map(f64::round),
            hygiene_from: of.of(Setting::HygieneFrom).map(|hour| if hour >= 24.0 { 0.0 } else { hour }),
        }
    }
}

/// The battery; energies are kWh in a step.
#[derive(Debug, Clone)]
pub(super) struct Battery {
    pub(super) holds: Lanes,
    pub(super) most: Lanes,
    /// What of the energy passes each way, and one over it.
    pub(super) kept: Lanes,
    pub(super) per_kept: Lanes,
    pub(super) first: Lanes,
    pub(super) drained: Lanes,
    pub(super) there: bool,
}

impl Battery {
    fn new(of: &Columns<'_>, make: Make) -> Battery {
        let hours = 24.0 / make.steps as f64;
        let holds = of.of_year(Setting::Battery);
        let kept = of.of(Setting::BatteryEfficiency).map(f64::sqrt);
        Battery {
            there: any(&holds),
            most: of.of(Setting::BatteryPower).map(|kw| kw * hours),
            per_kept: kept.map(|kept| 1.0 / kept),
            kept,
            first: of.of(Setting::BatteryFirst).map(|is| flag(is >= 0.5)),
            drained: of.of(Setting::BatteryDrained).map(|is| flag(is >= 0.5)),
            holds,
        }
    }
}

/// All that the settings of a group come to in a month.
#[derive(Debug, Clone)]
pub(super) struct Home {
    pub(super) store: Store,
    pub(super) controller: Controller,
    pub(super) backup: Backup,
    pub(super) battery: Battery,
    /// Most that may flow to the grid in a step, kWh.
    pub(super) export_limit: Lanes,
}

impl Home {
    pub(super) fn new(settings: &Settings, make: Make, controller: bool, first: usize, month: usize) -> Home {
        let of = Columns { settings, month, first };
        let hours = 24.0 / make.steps as f64;
        let store = Store::new(&of, make);
        Home {
            controller: Controller::new(&of, make, controller, &store),
            backup: Backup::new(&of, make, &store),
            battery: Battery::new(&of, make),
            export_limit: of.of(Setting::ExportLimit).map(|kw| kw * hours),
            store,
        }
    }

    /// Temperature at which the year starts: as the back-up leaves the water, or cold where there is none.
    pub(super) fn start_degc(&self) -> Lanes {
        let (backup, cold) = (&self.backup, &self.store.cold);
        each(|l| if backup.power[l] > 0.0 { high(backup.up_to[l], cold[l]) } else { cold[l] })
    }

    /// Cylinders of the lane that has most of them.
    pub(super) fn cylinders(&self) -> usize {
        self.store.there.iter().filter(|there| any(there)).count()
    }
}

/// Hours of each step in which the back-up may heat, and share of it in which the circulation pump runs.
#[derive(Debug, Clone)]
pub(super) struct Hours {
    pub(super) backup: Vec<Lanes>,
    pub(super) pump: Vec<Lanes>,
    pub(super) circulates: bool,
}

/// The settings that [`Hours`] depend on.
const WINDOWS: [Setting; 7] = [
    Setting::BackupFrom,
    Setting::BackupTo,
    Setting::BackupFrom2,
    Setting::BackupTo2,
    Setting::CirculationFrom,
    Setting::CirculationTo,
    Setting::CirculationLoss,
];

impl Hours {
    pub(super) fn by_month(settings: &Settings) -> bool {
        WINDOWS.iter().any(|&setting| settings.by_month(setting))
    }

    pub(super) fn new(settings: &Settings, make: Make, first: usize, month: usize) -> Hours {
        let of = Columns { settings, month, first };
        let [from, to, from_2, to_2, pump_from, pump_to, loss] = WINDOWS.map(|setting| of.of(setting));
        let hours = 24.0 / make.steps as f64;
        let ends = |step: usize| (step as f64 * hours, (step + 1) as f64 * hours);
        let backup = |step| {
            let (start, end) = ends(step);
            each(|l| hours_within_either(start, end, (from[l], to[l]), (from_2[l], to_2[l])))
        };
        let pump = |step| {
            let (start, end) = ends(step);
            each(|l| hours_within(start, end, pump_from[l], pump_to[l]) / hours)
        };
        Hours {
            backup: (0..make.steps).map(backup).collect(),
            pump: (0..make.steps).map(pump).collect(),
            circulates: any(&loss),
        }
    }
}
