//! A day of electricity and hot water in one sentence.

use crate::hotwater::course::DayCourse;
use crate::hotwater::time::{FIRST_DAYS, MONTHS, month_of};

use super::numbers::{clean, grouped, shortened};

/// Less than this over a day is called nothing, in kWh.
const NOTHING: f64 = 0.05;
/// The store is taken to be full where the water takes less than the first part of the most that it took in a step on
/// this day, while more than the second part is exported.
const FULL: (f64, f64) = (0.35, 0.3);
/// What the water may take after it was full without being told, as a part of all: what replaces losses.
const TOPPING_UP: f64 = 0.1;
/// The store is not full where its mean is further than this below the warmest of the day, in K.
const NEAR_WARMEST: f64 = 2.0;

/// "21 June" for the day of the year 0 to 364.
pub fn day_name(day: usize) -> String {
    let month = month_of(day);
    let first = FIRST_DAYS.get(month).copied().unwrap_or(0);
    format!("{} {}", day.saturating_sub(first) + 1, MONTHS.get(month).copied().unwrap_or(""))
}

/// What happened on the day, without a full stop. `backup` is what heats the water where the sun does not.
pub fn day_finding(course: &DayCourse, backup: &str) -> String {
    let day = Day::of(course);
    let backup = shortened(&clean(backup), 40);
    let backup = if backup.is_empty() { "back-up".to_owned() } else { backup };
    let mut text = match day.spare < NOTHING {
        true => day.nothing_spare(&backup),
        false => day.of_spare(course),
    };
    text.push_str(&day.other_sources());
    text
}

/// Sums over a day, in kWh.
struct Day {
    /// That would have been exported.
    spare: f64,
    /// What of it the water took.
    taken: f64,
    /// What the water took from the grid.
    from_grid: f64,
    /// What the water took at the cost of a battery: out of it, or that would have gone into it.
    from_battery: f64,
    /// Put into a battery.
    charged: f64,
    exported: f64,
    backup: f64,
}

fn at(list: &[f64], step: usize) -> f64 {
    list.get(step).copied().filter(|x| x.is_finite()).unwrap_or(0.0)
}

impl Day {
    fn of(course: &DayCourse) -> Self {
        let sum = |of: &dyn Fn(usize) -> f64| (0..course.steps.min(course.export.len())).map(of).sum::<f64>();
        let diverted = |s: usize| at(&course.diverted, s).max(0.0);
        let besides = |s: usize| (diverted(s) - at(&course.export_before, s)).max(0.0);
        let bought = |s: usize| (at(&course.import, s) - at(&course.import_before, s)).max(0.0);
        let (more, from_grid) = (sum(&besides), sum(&|s| besides(s).min(bought(s))));
        Day {
            spare: sum(&|s| at(&course.export_before, s)),
            taken: sum(&|s| diverted(s).min(at(&course.export_before, s))),
            from_grid,
            from_battery: more - from_grid,
            charged: sum(&|s| at(&course.battery, s).max(0.0)),
            exported: sum(&|s| at(&course.export, s)),
            backup: sum(&|s| at(&course.backup_heat, s)),
        }
    }

    fn nothing_spare(&self, backup: &str) -> String {
        match self.backup < NOTHING {
            true => "Nothing would have been exported, and nothing heated the water".into(),
            false => format!(
                "Nothing would have been exported: the {backup} gave the water {} kWh of heat",
                kwh(self.backup)
            ),
        }
    }

    fn of_spare(&self, course: &DayCourse) -> String {
        let spare = kwh(self.spare);
        let full = full(course);
        let mut text = if self.taken < NOTHING {
            format!("Of {spare} kWh that would have been exported, the water took nothing")
        } else if kwh(self.taken) == spare {
            format!("The water took all of the {spare} kWh that would have been exported")
        } else {
            format!("Of {spare} kWh that would have been exported, the water took {}", kwh(self.taken))
        };
        match full {
            Some(Full { at, last: true }) if self.taken >= NOTHING => {
                text.push_str(&format!(" until it was full at {at}"));
            }
            Some(Full { at, last: false }) if self.taken >= NOTHING => {
                text.push_str(&format!(", full for the first time at {at}"));
            }
            None if self.taken >= NOTHING && !course.mean_degc.is_empty() => {
                text.push_str(" and was never full");
            }
            _ => {}
        }
        text + &self.battery()
    }

    /// What a battery took: of the same energy if all of it can be told apart.
    fn battery(&self) -> String {
        if self.charged < NOTHING {
            return String::new();
        }
        let told = self.taken + self.charged + self.exported;
        match (told - self.spare).abs() < NOTHING + 0.02 * self.spare {
            true => format!("; the battery took {} and the grid {}", kwh(self.charged), kwh(self.exported)),
            false => format!("; the battery took {} kWh besides", kwh(self.charged)),
        }
    }

    /// What the water took that would not have been exported.
    fn other_sources(&self) -> String {
        let sources = [(self.from_grid, "from the grid"), (self.from_battery, "at the cost of the battery")];
        let told: Vec<String> = sources
            .iter()
            .filter(|(x, _)| *x >= NOTHING)
            .map(|(x, from)| format!("{} kWh {from}", kwh(*x)))
            .collect();
        if told.is_empty() {
            String::new()
        } else {
            format!("; the water took another {}", told.join(" and "))
        }
    }
}

fn kwh(x: f64) -> String {
    if x < NOTHING { "nothing".into() } else { grouped(x, 1) }
}

/// When the store was full for the first time, and whether the water took next to nothing after it.
struct Full {
    at: String,
    last: bool,
}

/// Full is a warm store that takes nothing of a surplus that it took before.
fn full(course: &DayCourse) -> Option<Full> {
    let steps = course.steps.min(course.export.len());
    let taken: Vec<f64> = (0..steps).map(|s| at(&course.diverted, s).max(0.0)).collect();
    let total: f64 = taken.iter().sum();
    let most = taken.iter().copied().fold(0.0, f64::max);
    let warmest = course.mean_degc.iter().copied().filter(|x| x.is_finite()).fold(f64::MIN, f64::max);
    let first = taken.iter().position(|x| *x > 1e-6)?;
    let step = (first..steps).find(|&s| {
        let is_warm = course.mean_degc.get(s).is_none_or(|degc| *degc >= warmest - NEAR_WARMEST);
        taken[s] < FULL.0 * most && at(&course.export, s) > FULL.1 * most && is_warm
    })?;
    let after: f64 = taken[step..].iter().sum();
    let minutes = step * 1440 / steps.max(1);
    Some(Full { at: format!("{:02}:{:02}", minutes / 60, minutes % 60), last: after < TOPPING_UP * total })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Eight steps of three hours.
    fn course(before: [f64; 8], diverted: [f64; 8], degc: [f64; 8]) -> DayCourse {
        DayCourse {
            steps: 8,
            export: before.iter().zip(diverted).map(|(a, b)| (a - b).max(0.0)).collect(),
            export_before: before.to_vec(),
            import: vec![0.0; 8],
            import_before: vec![0.0; 8],
            diverted: diverted.to_vec(),
            mean_degc: degc.to_vec(),
            backup_heat: vec![0.0; 8],
            ..DayCourse::default()
        }
    }

    const SPARE_DAY: [f64; 8] = [0.0, 0.0, 1.0, 3.0, 4.0, 1.8, 0.0, 0.0];

    #[test]
    fn days_have_names() {
        assert_eq!(
            [0, 58, 59, 171, 364].map(day_name),
            ["1 January", "28 February", "1 March", "21 June", "31 December"]
        );
    }

    #[test]
    fn water_that_is_full_at_some_time() {
        let once = course(
            SPARE_DAY,
            [0.0, 0.0, 1.0, 3.0, 1.2, 0.0, 0.0, 0.0],
            [40.0, 40.0, 45.0, 58.0, 62.0, 61.5, 60.0, 60.0],
        );
        assert_eq!(
            day_finding(&once, "boiler"),
            "Of 9.8 kWh that would have been exported, the water took 5.2 until it was full at 15:00"
        );
        let twice = course(
            SPARE_DAY,
            [0.0, 0.0, 1.0, 3.0, 0.0, 1.8, 0.0, 0.0],
            [40.0, 40.0, 45.0, 62.0, 61.5, 61.5, 60.0, 60.0],
        );
        assert_eq!(
            day_finding(&twice, "boiler"),
            "Of 9.8 kWh that would have been exported, the water took 5.8, full for the first time at 12:00"
        );
    }

    #[test]
    fn water_that_is_never_full_or_takes_all_or_nothing() {
        // The controller stops at too small a power; the store is not warm.
        let small = course(
            SPARE_DAY,
            [0.0, 0.0, 0.0, 2.5, 2.5, 0.0, 0.0, 0.0],
            [20.0, 20.0, 20.0, 30.0, 40.0, 37.0, 36.0, 36.0],
        );
        assert_eq!(
            day_finding(&small, "boiler"),
            "Of 9.8 kWh that would have been exported, the water took 5.0 and was never full"
        );
        let all = course(SPARE_DAY, SPARE_DAY, [30.0; 8]);
        assert_eq!(
            day_finding(&all, "boiler"),
            "The water took all of the 9.8 kWh that would have been exported and was never full"
        );
        let none = course(SPARE_DAY, [0.0; 8], [60.0; 8]);
        assert_eq!(
            day_finding(&none, "boiler"),
            "Of 9.8 kWh that would have been exported, the water took nothing"
        );
        let mut unknown = small;
        unknown.mean_degc.clear();
        unknown.export = vec![0.0; 8];
        assert_eq!(
            day_finding(&unknown, "boiler"),
            "Of 9.8 kWh that would have been exported, the water took 5.0"
        );
    }

    #[test]
    fn days_without_surplus() {
        let mut dark = course([0.0; 8], [0.0; 8], [50.0; 8]);
        assert_eq!(
            day_finding(&dark, "boiler"),
            "Nothing would have been exported, and nothing heated the water"
        );
        dark.backup_heat[2] = 6.1;
        assert_eq!(
            day_finding(&dark, ""),
            "Nothing would have been exported: the back-up gave the water 6.1 kWh of heat"
        );
        assert_eq!(
            day_finding(&DayCourse::default(), "boiler"),
            "Nothing would have been exported, and nothing heated the water"
        );
    }

    #[test]
    fn a_battery_and_other_sources() {
        let mut day = course(SPARE_DAY, [0.0, 0.0, 1.0, 3.0, 0.0, 0.0, 0.0, 0.0], [30.0; 8]);
        day.battery = vec![0.0, 0.0, 0.0, 0.0, 3.0, 0.0, -2.0, 0.0];
        day.export[4] = 1.0;
        assert!(day_finding(&day, "boiler").ends_with("; the battery took 3.0 and the grid 2.8"));
        // It would have been charged in any case.
        day.export[4] = 4.0;
        assert!(day_finding(&day, "boiler").ends_with("; the battery took 3.0 kWh besides"));
        // In the evening 2 kWh go from the battery into the water, 1.5 are bought for it.
        (day.diverted[6], day.import[6]) = (3.5, 1.5);
        assert!(
            day_finding(&day, "boiler").ends_with(
                "; the water took another 1.5 kWh from the grid and 2.0 kWh at the cost of the battery"
            ),
            "{}",
            day_finding(&day, "boiler")
        );
    }
}
