//! The blanks. Errors are our own estimates of what a careful visitor gets without opening anything.

/// A figure to bring home.
#[derive(Debug, Clone, Copy)]
pub struct Blank {
    /// What is wanted.
    pub what: &'static str,
    /// How it is read, measured or asked.
    pub how: &'static str,
    /// With what error.
    pub error: &'static str,
    /// Its unit, "" if none.
    pub unit: &'static str,
    /// Inputs of the consultant's study, or settings of a simulated home, that take it.
    pub goes_to: &'static [&'static str],
}

/// Blanks of one subject.
#[derive(Debug, Clone, Copy)]
pub struct Section {
    /// Its heading.
    pub heading: &'static str,
    /// Its blanks.
    pub blanks: &'static [Blank],
}

const fn blank(
    what: &'static str,
    how: &'static str,
    error: &'static str,
    unit: &'static str,
    goes_to: &'static [&'static str],
) -> Blank {
    Blank { what, how, error, unit, goes_to }
}

/// What keeps the visitor and the home safe.
pub const SAFETY: [&str; 5] = [
    "Look, read and ask: no cover opened, no wire, valve or thermostat touched.",
    "Mains work, and opening anything, is for people licensed for it where you are.",
    "Hot water scalds: let the tap run into a bucket, thermometer first, no hand.",
    "A sealed cylinder is under pressure: leave valves and discharge pipe alone.",
    "A warm, brown or buzzing switch or cable: stay away, tell the owner to call an electrician.",
];

/// Pages with their sections.
pub const PAGES: [(&str, &[Section]); 2] = [
    ("Home, hot water and heater", &[HOME, CYLINDER, HEATER]),
    ("Sun, prices and quote", &[SUN, PRICES, QUOTE]),
];

const HOME: Section = Section {
    heading: "People and hot water",
    blanks: &[
        blank(
            "People who live here most weeks",
            "Ask; who will move in or out",
            "exact",
            "person",
            &["people"],
        ),
        blank(
            "Showers and baths a week, minutes each",
            "Ask; not those that heat their own water",
            "+-15 %",
            "1/week",
            &["litres_each"],
        ),
        blank(
            "Flow of the shower as it is used",
            "Bucket and watch for 30 s, then temperature",
            "+-10 %",
            "L/min",
            &["litres_each"],
        ),
        blank("What heats the shower", "Look for a box with its own switch", "exact", "", &["litres_each"]),
        blank("Days away in a year, and when", "Ask", "+-5 days", "day/yr", &["days_away"]),
        blank(
            "Temperature of the cold water today",
            "Cold tap after 2 min; note the date",
            "+-1 K",
            "degC",
            &["cold_mean", "cold"],
        ),
    ],
};

const CYLINDER: Section = Section {
    heading: "Cylinder",
    blanks: &[
        blank("Volume", "Label; else height and girth, less insulation", "+-5 %", "L", &["volume"]),
        blank("Number of cylinders", "Count", "exact", "", &["cylinders"]),
        blank(
            "Standing loss",
            "Label; else thickness of foam or jacket in mm",
            "+-20 %",
            "kWh/day",
            &["standing_loss"],
        ),
        blank(
            "Temperature of the room around it",
            "Thermometer, an arm's length away",
            "+-2 K",
            "degC",
            &["ambient"],
        ),
        blank("Element: rating", "Label only; at 230 V it gives 0.92 of 240 V", "+-5 %", "kW", &["element"]),
        blank(
            "Element: how high, 0 bottom to 1 top",
            "Where its cable goes in",
            "+-0.1",
            "",
            &["element_height"],
        ),
        blank(
            "Thermostat: where it is set",
            "Read the dial, if it shows outside",
            "+-3 K",
            "degC",
            &["hot", "set_point"],
        ),
        blank(
            "Temperature at the nearest hot tap",
            "Thermometer, after 1 min",
            "+-1 K",
            "degC",
            &["hot", "set_point"],
        ),
        blank(
            "Hardness of the water",
            "Water company's page; scale in the kettle",
            "+-20 %",
            "",
            &["element_life"],
        ),
    ],
};

const HEATER: Section = Section {
    heading: "Heater",
    blanks: &[
        blank("What heats the cylinder", "Look; ask which in summer", "exact", "", &["backup"]),
        blank(
            "Its make, model, year; condensing?",
            "Label; stands for its efficiency",
            "+-8 points",
            "",
            &["boiler_efficiency"],
        ),
        blank(
            "Hours at which it may heat the water",
            "Timer; ask who has changed it",
            "+-10 min",
            "h",
            &["backup_from", "backup_to", "backup_from_2", "backup_to_2"],
        ),
        blank(
            "Pipes to the cylinder: length, share bare",
            "Tape; only what is in sight",
            "+-1 m",
            "m",
            &["pipe_loss"],
        ),
        blank(
            "Heat-up against germs: every .. days",
            "Ask; the local rule",
            "exact",
            "day",
            &["hygiene_days"],
        ),
        blank(
            "Circulation pump: hours and power",
            "Label and timer; none is 0",
            "+-20 %",
            "W",
            &["circulation_loss", "circulation_from", "circulation_to"],
        ),
    ],
};

const SUN: Section = Section {
    heading: "Panels, battery and meter",
    blanks: &[
        blank("Size of the panels, each roof", "Invoice, or number times label", "+-2 %", "kWp", &["panels"]),
        blank(
            "Direction and slope, each roof; shade",
            "Compass away from steel +-10, slope +-5 degrees",
            "+-5 %",
            "deg",
            &["yield_per_kwp"],
        ),
        blank(
            "Inverter: total so far, and since when",
            "Display or app; photograph it",
            "+-3 %",
            "kWh",
            &["yield_per_kwp"],
        ),
        blank("Inverter: most that it gives", "Label", "+-2 %", "kW", &["inverter_limit"]),
        blank("Export of the last year", "Bill or meter's export register", "+-2 %", "kWh/yr", &["self_use"]),
        blank(
            "Battery: holds, and who comes first",
            "Label; app; ask the installer",
            "+-10 %",
            "kWh",
            &["battery", "battery_first"],
        ),
        blank(
            "Phases: of house, inverter and element",
            "Meter's label; does it net the phases?",
            "exact",
            "",
            &["phases"],
        ),
        blank(
            "Half-hourly readings of a year",
            "Ask the network operator for the file",
            "+-1 %",
            "",
            &["readings"],
        ),
        blank("Most that may be exported", "Connection agreement", "exact", "kW", &["export_limit"]),
    ],
};

const PRICES: Section = Section {
    heading: "Tariff sheets (copy them; note their dates)",
    blanks: &[
        blank(
            "Fuel: price of a kWh, from .. until ..",
            "Unit rate with tax, no standing charge",
            "exact",
            "EUR/kWh",
            &["gas_price"],
        ),
        blank(
            "Electricity: day, night, hours of night",
            "The same",
            "exact",
            "EUR/kWh",
            &["import_price", "offpeak_share"],
        ),
        blank(
            "Export: price, until when, who may change it",
            "Contract, not what is remembered",
            "exact",
            "EUR/kWh",
            &["export_price"],
        ),
        blank(
            "What money would earn or cost",
            "Ask: savings rate or loan rate, less inflation",
            "a choice",
            "1/yr",
            &["discount"],
        ),
    ],
};

const QUOTE: Section = Section {
    heading: "Quote (line by line, VAT in or out, valid until)",
    blanks: &[
        blank("Controller", "Quote; data sheet to be attached", "exact", "EUR", &["controller_price"]),
        blank(
            "Fitting, cable, notification",
            "Quote; how far from meter to cylinder",
            "+-10 %",
            "EUR",
            &["fitting_price"],
        ),
        blank(
            "New element or thermostat: needed? price",
            "Quote; age of the old one",
            "+-10 %",
            "EUR",
            &["element_needed", "element_price"],
        ),
        blank("Anything else at first", "Quote", "exact", "EUR", &["extra_cost"]),
        blank("Warranty in writing", "Quote", "exact", "yr", &["warranty"]),
        blank(
            "Standby; power left flowing out; loss",
            "Data sheet",
            "+-20 %",
            "W",
            &["standby", "threshold", "conversion_loss"],
        ),
        blank(
            "Promised: years to pay back; saving a year",
            "Quote or letter, word by word",
            "exact",
            "",
            &["payback", "first_year_saving"],
        ),
    ],
};

/// Pictures to take.
pub const PHOTOGRAPH: [&str; 4] = [
    "Labels of cylinder, element, heater, panels, inverter, battery, meter: sharp, straight on.",
    "Cylinder with its pipes, valves and insulation; the way from meter to cylinder.",
    "Fuse board with its cover on; inverter's total; timer's settings; each roof at noon.",
    "Every page of quote, bills, export contract, connection agreement, with their dates.",
];

/// Questions to put.
pub const ASK: [&str; 5] = [
    "Is the cylinder sealed (unvented)? Who serviced it last, and when?",
    "Do mixing valves limit what reaches baths and showers? Small children, old people?",
    "What will change: people, a car, a battery, a heat pump, a new roof or boiler?",
    "Do contracts or warranties forbid the change? Ask for it in writing.",
    "Who decides, by when, and what would they do otherwise?",
];
