//! The reference page of simulated homes, written from the tables of settings and outputs.

use std::fmt::Write as _;

use crate::hotwater::outputs::Output;
use crate::hotwater::settings::Setting;

/// Keys that are the same in all runs.
const FIXED: &str = "\
[hotwater.NAME] simulates a home with its hot-water cylinder half hour by half hour: one year for every run, with weather
and draws of its own. What it yields are ordinary workings by month: NAME.heat_from_sun and so on. The base case is the mean
of sixteen years.

The surplus comes from one of:
readings = \"data/meter.csv\"       the home's own meter readings: blocks of days drawn within the month
    before_equipment = true          whether they were made before the equipment was fitted
    readings_as = { export = \"..\" }  how to read them where the file does not say (see `payspread meter --help`)
    season = [12 shares]             the year's export by month, for months without readings
sun = { latitude = 53, tilt = 35, azimuth = 180, clearness = [12 values] }
    roofs = [{ tilt, azimuth, share }, ..]   in place of one tilt and azimuth (degrees; 90 is east, 180 south)
    longitude, hours_ahead, summer_time      so that hours are those of a clock (else noon is the sun's)
    clearness_sd, persistence, albedo        of the daily clearness index; or sunshine = [12], hours of sunshine a day
    needs panels and electricity (below)

Further keys, the same in all runs:
draw_profile, weekend_profile = [24 or 48 shares]   when hot water is drawn; lumpy = false spreads it smoothly
phases = { demand = [..], generation = [..], netting = \"each phase\" | \"all phases\" }
export_tariff, import_tariff = [24 or 48 factors] | [{ from = 2, to = 5, factor = 0.5, months = [..], days = \"weekdays\" }]
    | { file = \"..\", column = \"..\" }   factors on a price path by time of day (outputs .._by_tariff)
backup = \"boiler\" | \"electricity\"; arrangement = \"side by side\" | \"in series\"; mixed_at_tap = false (draw litres as they come)
shown_day = \"06-21\" (whose course is drawn); layers = 10 (1: fully mixed); steps_a_day = 48; same_days_as = \"OTHER\" (weather and draws of another home)
";

/// The page.
pub fn hotwater_text() -> String {
    let mut out = FIXED.to_owned();
    out.push_str(
        "\nSettings: a number in the unit, twelve numbers, or a formula between quotes (one value, or one a month).\n\n",
    );
    for setting in Setting::ALL {
        let info = setting.info();
        let unit = if info.unit == "1" { "" } else { info.unit };
        let default = match info.default {
            Some(value) if value >= 1.0e6 => "no limit".to_owned(),
            Some(value) => format!("{value}"),
            None => "must be given".to_owned(),
        };
        let _ = writeln!(out, "{:<19} {unit:<8} {default}", info.key);
        let _ = writeln!(out, "    {}", info.summary);
    }
    out.push_str("\nOutputs, by month:\n\n");
    for output in Output::ALL {
        let info = output.info();
        let _ = writeln!(out, "{:<27} {}", info.key, info.unit);
        let _ = writeln!(out, "    {}", info.summary);
    }
    out
}
