//! The table of unit names: those of the trade, the study's currency, and the study's own.

use super::dimension::{Base, Dimension, write_factors};
use super::parse::{self, UnitError};

/// A unit: its text, what it measures and its size.
#[derive(Debug, Clone, PartialEq)]
pub struct Unit {
    /// As written.
    pub text: String,
    /// What it measures.
    pub dimension: Dimension,
    /// Base units in one of this unit, rounded once.
    pub scale: f64,
    /// A point on the temperature scale: only bare `degC`.
    pub point: bool,
    pub(super) ratio: Ratio,
}

/// A scale as a quotient of two numbers, which are whole for all units of the trade: so a conversion by a
/// thousandth divides by 1,000 and is correctly rounded.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Ratio {
    pub(super) num: f64,
    pub(super) den: f64,
}

impl Ratio {
    pub(super) const ONE: Ratio = Ratio { num: 1.0, den: 1.0 };

    pub(super) fn times(self, other: Ratio) -> Ratio {
        Ratio { num: self.num * other.num, den: self.den * other.den }.reduced()
    }

    pub(super) fn over(self, other: Ratio) -> Ratio {
        self.times(Ratio { num: other.den, den: other.num })
    }

    /// In lowest terms where both are whole; else as it is.
    pub(super) fn reduced(self) -> Ratio {
        const EXACT: f64 = 9_007_199_254_740_992.0;
        let whole = |x: f64| (1.0..EXACT).contains(&x) && x.floor() == x;
        if !(whole(self.num) && whole(self.den)) {
            return self;
        }
        let (mut a, mut b) = (self.num, self.den);
        while b != 0.0 {
            (a, b) = (b, a % b);
        }
        Ratio { num: self.num / a, den: self.den / a }
    }

    pub(super) fn value(self) -> f64 {
        self.num / self.den
    }
}

impl Unit {
    pub(super) fn new(text: impl Into<String>, dimension: Dimension, ratio: Ratio) -> Unit {
        Unit { text: text.into(), dimension, scale: ratio.value(), point: false, ratio }
    }

    /// The unit of plain numbers; its text is empty.
    pub fn plain() -> Unit {
        Unit::new("", Dimension::NONE, Ratio::ONE)
    }

    /// `value` of this unit in base units. Points stay on the Celsius scale.
    pub fn to_base(&self, value: f64) -> f64 {
        value * self.ratio.num / self.ratio.den
    }

    /// `value` of base units in this unit.
    pub fn from_base(&self, value: f64) -> f64 {
        value * self.ratio.den / self.ratio.num
    }
}

/// A line of the printed table of units.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UnitLine {
    /// Its name.
    pub name: String,
    /// In words.
    pub what: String,
    /// What it measures.
    pub dimension: String,
    /// Its size in another unit.
    pub size: String,
}

struct Known {
    name: String,
    what: String,
    size: String,
    unit: Unit,
}

/// Names of units with what they are. Currency and own units differ between studies, so each study has its table.
pub struct UnitTable {
    currency: String,
    known: Vec<Known>,
}

/// Which part of a line of `[units]` is wrong.
#[derive(Debug, Clone, PartialEq)]
pub enum DefineError {
    /// The name; its range is within the name.
    Name(UnitError),
    /// The size; its range is within the definition.
    Definition(UnitError),
}

type Row = (&'static str, Dimension, f64, f64, &'static str, &'static str);

const ENERGY: Dimension = Dimension::ENERGY;
const POWER: Dimension = Dimension::whole([0, 1, 0, 0, -1, 0, 0, 0]);
const LENGTH: Dimension = Dimension::whole([0, 0, 1, 0, 0, 0, 0, 0]);
const MASS: Dimension = Dimension::whole([0, 0, 0, 1, 0, 0, 0, 0]);
const TIME: Dimension = Dimension::TIME;

/// Name, dimension, base units in one of it as numerator and denominator, in words, size for the reader.
const BUILT_IN: &[Row] = &[
    ("kWh", ENERGY, 1.0, 1.0, "kilowatt-hour", "3.6 MJ"),
    ("Wh", ENERGY, 1.0, 1e3, "watt-hour", "0.001 kWh"),
    ("MWh", ENERGY, 1e3, 1.0, "megawatt-hour", "1,000 kWh"),
    ("GWh", ENERGY, 1e6, 1.0, "gigawatt-hour", "1,000 MWh"),
    ("J", ENERGY, 1.0, 3.6e6, "joule", "1/3,600 Wh"),
    ("kJ", ENERGY, 1.0, 3.6e3, "kilojoule", "1/3,600 kWh"),
    ("MJ", ENERGY, 1e3, 3.6e3, "megajoule", "1/3.6 kWh"),
    ("GJ", ENERGY, 1e6, 3.6e3, "gigajoule", "1,000 MJ"),
    ("kW", POWER, 8760.0, 1.0, "kilowatt", "1 kWh/h"),
    ("W", POWER, 8760.0, 1e3, "watt", "0.001 kW"),
    ("MW", POWER, 8.76e6, 1.0, "megawatt", "1,000 kW"),
    ("kWp", POWER, 8760.0, 1.0, "kilowatt of solar panels at test conditions", "1 kW"),
    ("L", Dimension::VOLUME, 1.0, 1e3, "litre", "0.001 m3"),
    ("m3", Dimension::VOLUME, 1.0, 1.0, "cubic metre", "1,000 L"),
    ("m2", Dimension::whole([0, 0, 2, 0, 0, 0, 0, 0]), 1.0, 1.0, "square metre", "1 m x 1 m"),
    ("m", LENGTH, 1.0, 1.0, "metre", "100 cm"),
    ("cm", LENGTH, 1.0, 1e2, "centimetre", "0.01 m"),
    ("mm", LENGTH, 1.0, 1e3, "millimetre", "0.001 m"),
    ("km", LENGTH, 1e3, 1.0, "kilometre", "1,000 m"),
    ("kg", MASS, 1.0, 1.0, "kilogram", "1,000 g"),
    ("g", MASS, 1.0, 1e3, "gram", "0.001 kg"),
    ("t", MASS, 1e3, 1.0, "tonne", "1,000 kg"),
    ("degC", Dimension::TEMPERATURE, 1.0, 1.0, "degree Celsius, a point on the scale", "0 at freezing"),
    ("K", Dimension::TEMPERATURE, 1.0, 1.0, "kelvin, a difference", "from one degC to the next"),
    ("yr", TIME, 1.0, 1.0, "year", "365 day"),
    ("month", TIME, 1.0, 12.0, "month", "1/12 yr"),
    ("day", TIME, 1.0, 365.0, "day", "24 h"),
    ("d", TIME, 1.0, 365.0, "day", "24 h"),
    ("h", TIME, 1.0, 8760.0, "hour", "1/8,760 yr"),
    ("min", TIME, 1.0, 525_600.0, "minute", "1/60 h"),
    ("s", TIME, 1.0, 31_536_000.0, "second", "1/3,600 h"),
    ("%", Dimension::NONE, 1.0, 1e2, "per cent", "0.01"),
    ("person", Dimension::of(Base::Person), 1.0, 1.0, "person", "1"),
    ("home", Dimension::of(Base::Home), 1.0, 1.0, "home", "1"),
];

/// Minor units by currency: hundredths.
const MINOR: &[(&str, &str, &str)] = &[
    ("EUR", "ct", "cent"),
    ("GBP", "p", "penny"),
    ("USD", "ct", "cent"),
    ("AUD", "ct", "cent"),
    ("NZD", "ct", "cent"),
    ("CAD", "ct", "cent"),
];

/// Units in which messages speak, tried in order before factors of base units are written out.
const SPOKEN: &[(Dimension, &str)] = &[
    (ENERGY, "kWh"),
    (POWER, "kW"),
    (Dimension::whole([0, 0, 2, 0, 0, 0, 0, 0]), "m2"),
    (Dimension::VOLUME, "L"),
    (Dimension::whole([0, 0, 3, 0, -1, 0, 0, 0]), "L/day"),
    (Dimension::whole([0, 0, 3, 0, 0, 0, -1, 0]), "L/person"),
    (Dimension::whole([0, 0, 3, 0, -1, 0, -1, 0]), "L/person/day"),
    (Dimension::whole([0, 1, 0, -1, 0, -1, 0, 0]), "kJ/kg/K"),
    (Dimension::whole([0, 1, -3, 0, 0, -1, 0, 0]), "kJ/L/K"),
    (Dimension::whole([0, 1, -3, 0, 0, 0, 0, 0]), "kWh/L"),
    (Dimension::whole([0, 1, -2, 0, -1, 0, 0, 0]), "W/m2"),
    (Dimension::whole([0, 1, -2, 0, 0, 0, 0, 0]), "kWh/m2"),
    (Dimension::whole([0, -1, 0, 1, 0, 0, 0, 0]), "kg/kWh"),
    (Dimension::whole([0, 1, 0, 0, -1, -1, 0, 0]), "W/K"),
    (Dimension::whole([0, 0, -3, 1, 0, 0, 0, 0]), "kg/m3"),
];

impl UnitTable {
    /// The table of a study in this currency (three capital letters).
    pub fn new(currency: &str) -> UnitTable {
        let mut known = vec![Known {
            name: currency.to_owned(),
            what: "money, the study's currency".to_owned(),
            size: String::new(),
            unit: Unit::new(currency, Dimension::MONEY, Ratio::ONE),
        }];
        if let Some((_, minor, what)) = MINOR.iter().find(|(code, ..)| *code == currency) {
            known.push(Known {
                name: (*minor).to_owned(),
                what: (*what).to_owned(),
                size: format!("0.01 {currency}"),
                unit: Unit::new(*minor, Dimension::MONEY, Ratio { num: 1.0, den: 100.0 }),
            });
        }
        for &(name, dimension, num, den, what, size) in BUILT_IN {
            let mut unit = Unit::new(name, dimension, Ratio { num, den }.reduced());
            unit.point = name == "degC";
            known.push(Known { name: name.to_owned(), what: what.to_owned(), size: size.to_owned(), unit });
        }
        UnitTable { currency: currency.to_owned(), known }
    }

    /// The study's currency.
    pub fn currency(&self) -> &str {
        &self.currency
    }

    /// Adds a unit of the study's own: `name` is an ASCII word without digits, `definition` a number and a
    /// unit known before it (`0.01 EUR`, `250 L`), or a number alone, which makes a plain number of that size.
    ///
    /// # Errors
    /// When the name is no such word or taken, or the definition cannot be read or is not above zero.
    pub fn define(&mut self, name: &str, definition: &str) -> Result<(), DefineError> {
        let name_error = |message: String, hint: &str| {
            DefineError::Name(UnitError::new("unit-name", 0..name.len(), message, hint))
        };
        if name.is_empty() || !name.bytes().all(|b| b.is_ascii_alphabetic() || b == b'_') {
            let message = format!("`{name}` cannot be the name of a unit");
            return Err(name_error(message, "use ASCII letters and underscores; a digit would be a power"));
        }
        if self.find(name).is_some() {
            return Err(name_error(format!("the unit `{name}` exists already"), "choose another name"));
        }
        let unit = parse::definition(self, name, definition).map_err(DefineError::Definition)?;
        let what = "the study's own".to_owned();
        self.known.push(Known { name: name.to_owned(), what, size: definition.trim().to_owned(), unit });
        Ok(())
    }

    /// Reads a unit such as `EUR/kWh`; the grammar stands in the module `parse`.
    ///
    /// # Errors
    /// With the range of bytes in `text`, what is wrong and what would be right.
    pub fn parse(&self, text: &str) -> Result<Unit, UnitError> {
        parse::unit(self, text)
    }

    pub(super) fn find(&self, name: &str) -> Option<&Unit> {
        self.known.iter().find(|k| k.name == name).map(|k| &k.unit)
    }

    /// All names, in the order of the printed table.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        self.known.iter().map(|k| k.name.as_str())
    }

    /// A unit in which a message speaks of this dimension: EUR/yr, kWh, L/day; empty text for plain numbers.
    /// Its text can be parsed again.
    pub fn unit_for(&self, dimension: &Dimension, point: bool) -> Unit {
        if dimension.is_none() {
            return Unit::plain();
        }
        let spoken = SPOKEN.iter().find(|(d, _)| d == dimension).map(|(_, text)| *text);
        let text = match spoken {
            Some(text) => text.to_owned(),
            None if point => "degC".to_owned(),
            None => {
                let base = |b: Base| match b {
                    Base::Money => self.currency.as_str(),
                    Base::Energy => "kWh",
                    Base::Length => "m",
                    Base::Mass => "kg",
                    Base::Time => "yr",
                    Base::Temperature => "K",
                    Base::Person => "person",
                    Base::Home => "home",
                };
                let factors: Vec<_> = Base::ALL.iter().map(|&b| (base(b), dimension.exponent(b))).collect();
                write_factors(&factors)
            }
        };
        self.parse(&text).unwrap_or_else(|_| Unit::new(text, *dimension, Ratio::ONE))
    }

    /// The printed table: name, in words, what it measures, size.
    pub fn lines(&self) -> Vec<UnitLine> {
        self.known
            .iter()
            .map(|k| UnitLine {
                name: k.name.clone(),
                what: k.what.clone(),
                dimension: k.unit.dimension.to_string(),
                size: k.size.clone(),
            })
            .collect()
    }
}
