//! The buyer's study: head, rows, workings, results, and what is asked of them.

use std::fmt::Write as _;

use super::answers::{Answer, Answers, Heater};
use super::toml_text::{Row, Three, comment, number, quoted};
use super::{CAUTIONS, home, money};

/// The study that the answers make. Its Sobol dimensions are not pinned yet: that takes a checked model.
pub fn study_of(answers: &Answers) -> String {
    let mut out = String::new();
    head(answers, &mut out);
    home::water(answers, &mut out);
    home::efficiency(answers).write(&mut out);
    if answers.meter.given().is_none() {
        home::export(answers).write(&mut out);
        displaced().write(&mut out);
    } else {
        volume().write(&mut out);
    }
    money::quote(answers, &mut out);
    money::keeping(answers, &mut out);
    money::heat_price(answers).write(&mut out);
    money::export_price(answers).write(&mut out);
    discount().write(&mut out);
    links(answers, &mut out);
    if let Answer::Given(file) = &answers.meter {
        simulated(answers, file, &mut out);
    }
    workings(answers, &mut out);
    results(answers, &mut out);
    questions(answers, &mut out);
    report(answers, &mut out);
    out
}

fn head(answers: &Answers, out: &mut String) {
    comment(
        out,
        "Made from your answers. A figure that you gave stands with a narrow range, the usual one with its usual range, and what you do not know with a wide range (\"not known: wide range\"): the better you know your home, the more the answer is worth. Change any row by hand; `payspread check` says whether it still makes sense. Where a source says \"unverified\", the figure is our own estimate.\n\nThe model works by the year. \"Our hourly model\" is a simulation of an invented house over 15 years of measured sun at Dublin.\n\nBefore you act on it:",
    );
    for caution in CAUTIONS {
        comment(out, &format!("- {caution}"));
    }
    let runs = if answers.meter.given().is_some() { "4_096" } else { "16_384" };
    let (year, currency) = (money::first_year(answers), quoted(answers.currency()));
    let _ = writeln!(
        out,
        "\ntitle      = \"Spare sunshine into the hot water: our home\"\nquestion   = \"Will the controller pay for itself before it wears out?\"\ncurrency   = {currency}\nprices     = \"real\"              # money of the first year: no general inflation\nfirst_year = {year}\nyears      = 20\nheadline   = \"npv\"\n\n[sampling]\nruns   = {runs}\nseed   = 4711\nmethod = \"sobol\"\n"
    );
}

fn displaced() -> Row {
    let row = home::input(
        "displaced",
        "Heat that the heater saves for each kWh put into the water",
        "The controller",
        "",
    );
    Three::of(0.72, 0.82, 0.95)
        .in_row(row, "triangular")
        .text("revealed", "later")
        .text("source", "Our hourly model; upper part: our own estimate, unverified")
        .text("as_of", "2026-11")
        .text("note", "Not all of it: a hotter cylinder loses more, and some heat comes that nobody needed")
}

fn volume() -> Row {
    let row = home::input("volume", "Size of the cylinder", "Your home", "L");
    Three::of(110.0, 180.0, 260.0)
        .in_row(row, "pert")
        .text("source", "Our own estimate, unverified: it stands on the cylinder's label")
        .text("as_of", "2026-11")
}

fn discount() -> Row {
    let row =
        home::input("discount", "What the money would earn elsewhere, above inflation", "Prices", "1/yr");
    row.raw("choice", "[0.02, 0.04, 0.07]")
        .raw("base", "0.04")
        .text("source", "Between a savings account and a loan: your judgement (unverified)")
        .text("as_of", "2026-11")
}

/// Gas, oil and electricity move with what export is paid; a price of nought moves with nothing.
fn links(answers: &Answers, out: &mut String) {
    let nothing = |price: &Answer<f64>| price.given().is_some_and(|x| *x <= 0.0);
    if !nothing(&answers.export_price) && !nothing(&answers.heat_price) {
        out.push_str("[[correlations]]\nbetween = [\"heat_price\", \"export_price\"]\nrank    = 0.5\n\n");
    }
}

/// A cylinder half hour by half hour, fed by the readings.
fn simulated(answers: &Answers, file: &str, out: &mut String) {
    comment(
        out,
        "The home half hour by half hour: the surplus is drawn from your meter readings, blocks of days within the month. The readings were made before a controller was fitted; if not, say false. Readings show when nobody is at home: do not pass the file on with the study.",
    );
    let night = matches!(answers.heater, Answer::Given(Heater::OffPeak));
    let electric = matches!(answers.heater, Answer::Given(Heater::OffPeak | Heater::Day));
    let mut row = Row::new("hotwater.home", "Your home")
        .text("volume", "volume")
        .raw("element", "2.75                   # kW: 3 kW at 240 V; it stands on the element's label")
        .raw("standing_loss", "1.7                    # kWh a day, EU class C for 180 L")
        .raw("cold", "\"seasonal(12 [degC], 4.5 [K], 41)\"")
        .text("litres", "litres");
    if electric {
        row = row.text("backup", "electricity").raw("backup_power", "2.75                   # kW");
    }
    if night {
        row = row.raw("backup_from", "0                      # h: at night").raw("backup_to", "7");
    }
    row.text("readings", file)
        .raw("before_equipment", "true")
        .raw("season", "[2.0, 4.7, 7.4, 11.1, 14.3, 14.1, 13.7, 11.5, 9.7, 6.1, 3.6, 1.8]   # our hourly model: months without readings")
        .write(out);
}

fn working(name: &str, label: &str, unit: &str, formula: &str) -> Row {
    Row::new(&format!("workings.{name}"), label).text("unit", unit).text("formula", formula)
}

fn workings(answers: &Answers, out: &mut String) {
    let showers = match (&answers.heats_shower, answers.showers_do_not_count()) {
        (_, true) => "",
        (Answer::Unknown, _) | (Answer::Given(super::answers::Shower::Both), _) => {
            " + people * showers_each * shower_water * from_cylinder"
        }
        _ => " + people * showers_each * shower_water",
    };
    let litres = format!(
        "other_uses * (people * 9.8 [L/person/day] + 14 [L/day]) + baths_a_week / 7 [day] * 50.8 [L]{showers}"
    );
    working("litres", "Hot water drawn from the cylinder in a day", "L/day", &litres)
        .text("note", "Basins and kitchen, baths and their 50.8 L: BREDEM 2012")
        .write(out);
    if answers.meter.given().is_some() {
        by_simulation(answers, out);
    } else {
        by_the_year(answers, out);
    }
    let saving = "(fuel * heat_price - taken * export_price - running_cost * 1 [yr]) * in_service(served)";
    working("served", "Years for which the controller works", "yr", "max(life, warranty)").write(out);
    working("outlay", "What you pay at first", answers.currency(), &money::outlay(answers)).write(out);
    working("saving", "Saving, by year", answers.currency(), saving).write(out);
}

/// Workings that read the simulated home.
fn by_simulation(answers: &Answers, out: &mut String) {
    working("taken", "Diverted into the water in a year", "kWh", "sum_months(home.diverted)").write(out);
    let pipes = "sum_months(home.backup_free_days - home.backup_free_days_before) * 0.9 [kWh/day]";
    let heat = if home::is_boiler(answers) {
        format!("(sum_months(home.displaced) + {pipes}) / efficiency")
    } else {
        "sum_months(home.displaced) / efficiency".to_owned()
    };
    working("fuel", "Bought heat avoided in a year", "kWh", &heat)
        .text(
            "note",
            "On days when the sun suffices, pipes to a boiler stay cold too: 0.9 kWh a day, BREDEM 2012",
        )
        .write(out);
}

/// Workings of the model by the year, fitted to the hourly model.
fn by_the_year(answers: &Answers, out: &mut String) {
    let electric = matches!(answers.heater, Answer::Given(Heater::OffPeak | Heater::Day));
    let night = matches!(answers.heater, Answer::Given(Heater::OffPeak));
    let warmth = if electric { 61 } else { 44 };
    let room = if night { "0.6 * " } else { "" };
    working("volume", "Hot water drawn in a year", "m3", "litres * 1 [yr]").write(out);
    let wanted = format!(
        "water_heat(volume, 12 [degC], {warmth} [degC]) + 1.7 [kWh/day] * 1 [yr] * ({warmth} [degC] - 20 [degC]) / 45 [K]"
    );
    working("heat_wanted", "Heat that the heater would give in a year", "kWh", &wanted)
        .text("note", "Cold water 12, room 20 degC; a boiler keeps the water at 44 in the mean, an element at 61; 1.7 kWh a day lost by a full cylinder")
        .write(out);
    working("room", "The most that the cylinder can take in a year", "kWh", &format!("{room}0.65 * (water_heat(volume, 12 [degC], 61 [degC]) + 1.7 [kWh/day] * 1 [yr])"))
        .text("note", "What is drawn and lost at 61 degC; 0.65 of it lies in the months in which the sun has something to spare (fitted to our hourly model). Filled at night, 0.6 of that is left")
        .write(out);
    working(
        "offered",
        "Export that reaches the element while there is room",
        "kWh",
        "0.80 * export_now * 1 [yr]",
    )
    .text(
        "note",
        "0.87 with a boiler in the evening only, 0.72 with a second firing before dawn (our hourly model)",
    )
    .write(out);
    working(
        "taken",
        "Diverted into the water in a year",
        "kWh",
        "offered * room / sqrt(offered * offered + room * room)",
    )
    .text(
        "note",
        "Never above what is offered nor above the room: from noon on a bright day the cylinder is full",
    )
    .write(out);
    working(
        "covered",
        "Share of the heater's heat that the sun replaces",
        "",
        "min(1, taken * displaced / heat_wanted)",
    )
    .write(out);
    let fuel = if home::is_boiler(answers) {
        "covered * (heat_wanted + sqrt(covered) * 0.77 [kWh/day] * 1 [yr]) / efficiency"
    } else {
        "covered * heat_wanted / efficiency"
    };
    working("fuel", "Bought heat avoided in a year", "kWh", fuel)
        .text("note", "On days when the sun suffices, pipes to a boiler stay cold too: 0.9 kWh a day, six days in seven")
        .write(out);
}

fn results(answers: &Answers, out: &mut String) {
    let result = |name: &str, label: &str| Row::new(&format!("results.{name}"), label);
    let currency = answers.currency();
    result("npv", "What you gain after all costs in today's money")
        .text("unit", currency)
        .text("formula", "npv(discount, outlay, saving)")
        .raw("at_least", "0")
        .write(out);
    result("payback", "Years until it has paid for itself")
        .text("unit", "yr")
        .text("formula", "payback(outlay, saving, in_service(served))")
        .text("better", "lower")
        .write(out);
    result("pays_back", "Pays for itself before it wears out")
        .text("formula", "pays_back(outlay, saving)")
        .write(out);
    result("first_year_saving", "Saving in the first year")
        .text("unit", currency)
        .text("formula", "at_year(saving, 0)")
        .text("better", "higher")
        .write(out);
}

fn questions(answers: &Answers, out: &mut String) {
    out.push_str("[[break_even]]\nof      = \"export_price\"\nresult  = \"npv\"\nagainst = \"heat_price\"             # its first year: it stands on your bill\n\n");
    out.push_str(
        "[[break_even]]\nof      = \"controller_price\"\nresult  = \"npv\"\nagainst = \"export_price\"\n\n",
    );
    let promised = [
        ("first_year_saving", &answers.promised_saving),
        ("payback", &answers.promised_payback),
        ("life", &answers.promised_life),
    ];
    let promised: Vec<_> = promised.iter().filter_map(|(name, a)| Some((*name, *a.given()?))).collect();
    if promised.is_empty() {
        comment(
            out,
            "The seller promised nothing that you named. Promises stand here as: [claim], and below it payback = 6.",
        );
        out.push('\n');
        return;
    }
    out.push_str("# What the seller promised: the answer says how often it comes true.\n[claim]\n");
    for (name, value) in promised {
        let _ = writeln!(out, "{name:<17} = {}", number(value));
    }
    out.push('\n');
}

/// The study's own words for its report.
fn report(answers: &Answers, out: &mut String) {
    let mut decision = "Whether to accept the quote".to_owned();
    if let Answer::Given(seller) = &answers.seller {
        let _ = write!(decision, " of {seller}");
    }
    match &answers.valid_until {
        Answer::Given(date) => {
            let _ = write!(decision, "; it is valid until {date}");
        }
        _ => decision.push_str("; until when it is valid is not said: ask"),
    }
    let lines: Vec<String> = answers
        .lines()
        .iter()
        .filter_map(|(name, line)| Some((name, line.given()?)))
        .filter(|(_, line)| line.amount > 0.0)
        .map(|(name, line)| {
            let vat = if line.without_vat { "without VAT, which is added" } else { "VAT included" };
            format!("{} {} ({vat})", name.trim_end_matches("_price"), number(line.amount))
        })
        .collect();
    let lines = if lines.is_empty() { "no line of it is known yet".to_owned() } else { lines.join(", ") };
    let scope =
        format!("One home with its own solar panels and cylinder; the quote: {lines} {}", answers.currency());
    let doubts = "The sun's share is taken by the year from a model of one invented house. A battery, several cylinders, a swimming pool or a car that takes the surplus are not in it.";
    let simulated = "The sun's share comes from your own readings, but your cylinder, your times of showering and the heater's timer are assumed. A battery is in it only as far as the readings show it.";
    let _ = writeln!(
        out,
        "[report]\ndecision   = {}\nscope      = {}\nexclusions = {}\ndoubts     = {}",
        quoted(&decision),
        quoted(&scope),
        quoted("Carbon, comfort, noise, what the house is worth, tax on export"),
        quoted(if answers.meter.given().is_some() { simulated } else { doubts }),
    );
}
