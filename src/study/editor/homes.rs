//! Simulated homes: settings from their table, and what is the same in all runs.

use serde_json::{Map, Value, json};

use super::any_number;
use super::parts::{flag, list, number, number_within, numbers, object, object_of, text, whole, words};
use super::rows::about;
use crate::hotwater::settings::{Setting, SettingInfo};

/// Adds the definition of a home.
pub(super) fn define(all: &mut Map<String, Value>) {
    all.insert("home".into(), home());
}

fn home() -> Value {
    let mut keys = about();
    keys.extend(Setting::ALL.iter().map(|s| (s.info().key.to_owned(), setting(s.info()))));
    keys.extend(of_readings());
    let day = "Shares of the day; they need not add up to 1.";
    let others = [
        ("sun", sun()),
        ("draw_profile", numbers(day, &[24, 48, 96])),
        ("weekend_profile", numbers(day, &[24, 48, 96])),
        ("lumpy", flag("Whether water is drawn in lumps, as people draw it.")),
        ("mixed_at_tap", flag("Whether hotter water is mixed down at the tap.")),
        ("phases", phases()),
        ("export_tariff", tariff()),
        ("import_tariff", tariff()),
        ("layers", whole("Layers of the cylinder.", 1, 20)),
        ("steps_a_day", json!({ "description": "Steps of a day.", "enum": [24, 48, 96] })),
        ("arrangement", words("How several cylinders stand.", &["side by side", "in series"])),
        ("backup", words("What heats the water when the sun does not.", &["boiler", "electricity"])),
        ("same_days_as", text("Another home whose days and weather this one shares.", "home")),
        (
            "shown_day",
            json!({
                "description": "The day that charts show, as month and day.", "type": "string",
                "pattern": "^[0-9]{1,2}-[0-9]{1,2}$", "examples": ["06-21"],
            }),
        ),
    ];
    keys.extend(others.map(|(key, value)| (key.to_owned(), value)));
    object_of("A simulated home.", keys, &[])
}

fn setting(info: &SettingInfo) -> Value {
    let unit = if info.unit == "1" { String::new() } else { format!(", in {}", info.unit) };
    let what = format!("{}{unit}: a number, twelve, or a formula.", info.summary);
    let limits = json!({ "type": "number", "minimum": info.least, "maximum": info.most });
    let mut made = json!({
        "description": what,
        "anyOf": [limits, { "type": "array", "items": limits, "minItems": 12, "maxItems": 12 }, { "type": "string" }],
    });
    if let Some(default) = info.default {
        made["default"] = default.into();
    }
    made
}

fn of_readings() -> Map<String, Value> {
    let keys = [
        ("readings", text("File of meter readings, relative to the study.", "data/meter.csv")),
        ("before_equipment", flag("Whether the readings are from before the equipment.")),
        (
            "readings_as",
            json!({
                "description": "How the file is read, such as { export = \"to grid\" }.", "type": "object",
                "additionalProperties": { "type": "string" },
            }),
        ),
        ("season", numbers("The share of each month.", &[12])),
    ];
    keys.map(|(key, value)| (key.to_owned(), value)).into_iter().collect()
}

fn plane() -> [(&'static str, Value); 2] {
    [
        ("tilt", number("Degrees from level.", Some(0.0), Some(90.0))),
        ("azimuth", number("Degrees: 90 is east, 180 south, 270 west.", Some(0.0), Some(360.0))),
    ]
}

fn sun() -> Value {
    let [tilt, azimuth] = plane();
    let roof_share = ("share", number_within("Its share of the panels.", 0.0, None));
    let roof = object("", [tilt.clone(), azimuth.clone(), roof_share], &["tilt", "azimuth", "share"]);
    let share =
        |what: &str| json!({ "description": what, "type": "number", "minimum": 0, "exclusiveMaximum": 1 });
    let fields = [
        ("latitude", number("Degrees, north positive.", Some(-90.0), Some(90.0))),
        ("longitude", number("Degrees, east positive.", Some(-180.0), Some(180.0))),
        (
            "hours_ahead",
            number("Hours of the clock ahead of universal time in winter.", Some(-12.0), Some(14.0)),
        ),
        ("summer_time", flag("Whether clocks go forward in summer.")),
        tilt,
        azimuth,
        ("roofs", list("Several planes in place of tilt and azimuth.", roof)),
        ("clearness", numbers("Clearness index of each month, January to December.", &[12])),
        ("sunshine", numbers("Hours of sunshine a day in each month.", &[12])),
        (
            "clearness_sd",
            json!({
                "description": "Standard deviation of a day's clearness: one, or one a month.",
                "anyOf": [{ "type": "number" }, numbers("", &[12])],
            }),
        ),
        ("persistence", share("How much one day is like the day before.")),
        ("albedo", share("Share of light that the ground reflects.")),
    ];
    let mut made = object("Simulated sun in place of readings.", fields, &["latitude"]);
    made["anyOf"] = json!([{ "required": ["clearness"] }, { "required": ["sunshine"] }]);
    made["oneOf"] = json!([{ "required": ["roofs"] }, { "required": ["tilt", "azimuth"] }]);
    made
}

fn phases() -> Value {
    let fields = [
        ("demand", numbers("Share of demand on each phase; they add up to 1.", &[3])),
        ("generation", numbers("Share of generation on each phase; they add up to 1.", &[3])),
        ("netting", words("How the meter sets phases against each other.", &["each phase", "all phases"])),
    ];
    object("Three phases.", fields, &["demand", "generation", "netting"])
}

fn tariff() -> Value {
    let hour = |what: &str| number(what, Some(0.0), Some(24.0));
    let months = json!({
        "description": "Months, 1 to 12; all if not given.", "type": "array",
        "items": { "type": "number", "minimum": 1, "maximum": 12 },
    });
    let period = [
        ("from", hour("Hour at which it begins.")),
        ("to", hour("Hour at which it ends.")),
        ("factor", any_number("Factor on the price.")),
        ("months", months),
        ("days", words("On which days.", &["weekdays", "weekends"])),
    ];
    let series = [
        ("file", text("Data file, relative to the study.", "data/prices.csv")),
        ("column", text("Its column.", "price")),
    ];
    json!({
        "description": "Prices within the day, as factors on the price of the study.",
        "anyOf": [
            numbers("One for each hour or half hour.", &[24, 48]),
            list("Periods.", object("", period, &["from", "to", "factor"])),
            object("A series of prices.", series, &["file", "column"]),
        ],
    })
}
