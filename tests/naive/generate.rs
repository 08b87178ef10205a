//! Studies made up at random: text that a person could have typed, well typed
//! for the most part, over units, shapes and all functions.
//!
//! The choices come from a tape of numbers, so that a failure shrinks to a
//! short tape: when it ends, every choice is the first and every formula a leaf.

use std::fmt::Write as _;

/// How many values, as [`payspread::formula::types::Shape`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    S,
    M,
    Y,
    MY,
}
use Shape::{M, MY, S, Y};

const SHAPES: [Shape; 4] = [S, Y, M, MY];

/// Units that formulas move between. A plain number is "".
const UNITS: [&str; 9] = ["", "EUR", "kWh", "EUR/kWh", "yr", "1/yr", "K", "m3", "degC"];

/// What a product of two units is.
const PRODUCTS: [(&str, &str, &str); 5] = [
    ("EUR", "EUR/kWh", "kWh"),
    ("", "1/yr", "yr"),
    ("kWh", "kWh", ""),
    ("EUR", "EUR", ""),
    ("EUR/kWh", "EUR/kWh", ""),
];

/// What a quotient of two units is.
const QUOTIENTS: [(&str, &str, &str); 6] = [
    ("", "EUR", "EUR"),
    ("", "kWh", "kWh"),
    ("", "yr", "yr"),
    ("1/yr", "", "yr"),
    ("EUR/kWh", "EUR", "kWh"),
    ("kWh", "EUR", "EUR/kWh"),
];

fn unit_line(unit: &str) -> String {
    if unit.is_empty() { String::new() } else { format!("unit = \"{unit}\"\n") }
}

struct Name {
    name: String,
    unit: &'static str,
    shape: Shape,
}

struct Gen<'t> {
    tape: std::slice::Iter<'t, u32>,
    years: usize,
    names: Vec<Name>,
    yes_no: Vec<(String, Shape)>,
    paybacks: Vec<String>,
    lives: Vec<String>,
    labels: Vec<(String, [&'static str; 3])>,
    inflation_by_year: bool,
}

/// A study from a tape.
pub fn study(tape: &[u32]) -> String {
    let mut gen_ = Gen {
        tape: tape.iter(),
        years: 1,
        names: Vec::new(),
        yes_no: Vec::new(),
        paybacks: Vec::new(),
        lives: Vec::new(),
        labels: Vec::new(),
        inflation_by_year: false,
    };
    gen_.study()
}

impl Gen<'_> {
    /// A number below `n`; 0 when the tape has ended.
    fn pick(&mut self, n: usize) -> usize {
        self.tape.next().map_or(0, |&x| x as usize % n)
    }

    fn one_of<T: Copy>(&mut self, of: &[T]) -> T {
        of[self.pick(of.len())]
    }

    fn figure(&mut self) -> &'static str {
        self.one_of(&[
            "1", "2", "0", "0.3", "3", "7.25", "-1", "-2.5", "100", "1e-3", "0.04", "12", "1e6", "4",
        ])
    }

    fn study(&mut self) -> String {
        self.years = self.one_of(&[2, 1, 3, 4]);
        let method = self.one_of(&["sobol", "random", "latin hypercube"]);
        let mut text = format!(
            "title = \"A\"\ncurrency = \"EUR\"\nprices = \"real\"\ninflation = \"dearer\"\nfirst_year = 2027\nyears = {}\n\
             [sampling]\nruns = 64\nseed = 3\nmethod = \"{method}\"\n",
            self.years
        );
        self.inflation(&mut text);
        for k in 0..3 + self.pick(6) {
            self.input(k, &mut text);
        }
        for k in 0..self.pick(3) {
            self.path(k, &mut text);
        }
        for k in 0..1 + self.pick(6) {
            self.working(k, &mut text);
        }
        let formula = self.number("", S, 2);
        write!(text, "[results.answer]\nformula = '''{formula}'''\n").unwrap();
        text
    }

    fn inflation(&mut self, text: &mut String) {
        let (section, lines) = self.one_of(&[
            ("inputs", "value = 2\n"),
            ("inputs", "normal = { mean = 2, sd = 1 }\n"),
            ("inputs", "value = 2\nchanges = [ { year = 2028, add = 0.5 } ]\n"),
            (
                "paths",
                "process = \"steady growth\"\nstart = { uniform = { min = 1, max = 3 } }\ngrowth = 0.1\n",
            ),
        ]);
        self.inflation_by_year = section == "paths" || lines.contains("changes");
        writeln!(text, "[{section}.dearer]\nunit = \"%/yr\"\n{lines}").unwrap();
    }

    /// Changes of an input in this unit, or none.
    fn changes(&mut self, unit: &str) -> String {
        if self.years < 2 || self.pick(3) != 1 {
            return String::new();
        }
        let mut changes = Vec::new();
        for _ in 0..1 + self.pick(3) {
            let chance = self.one_of(&["", "chance = 0.4, ", "chance = 0.7, ", "chance = 0, "]);
            let year = self.one_of(&["2028", "{ discrete = { values = [2027, 2028, 2029] } }", "2028.5"]);
            let effect = self.one_of(&["add", "to", "at_most", "at_least", "scale"]);
            let effect = if unit == "degC" && effect == "scale" { "add" } else { effect };
            let by = self.one_of(&["0.5", "2", "{ uniform = { min = 0.5, max = 1.5 } }", "0"]);
            changes.push(format!("{{ {chance}year = {year}, {effect} = {by} }}"));
        }
        format!("\nchanges = [ {} ]", changes.join(", "))
    }

    fn input(&mut self, k: usize, text: &mut String) {
        let name = format!("i{k}");
        let unit = self.one_of(&UNITS);
        // The same dimension in another unit, so that scales are at work.
        let written = match (unit, self.pick(3)) {
            ("EUR", 1) => "ct",
            ("kWh", 1) => "MJ",
            ("yr", 1) => "month",
            ("1/yr", 1) => "%/yr",
            ("m3", 1) => "L",
            ("EUR/kWh", 1) => "EUR/MWh",
            (unit, _) => unit,
        };
        let mut shape = S;
        let value = match self.pick(8) {
            0 => format!("value = {}", self.figure()),
            1 => {
                shape = M;
                let months: Vec<&str> = (0..12).map(|_| self.figure()).collect();
                format!("monthly = [{}]", months.join(", "))
            }
            2 => "uniform = { min = -2, max = 5 }".to_owned(),
            3 => "normal = { mean = 1, sd = 2 }".to_owned(),
            4 => "discrete = { values = [0, 1, 2, 3], weights = [1, 2, 3, 1] }".to_owned(),
            5 => "triangular = { min = 0.5, mode = 1, max = 3 }".to_owned(),
            6 => format!("choice = [{}, 17]", self.figure()),
            _ => {
                self.labels.push((name.clone(), ["red", "green", "blue"]));
                writeln!(text, "[inputs.{name}]\nlabels = [\"red\", \"green\", \"blue\"]").unwrap();
                return;
            }
        };
        let changes = self.changes(unit);
        let money = match unit {
            "EUR" | "EUR/kWh" | "1/yr" if self.pick(3) == 1 => "\nmoney = \"nominal\"",
            _ => "",
        };
        let converted = !money.is_empty() && (unit != "1/yr" || self.inflation_by_year);
        if !changes.is_empty() || converted {
            shape = if shape == M { MY } else { Y };
        }
        writeln!(text, "[inputs.{name}]\n{}{value}{changes}{money}", unit_line(written)).unwrap();
        let drawn = ["uniform", "normal", "triangular", "discrete"].iter().any(|d| value.starts_with(d));
        if unit == "yr" && drawn && shape == S {
            self.lives.push(name.clone());
        }
        self.names.push(Name { name, unit, shape });
    }

    fn path(&mut self, k: usize, text: &mut String) {
        let name = format!("p{k}");
        let unit = self.one_of(&["EUR/kWh", "", "EUR"]);
        let start = self.one_of(&["1.5", "{ uniform = { min = 0.2, max = 2 } }"]);
        let process = self.one_of(&[
            "process = \"steady growth\"",
            "process = \"steady growth\"\ngrowth = 0.03",
            "process = \"random walk\"\nvolatility = 0.1",
            "process = \"independent\"\nvolatility = 0.2",
            "process = \"mean reverting\"\nvolatility = 0.2\nhalf_life = 2",
            "process = \"random walk\"\nvolatility = 0.1\nfloor = 0.4\nceiling = 1.1",
            "process = \"steady growth\"\nchanges = [ { chance = 0.4, year = 2028, scale = 0.5 } ]",
        ]);
        let process = match self.pick(6) {
            1 => format!("process = \"years\"\nvalues = [{}]", vec![self.figure(); self.years].join(", ")),
            2 if self.years > 2 => {
                "process = \"steps\"\nsteps = [ { year = 2028, to = { uniform = { min = 1, max = 2 } } }, \
                                    { year = 2029, scale = 0.7 } ]"
                    .to_owned()
            }
            _ => process.to_owned(),
        };
        let process = if process.contains("changes") { process } else { process + &self.changes(unit) };
        let money = if unit.contains("EUR") && self.pick(3) == 1 { "money = \"nominal\"\n" } else { "" };
        let start = if process.contains("values") { String::new() } else { format!("start = {start}\n") };
        // A change must lie within the horizon.
        let process = if self.years < 3 && process.contains("scale = 0.5 }") {
            "process = \"steady growth\"".to_owned()
        } else {
            process
        };
        writeln!(text, "[paths.{name}]\n{}{start}{money}{process}", unit_line(unit)).unwrap();
        self.names.push(Name { name: format!("{name}.start"), unit, shape: S });
        self.names.push(Name { name, unit, shape: Y });
    }

    fn working(&mut self, k: usize, text: &mut String) {
        let name = format!("w{k}");
        let depth = self.one_of(&[3, 4, 2, 5]);
        match self.pick(8) {
            // A working that reads its own last year.
            1 => {
                let unit = self.one_of(&UNITS[..8]);
                let (start, rest) = (self.number(unit, S, 2), self.number(unit, Y, depth));
                let factor = self.number("", Y, 2);
                let formula = self.one_of(&[
                    "max(previous(SELF, START) * FACTOR, REST)",
                    "previous(SELF, START) + REST",
                    "if(FACTOR > 1, REST, previous(SELF, START))",
                    "previous(SELF * FACTOR - REST, START) + 0 * START",
                ]);
                let formula = formula
                    .replace("SELF", &name)
                    .replace("START", &format!("({start})"))
                    .replace("FACTOR", &format!("({factor})"))
                    .replace("REST", &format!("({rest})"));
                write!(text, "[workings.{name}]\n{}formula = '''{formula}'''\n", unit_line(unit)).unwrap();
                self.names.push(Name { name, unit, shape: Y });
            }
            // Two workings that read each other, one of them last year.
            2 => {
                let (a, b) = (format!("{name}a"), format!("{name}b"));
                let (start, one, two) =
                    (self.number("EUR", S, 2), self.number("EUR", Y, 3), self.number("", Y, 3));
                write!(text, "[workings.{a}]\nunit = \"EUR\"\nformula = '''{b} * ({two}) - ({one})'''\n")
                    .unwrap();
                write!(
                    text,
                    "[workings.{b}]\nunit = \"EUR\"\nformula = '''previous({a}, {start}) + 1 [EUR]'''\n"
                )
                .unwrap();
                self.names.push(Name { name: a, unit: "EUR", shape: Y });
                self.names.push(Name { name: b, unit: "EUR", shape: Y });
            }
            3 => {
                let shape = self.one_of(&SHAPES);
                let formula = self.condition(shape, depth);
                write!(text, "[workings.{name}]\nformula = '''{formula}'''\n").unwrap();
                self.yes_no.push((name, shape));
            }
            4 => {
                let formula = self.payback(depth);
                write!(text, "[workings.{name}]\nunit = \"yr\"\nformula = '''{formula}'''\n").unwrap();
                self.paybacks.push(name);
            }
            _ => {
                let (unit, shape) = (self.one_of(&UNITS), self.one_of(&SHAPES));
                let formula = self.number(unit, shape, depth);
                write!(text, "[workings.{name}]\n{}formula = '''{formula}'''\n", unit_line(unit)).unwrap();
                self.names.push(Name { name, unit, shape });
            }
        }
    }

    /// Two shapes that join to `shape`.
    fn parts(&mut self, shape: Shape) -> (Shape, Shape) {
        match shape {
            S => (S, S),
            MY => self.one_of(&[(MY, S), (Y, M), (M, Y), (S, MY), (MY, MY), (MY, Y), (M, MY)]),
            x => self.one_of(&[(x, S), (S, x), (x, x)]),
        }
    }

    fn literal(&mut self, unit: &str) -> String {
        let figure = self.figure();
        if unit.is_empty() { figure.to_owned() } else { format!("{figure} [{unit}]") }
    }

    fn leaf(&mut self, unit: &str, shape: Shape) -> String {
        let known: Vec<String> = self
            .names
            .iter()
            .filter(|n| n.unit == unit && n.shape == shape)
            .map(|n| n.name.clone())
            .collect();
        if !known.is_empty() && self.pick(5) != 1 {
            let k = self.pick(known.len());
            return known[k].clone();
        }
        let literal = self.literal(unit);
        if unit == "degC" {
            return match shape {
                S => literal,
                M => format!("({literal} + 1 [K] * month)"),
                Y => format!("({literal} - 1 [K] * year)"),
                MY => format!("({literal} - 1 [K] * year * month)"),
            };
        }
        match (shape, self.pick(2)) {
            (S, _) => literal,
            (M, 0) => format!("{literal} * month"),
            (M, _) => format!("{literal} * days_in_month / 1 [yr]"),
            (Y, 0) => format!("{literal} * year"),
            (Y, _) => format!("{literal} * (2030 - calendar_year)"),
            (MY, 0) => format!("{literal} * (month - year)"),
            (MY, _) => format!("{literal} * month * in_service(2.3 [yr])"),
        }
    }

    /// A formula of this unit and exactly this shape.
    fn number(&mut self, unit: &'static str, shape: Shape, depth: usize) -> String {
        if depth == 0 {
            return self.leaf(unit, shape);
        }
        let d = depth - 1;
        if unit == "degC" {
            return self.point(shape, d);
        }
        match self.pick(12) {
            0 => self.leaf(unit, shape),
            1 | 2 => {
                let (a, b) = self.parts(shape);
                let sign = self.one_of(&["+", "-"]);
                format!("({} {sign} {})", self.number(unit, a, d), self.number(unit, b, d))
            }
            3 => self.product(unit, shape, d),
            4 => self.quotient(unit, shape, d),
            5 => {
                let (a, b) = self.parts(shape);
                let name = self.one_of(&["min", "max"]);
                let (x, y) = (self.number(unit, a, d), self.number(unit, b, d));
                match self.pick(3) {
                    0 => format!("{name}({x}, {y})"),
                    1 => format!("{name}({x}, {y}, {})", self.number(unit, S, d)),
                    _ => format!("clamp({x}, {y}, {})", self.number(unit, S, d)),
                }
            }
            6 => {
                let (a, b) = self.parts(shape);
                format!(
                    "if({}, {}, {})",
                    self.condition(a, d),
                    self.number(unit, b, d),
                    self.number(unit, shape, d)
                )
            }
            7 => match self.pick(2) {
                0 => format!("(-{})", self.number(unit, shape, d)),
                _ => format!("abs({})", self.number(unit, shape, d)),
            },
            8 => self.along(unit, shape, d),
            9 if unit.is_empty() => self.plain(shape, d),
            9 => {
                let (a, b) = self.parts(shape);
                // A root and its square.
                format!("sqrt({} * {})", self.number(unit, a, d), self.number(unit, b, d))
            }
            10 => self.own(unit, shape, d),
            11 if unit.contains("EUR") && (shape == Y || shape == MY) => {
                let name = self.one_of(&["inflate", "deflate"]);
                let of = match (shape, self.pick(2)) {
                    (Y, 0) => S,
                    (MY, 0) => M,
                    _ => shape,
                };
                format!("{name}({})", self.number(unit, of, d))
            }
            _ => self.along(unit, shape, d),
        }
    }

    /// A temperature on the scale: what differences can be added to, and what cannot be multiplied.
    fn point(&mut self, shape: Shape, d: usize) -> String {
        let (a, b) = self.parts(shape);
        match self.pick(8) {
            0 => format!("({} - {})", self.number("degC", a, d), self.number("K", b, d)),
            1 => format!("({} + {})", self.number("K", a, d), self.number("degC", b, d)),
            2 => format!(
                "{}({}, {})",
                self.one_of(&["min", "max"]),
                self.number("degC", a, d),
                self.number("degC", b, d)
            ),
            3 => format!(
                "if({}, {}, {})",
                self.condition(a, d),
                self.number("degC", b, d),
                self.number("degC", shape, d)
            ),
            4 => {
                format!("clamp({}, {}, 60 [degC])", self.number("degC", shape, d), self.number("degC", S, d))
            }
            5 if shape == M => {
                format!("seasonal({}, {}, 41)", self.number("degC", S, d), self.number("K", S, d))
            }
            _ => self.along("degC", shape, d),
        }
    }

    fn product(&mut self, unit: &'static str, shape: Shape, d: usize) -> String {
        let known: Vec<_> = PRODUCTS.iter().filter(|p| p.0 == unit).copied().collect();
        let (_, u, v) = if known.is_empty() { (unit, unit, "") } else { self.one_of(&known) };
        let (a, b) = self.parts(shape);
        format!("{} * {}", self.atom(u, a, d), self.atom(v, b, d))
    }

    fn quotient(&mut self, unit: &'static str, shape: Shape, d: usize) -> String {
        let known: Vec<_> = QUOTIENTS.iter().filter(|q| q.0 == unit).copied().collect();
        let (_, u, v) = if known.is_empty() { (unit, unit, "") } else { self.one_of(&known) };
        let (a, b) = self.parts(shape);
        format!("{} / {}", self.atom(u, a, d), self.atom(v, b, d))
    }

    fn atom(&mut self, unit: &'static str, shape: Shape, d: usize) -> String {
        format!("({})", self.number(unit, shape, d))
    }

    /// Along months and years.
    fn along(&mut self, unit: &'static str, shape: Shape, d: usize) -> String {
        let axis = |axis: &str, of: &str| format!("{of}_{axis}");
        let point = unit == "degC";
        let of = if point { &["mean", "min", "max"][..] } else { &["sum", "mean", "min", "max"] };
        let of = self.one_of(of);
        let at = self.pick(self.years);
        match (shape, self.pick(4)) {
            (S, 0) => format!("{}({})", axis("months", of), self.number(unit, M, d)),
            (S, 1) => format!("at_year({}, {at})", self.number(unit, Y, d)),
            (S, _) => format!("{}({})", axis("years", of), self.number(unit, Y, d)),
            (M, 0) => {
                let values: Vec<String> = (0..12).map(|_| self.number(unit, S, d / 2)).collect();
                format!("months({})", values.join(", "))
            }
            (M, 1) => format!("at_year({}, {at})", self.number(unit, MY, d)),
            (M, _) => format!("{}({})", axis("years", of), self.number(unit, MY, d)),
            (Y, 0) => format!("{}({})", axis("months", of), self.number(unit, MY, d)),
            (Y, 1) => {
                let values: Vec<String> = (0..self.years).map(|_| self.number(unit, S, d)).collect();
                format!("years({})", values.join(", "))
            }
            (x, 2) if !point => format!("cumulative({})", self.number(unit, x, d)),
            (x, _) => {
                let start = if x == MY { self.one_of(&[S, M]) } else { S };
                format!("previous({}, {})", self.number(unit, x, d), self.number(unit, start, d))
            }
        }
    }

    /// What only plain numbers can do.
    fn plain(&mut self, shape: Shape, d: usize) -> String {
        let (a, b) = self.parts(shape);
        match self.pick(7) {
            0 => format!(
                "{}({})",
                self.one_of(&["floor", "round", "sqrt", "exp", "ln"]),
                self.number("", shape, d)
            ),
            1 => format!(
                "({})^{}",
                self.number("", shape, d),
                self.one_of(&["2", "3", "0", "1", "16", "17", "0.5", "(-1)"])
            ),
            2 => format!("({})^({})", self.number("", a, d), self.number("", b, d)),
            3 => format!("growth({})", self.number("1/yr", shape, d)),
            4 if shape == Y => format!("growth({})^year", self.number("1/yr", S, d)),
            5 if shape == Y => format!("in_service({})", self.number("yr", S, d)),
            5 if shape == MY => format!("{} * in_service({})", self.atom("", M, d), self.number("yr", S, d)),
            6 if shape == Y && !self.lives.is_empty() => {
                let k = self.pick(self.lives.len());
                format!("failures({})", self.lives[k])
            }
            _ => format!("({} - 1)", self.number("", shape, d)),
        }
    }

    /// Functions that give this unit.
    fn own(&mut self, unit: &'static str, shape: Shape, d: usize) -> String {
        let (a, b) = self.parts(shape);
        match (unit, shape) {
            ("kWh", _) => {
                let unit = self.one_of(&["K", "degC"]);
                let (from, to) = (self.number(unit, b, d), self.number(unit, shape, d));
                format!("water_heat({}, {from}, {to})", self.number("m3", a, d))
            }
            ("EUR", S) => {
                let rate = self.number("1/yr", S, d);
                let outlay = self.number("EUR", S, d);
                if self.pick(4) == 1 {
                    return format!("annuity({rate}, {outlay}, {})", self.number("yr", S, d));
                }
                let timing = self.one_of(&["", ", \"year end\"", ", \"mid year\""]);
                format!("npv({rate}, {outlay}, {}{timing})", self.saving(d).1)
            }
            ("1/yr", S) => format!("rates_of_return({}, {})", self.number("EUR", S, d), self.saving(d).1),
            (u, M) => format!(
                "seasonal({}, {}, {})",
                self.number(u, S, d),
                self.number(u, S, d),
                self.one_of(&["41", "200", "1"])
            ),
            (u, MY) => {
                let (a, b) = self.one_of(&[(Y, S), (S, Y), (Y, Y)]);
                format!("seasonal({}, {}, 41)", self.number(u, a, d), self.number(u, b, d))
            }
            _ => self.leaf(unit, shape),
        }
    }

    fn saving(&mut self, d: usize) -> (Shape, String) {
        let shape = self.one_of(&[Y, MY, Y, S, M]);
        (shape, self.number("EUR", shape, d))
    }

    /// Years or never.
    fn payback(&mut self, depth: usize) -> String {
        if depth == 0 && !self.paybacks.is_empty() {
            let k = self.pick(self.paybacks.len());
            return self.paybacks[k].clone();
        }
        let d = depth.saturating_sub(1);
        match self.pick(6) {
            3 if depth > 0 => {
                let name = self.one_of(&["min", "max"]);
                format!("{name}({}, {})", self.payback(d), self.number("yr", S, d))
            }
            4 if depth > 0 => {
                format!("if({}, {}, {})", self.condition(S, d), self.payback(d), self.payback(d))
            }
            5 if depth > 0 => format!("max({}, {})", self.payback(d), self.payback(d)),
            k => {
                let outlay = self.number("EUR", S, d);
                let (shape, saving) = self.saving(d);
                // A share in service has the periods of the saving, over the whole horizon.
                let share = match (self.pick(3), shape) {
                    (0, _) => String::new(),
                    (1, _) => format!(", in_service({})", self.number("yr", S, d)),
                    (_, S | Y) => format!(", {}", self.number("", Y, d)),
                    (_, M | MY) => format!(", {}", self.number("", MY, d)),
                };
                match k {
                    1 => format!("first_payback({outlay}, {saving}{share})"),
                    2 => format!(
                        "discounted_payback({}, {outlay}, {saving}{share})",
                        self.number("1/yr", S, d)
                    ),
                    _ => format!("payback({outlay}, {saving}{share})"),
                }
            }
        }
    }

    /// Yes or no, of exactly this shape.
    fn condition(&mut self, shape: Shape, depth: usize) -> String {
        let d = depth.saturating_sub(1);
        let (a, b) = self.parts(shape);
        match self.pick(8) {
            1 if depth > 0 => {
                let word = self.one_of(&["and", "or"]);
                format!("({} {word} {})", self.condition(a, d), self.condition(b, d))
            }
            2 if depth > 0 => format!("(not {})", self.condition(shape, d)),
            3 if shape == S => format!("is_never({})", self.payback(d)),
            4 if shape == S => format!("pays_back({}, {})", self.number("EUR", S, d), self.saving(d).1),
            5 if shape == S && !self.labels.is_empty() => {
                let k = self.pick(self.labels.len());
                let (name, labels) = self.labels[k].clone();
                format!("{name} {} \"{}\"", self.one_of(&["==", "!="]), self.one_of(&labels))
            }
            6 if shape == S => {
                format!(
                    "({} {} {})",
                    self.payback(d),
                    self.one_of(&["<", ">=", "=="]),
                    self.number("yr", S, d)
                )
            }
            7 => {
                let known: Vec<String> =
                    self.yes_no.iter().filter(|(_, s)| *s == shape).map(|(name, _)| name.clone()).collect();
                if known.is_empty() {
                    return self.comparison(a, b, d);
                }
                let k = self.pick(known.len());
                known[k].clone()
            }
            _ => self.comparison(a, b, d),
        }
    }

    fn comparison(&mut self, a: Shape, b: Shape, d: usize) -> String {
        let unit = self.one_of(&UNITS);
        let sign = self.one_of(&["<", "<=", ">", ">=", "==", "!="]);
        format!("({} {sign} {})", self.number(unit, a, d), self.number(unit, b, d))
    }
}
