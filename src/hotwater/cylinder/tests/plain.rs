//! The same homes once more, one run at a time and as plainly as can be: loops that fill, mix and cool layer by layer
//! until nothing is left to do, where the simulation has closed forms.

use crate::hotwater::HEAT_PER_VOLUME_KELVIN;
use crate::hotwater::cylinder::Make;
use crate::hotwater::outputs::Output as O;
use crate::hotwater::settings::{Setting as S, Settings};
use crate::hotwater::time::month_of;

/// What crosses the meter in a step, litres, tariff factors on export and import.
#[derive(Clone, Copy)]
pub(super) struct Brought {
    pub(super) export: f64,
    pub(super) import: f64,
    pub(super) litres: f64,
    pub(super) export_factor: f64,
    pub(super) import_factor: f64,
}

#[derive(Clone)]
struct Tank {
    degc: Vec<f64>,
    firing: bool,
    due: bool,
    held: f64,
}

/// One run.
pub(super) struct Plain<'a> {
    settings: &'a Settings,
    lane: usize,
    make: Make,
    controller: bool,
    month: usize,
    tanks: Vec<Tank>,
    battery: f64,
    owed: f64,
    /// kWh that warm one layer by 1 K.
    layer: f64,
    pub(super) totals: Vec<[f64; 12]>,
}

fn room(degc: &[f64], target: f64) -> f64 {
    degc.iter().filter(|&&t| t < target).map(|t| target - t).sum()
}

/// Gives `kelvins` of a layer to the lowest, which rises as soon as it is as warm as the next.
fn warm(degc: &mut [f64], mut kelvins: f64) {
    let mut joined = 1;
    while kelvins > 0.0 {
        let level = degc[0];
        let to_next =
            if joined < degc.len() { (degc[joined] - level) * joined as f64 } else { f64::INFINITY };
        let part = kelvins.min(to_next);
        for t in &mut degc[..joined] {
            *t = level + part / joined as f64;
        }
        kelvins -= part;
        if kelvins > 0.0 {
            joined += 1;
            let next = degc[joined - 1];
            degc[..joined].fill(next);
        }
    }
}

/// Takes `kelvins` of a layer from the highest.
fn cool(degc: &mut [f64], kelvins: f64) {
    let mut upside_down: Vec<f64> = degc.iter().rev().map(|t| -t).collect();
    warm(&mut upside_down, kelvins);
    for (t, cooled) in degc.iter_mut().rev().zip(upside_down) {
        *t = -cooled;
    }
}

/// Water in at the bottom, out at the top; what is out of order mixes, again and again until all is in order.
fn push(degc: &mut [f64], inlet: f64, part: f64) {
    let before = degc.to_vec();
    for (k, t) in degc.iter_mut().enumerate() {
        let from = if k == 0 { inlet } else { before[k - 1] };
        *t = (1.0 - part) * before[k] + part * from;
    }
    let mut mixed = 1;
    while mixed < degc.len() && degc[0] > degc[mixed] + 1e-13 {
        let mean = degc[..=mixed].iter().sum::<f64>() / (mixed + 1) as f64;
        degc[..=mixed].fill(mean);
        mixed += 1;
    }
}

/// Hours of a step in any of the windows: their ends cut the step into pieces, each inside or outside.
fn hours_in(step: (f64, f64), windows: &[(f64, f64)]) -> f64 {
    let mut cuts = vec![step.0, step.1];
    cuts.extend(windows.iter().flat_map(|w| [w.0, w.1]).filter(|&c| c > step.0 && c < step.1));
    cuts.sort_by(f64::total_cmp);
    let inside = |hour: f64, w: &(f64, f64)| {
        if w.0 <= w.1 { hour >= w.0 && hour < w.1 } else { hour >= w.0 || hour < w.1 }
    };
    let piece =
        |c: &[f64]| if windows.iter().any(|w| inside((c[0] + c[1]) / 2.0, w)) { c[1] - c[0] } else { 0.0 };
    cuts.windows(2).map(piece).sum()
}

impl<'a> Plain<'a> {
    pub(super) fn new(settings: &'a Settings, lane: usize, make: Make, controller: bool) -> Plain<'a> {
        let at = |setting| settings.at(setting, 0)[lane];
        let count = at(S::Cylinders).round() as usize;
        let start = if at(S::BackupPower) > 0.0 { at(S::BackupUpTo).max(at(S::Cold)) } else { at(S::Cold) };
        let tank = Tank { degc: vec![start; make.layers], firing: false, due: false, held: 0.0 };
        Plain {
            settings,
            lane,
            make,
            controller,
            month: 0,
            tanks: vec![tank; count],
            battery: 0.0,
            owed: 0.0,
            layer: at(S::Volume) / make.layers as f64 * HEAT_PER_VOLUME_KELVIN / 1000.0,
            totals: vec![[0.0; 12]; O::ALL.len()],
        }
    }

    fn at(&self, setting: S) -> f64 {
        let month = if matches!(setting, S::Battery | S::Volume | S::Cylinders) { 0 } else { self.month };
        self.settings.at(setting, month)[self.lane]
    }

    fn add(&mut self, output: O, value: f64) {
        self.totals[output as usize][self.month] += value;
    }

    fn hours(&self) -> f64 {
        24.0 / self.make.steps as f64
    }

    fn stored(&self) -> f64 {
        self.tanks.iter().flat_map(|tank| &tank.degc).sum::<f64>() * self.layer
    }

    pub(super) fn day(&mut self, day: usize, steps: &[Brought]) {
        self.month = month_of(day);
        let (stored, battery) = (self.stored(), self.battery);
        let before = [O::HeatFromBackup, O::HoursBelowComfort].map(|o| self.totals[o as usize][self.month]);
        for (step, brought) in steps.iter().enumerate() {
            self.step(day, step, brought);
        }
        let after = [O::HeatFromBackup, O::HoursBelowComfort].map(|o| self.totals[o as usize][self.month]);
        if after[0] - before[0] < 1e-9 {
            self.add(O::BackupFreeDays, 1.0);
            if after[1] == before[1] {
                self.add(O::DaysBySun, 1.0);
            }
        }
        self.add(O::StoredChange, self.stored() - stored);
        self.add(O::BatteryChange, self.battery - battery);
    }

    fn step(&mut self, day: usize, step: usize, brought: &Brought) {
        let hours = self.hours();
        let standby = if self.controller { self.at(S::Standby) / 1000.0 * hours } else { 0.0 };
        self.add(O::StandbyUse, standby);
        let mut surplus = (brought.export - standby).max(0.0);
        let mut need = brought.import + (standby - brought.export).max(0.0);
        let most = self.at(S::BatteryPower) * hours;
        let mut charged = 0.0;
        if self.at(S::BatteryFirst) >= 0.5 {
            charged = self.charge(surplus, most);
            surplus -= charged;
        }
        self.draw(brought.litres);
        let (diverted, drained) = self.divert(surplus, if charged > 1e-9 { 0.0 } else { most });
        self.add(O::DivertedByTariff, diverted * brought.export_factor);
        surplus -= diverted;
        let heat = self.backup(day, step);
        self.add(O::HeatFromBackup, heat);
        self.add(O::BackupByTariff, heat * brought.import_factor);
        if self.make.electric_backup {
            need += (heat - surplus).max(0.0);
            surplus = (surplus - heat).max(0.0);
        }
        self.cool_down(step);
        if drained < 1e-9 {
            surplus -= self.charge(surplus, most - charged);
        }
        let gave = self.discharge(need, most - drained);
        need -= gave;
        self.make_up(need, drained, most - gave);
        let exported = surplus.min(self.at(S::ExportLimit) * hours);
        self.add(O::Exported, exported);
        self.add(O::Curtailed, surplus - exported);
        self.add(O::Imported, need);
        self.add(O::ExportedByTariff, exported * brought.export_factor);
        self.add(O::ImportedByTariff, need * brought.import_factor);
    }

    fn each_way(&self) -> f64 {
        self.at(S::BatteryEfficiency).sqrt()
    }

    fn charge(&mut self, surplus: f64, most: f64) -> f64 {
        let space = (self.at(S::Battery) - self.battery) / self.each_way();
        let kwh = surplus.min(most).min(space).max(0.0);
        self.battery += kwh * self.each_way();
        self.add(O::BatteryIn, kwh);
        self.add(O::BatteryLoss, kwh * (1.0 - self.each_way()));
        kwh
    }

    fn take_out(&mut self, kwh: f64) {
        self.battery -= kwh / self.each_way();
        self.add(O::BatteryLoss, kwh / self.each_way() - kwh);
    }

    fn discharge(&mut self, need: f64, most: f64) -> f64 {
        let kwh = need.min(most).min(self.battery * self.each_way()).max(0.0);
        self.take_out(kwh);
        self.add(O::BatteryOut, kwh);
        kwh
    }

    fn make_up(&mut self, need: f64, drained: f64, power_left: f64) {
        let replaced = need.min(self.owed).min(power_left);
        self.add(O::FromGrid, replaced);
        self.owed += drained - replaced;
        if self.battery >= self.at(S::Battery) * (1.0 - 1e-12) {
            self.owed = 0.0;
        }
    }

    fn outlet(&self) -> f64 {
        let tops: Vec<f64> = self.tanks.iter().map(|tank| tank.degc[self.make.layers - 1]).collect();
        if self.make.in_series { tops[tops.len() - 1] } else { tops.iter().sum::<f64>() / tops.len() as f64 }
    }

    fn draw(&mut self, litres: f64) {
        let litre = HEAT_PER_VOLUME_KELVIN / 1000.0;
        let (cold, wanted) = (self.at(S::Cold), self.at(S::DrawnAt));
        let paths = if self.make.in_series { 1.0 } else { self.tanks.len() as f64 };
        let mut left = litres;
        let (mut moves, mut too_cold) = (0, false);
        while left > 0.0 {
            let all_passed = moves == 4 * self.make.layers;
            let outlet = if all_passed { cold } else { self.outlet() };
            let thin = match self.make.mixed_at_tap && outlet > wanted {
                true if wanted > cold => (wanted - cold) / (outlet - cold),
                true => 0.0,
                false => 1.0,
            };
            let most = if all_passed { f64::INFINITY } else { paths * self.layer / litre };
            let water = (left * thin).min(most);
            let served = if left * thin <= most { left } else { most / thin };
            self.add(O::HeatDrawn, water * litre * (outlet - cold));
            self.add(O::HeatShort, served * litre * (wanted - outlet).max(0.0));
            too_cold |= outlet < self.at(S::Comfort);
            if !all_passed {
                self.pass(water * litre / paths / self.layer, cold);
            }
            left -= served;
            moves += 1;
        }
        if too_cold {
            self.add(O::HoursBelowComfort, self.hours());
        }
    }

    fn pass(&mut self, part: f64, cold: f64) {
        let mut inlet = cold;
        for tank in &mut self.tanks {
            let out = tank.degc[self.make.layers - 1];
            push(&mut tank.degc, inlet, part);
            if self.make.in_series {
                inlet = out;
            }
        }
    }

    fn layer_at(&self, height: S) -> usize {
        ((self.at(height) * self.make.layers as f64) as usize).min(self.make.layers - 1)
    }

    /// Surplus and battery electricity that the controller took.
    fn divert(&mut self, surplus: f64, most: f64) -> (f64, f64) {
        let hours = self.hours();
        let sun = (surplus - self.at(S::Threshold) / 1000.0 * hours).max(0.0);
        let drains = self.at(S::BatteryDrained) >= 0.5;
        let offered = sun + if drains { most.min(self.battery * self.each_way()).max(0.0) } else { 0.0 };
        if !self.controller || offered < self.at(S::SmallestPower) / 1000.0 * hours {
            return (0.0, 0.0);
        }
        let offered = offered.min(self.at(S::LargestPower) / 1000.0 * hours);
        let kept = 1.0 - self.at(S::ConversionLoss);
        let (from, target) = (self.layer_at(S::ElementHeight), self.at(S::SetPoint));
        let element = self.at(S::Element) * hours;
        let (mut left, layer) = (offered * kept, self.layer);
        let mut used = 0.0;
        for tank in &mut self.tanks {
            let above = &mut tank.degc[from..];
            let heat = left.min(element).min(room(above, target) * layer);
            warm(above, heat / layer);
            left -= heat;
            used += heat;
        }
        let taken = used / kept;
        let diverted = taken.min(sun);
        let drained = if taken - diverted > 1e-12 { taken - diverted } else { 0.0 };
        self.add(O::HeatFromSun, diverted * kept);
        self.add(O::Diverted, diverted);
        self.add(O::ControllerLoss, taken - used);
        self.add(O::HeatFromGrid, drained * kept);
        self.add(O::BatteryDrainedInto, drained);
        self.take_out(drained);
        (diverted, drained)
    }

    fn backup(&mut self, day: usize, step: usize) -> f64 {
        let hours = self.hours();
        let span = (step as f64 * hours, (step + 1) as f64 * hours);
        let days = self.at(S::HygieneDays).round() as usize;
        let from = if self.at(S::HygieneFrom) >= 24.0 { 0.0 } else { self.at(S::HygieneFrom) };
        let begins = days > 0 && day.is_multiple_of(days) && from >= span.0 && from < span.1;
        let on_time = if begins { span.1 - from } else { hours };
        let windows = [
            (self.at(S::BackupFrom), self.at(S::BackupTo)),
            (self.at(S::BackupFrom2), self.at(S::BackupTo2)),
        ];
        let may = hours_in(span, &windows);
        let power = self.at(S::BackupPower);
        let (hygiene, up_to, below) = (self.at(S::Hygiene), self.at(S::BackupUpTo), self.at(S::BackupBelow));
        let (coil, sensor) = (self.layer_at(S::BackupHeight), self.layer_at(S::BackupSensor));
        let layer = self.layer;
        let first = if self.make.in_series { self.tanks.len() - 1 } else { 0 };
        let mut heat = 0.0;
        for tank in &mut self.tanks[first..] {
            if begins {
                (tank.due, tank.held) = (true, 0.0);
            }
            if tank.due {
                let (left, wanted) = ((power * on_time - heat).max(0.0), room(&tank.degc, hygiene) * layer);
                warm(&mut tank.degc, left.min(wanted) / layer);
                heat += left.min(wanted);
                if left >= wanted {
                    let busy = if power > 0.0 { heat / power } else { 0.0 };
                    tank.held += (on_time - busy).max(0.0);
                }
                tank.due = tank.held < 1.0 - 1e-9;
            }
        }
        for tank in &mut self.tanks[first..] {
            tank.firing = may > 0.0 && (tank.firing || tank.degc[sensor] < below);
            if tank.firing {
                let (left, wanted) = ((power * may - heat).max(0.0), room(&tank.degc[coil..], up_to) * layer);
                warm(&mut tank.degc[coil..], left.min(wanted) / layer);
                heat += left.min(wanted);
                tank.firing = left < wanted;
            }
        }
        heat
    }

    /// Circulation, standing loss, conduction.
    fn cool_down(&mut self, step: usize) {
        let hours = self.hours();
        let span = (step as f64 * hours, (step + 1) as f64 * hours);
        let runs = hours_in(span, &[(self.at(S::CirculationFrom), self.at(S::CirculationTo))]);
        let first = if self.make.in_series { self.tanks.len() - 1 } else { 0 };
        let wanted = self.at(S::CirculationLoss) / 1000.0 * runs / (self.tanks.len() - first) as f64;
        let volume = self.at(S::Volume) / 1000.0;
        let per_kelvin = self.at(S::StandingLoss) / 24.0 / 45.0;
        let stays = libm::exp(-per_kelvin * hours / (volume * HEAT_PER_VOLUME_KELVIN));
        // 1.5 W/m/K, height three times the diameter.
        let diameter = libm::cbrt(volume * 4.0 / 3.0 / std::f64::consts::PI);
        let between = 1.5 * (std::f64::consts::PI * diameter * diameter / 4.0)
            / (3.0 * diameter / self.make.layers as f64);
        let moved = (1.0 - libm::exp(-2.0 * between * hours / 1000.0 / self.layer)) / 2.0;
        let (ambient, layer) = (self.at(S::Ambient), self.layer);
        let (mut circulated, mut lost) = (0.0, 0.0);
        for (c, tank) in self.tanks.iter_mut().enumerate() {
            if c >= first {
                let hot: f64 = tank.degc.iter().filter(|&&t| t > 40.0).map(|t| t - 40.0).sum();
                let kwh = wanted.min(hot * layer);
                cool(&mut tank.degc, kwh / layer);
                circulated += kwh;
            }
            for t in &mut tank.degc {
                lost += (*t - ambient) * (1.0 - stays) * layer;
                *t = ambient + (*t - ambient) * stays;
            }
            let before = tank.degc.clone();
            for k in 1..before.len() {
                tank.degc[k] -= moved * (before[k] - before[k - 1]);
                tank.degc[k - 1] += moved * (before[k] - before[k - 1]);
            }
        }
        self.add(O::CirculationLoss, circulated);
        self.add(O::StandingLoss, lost);
    }
}
