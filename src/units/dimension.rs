//! Dimensions: exact rational exponents over the base dimensions.

use std::fmt;

/// A base dimension.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Base {
    /// Base unit: the study's currency.
    Money,
    /// Base unit: kWh.
    Energy,
    /// Base unit: m.
    Length,
    /// Base unit: kg.
    Mass,
    /// Base unit: yr.
    Time,
    /// Base unit: K (differences) or degC (points).
    Temperature,
    /// Base unit: person.
    Person,
    /// Base unit: home.
    Home,
}

impl Base {
    /// All of them, in the order of the exponents.
    pub const ALL: [Base; 8] = [
        Base::Money,
        Base::Energy,
        Base::Length,
        Base::Mass,
        Base::Time,
        Base::Temperature,
        Base::Person,
        Base::Home,
    ];

    /// Plain name.
    pub fn name(self) -> &'static str {
        match self {
            Base::Money => "money",
            Base::Energy => "energy",
            Base::Length => "length",
            Base::Mass => "mass",
            Base::Time => "time",
            Base::Temperature => "temperature",
            Base::Person => "person",
            Base::Home => "home",
        }
    }
}

/// A fraction in lowest terms, denominator positive.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Exponent {
    num: i64,
    den: i64,
}

/// Beyond these an exponent is a mistake; within them no sum of two can overflow.
const LARGEST_NUMERATOR: i64 = 1_000;
const LARGEST_DENOMINATOR: i64 = 24;

impl Exponent {
    /// Zero.
    pub const ZERO: Exponent = Exponent { num: 0, den: 1 };

    /// `num/den` in lowest terms; none when `den` is 0.
    pub fn new(num: i64, den: i64) -> Option<Exponent> {
        (den != 0).then(|| Exponent::reduced(i128::from(num), i128::from(den)))
    }

    // Saturates instead of wrapping: what is out of range stays out of range, and `Dimension::in_range` sees it.
    fn reduced(num: i128, den: i128) -> Exponent {
        let divisor = gcd(num.unsigned_abs(), den.unsigned_abs()).max(1).cast_signed();
        let sign = if den < 0 { -1 } else { 1 };
        let narrow = |x: i128| i64::try_from(x).unwrap_or(if x < 0 { -i64::MAX } else { i64::MAX });
        Exponent { num: narrow(sign * num / divisor), den: narrow(sign * den / divisor).max(1) }
    }

    /// Numerator.
    pub fn numerator(self) -> i64 {
        self.num
    }

    /// Denominator, at least 1.
    pub fn denominator(self) -> i64 {
        self.den
    }

    fn plus(self, other: Exponent) -> Exponent {
        let (a, b) = (i128::from(self.num), i128::from(self.den));
        let (c, d) = (i128::from(other.num), i128::from(other.den));
        match a.checked_mul(d).zip(c.checked_mul(b)).and_then(|(x, y)| x.checked_add(y)) {
            Some(num) => Exponent::reduced(num, b * d),
            None => Exponent { num: i64::MAX, den: 1 },
        }
    }

    fn times(self, other: Exponent) -> Exponent {
        Exponent::reduced(
            i128::from(self.num) * i128::from(other.num),
            i128::from(self.den) * i128::from(other.den),
        )
    }

    fn negated(self) -> Exponent {
        Exponent { num: -self.num, den: self.den }
    }

    fn in_range(self) -> bool {
        self.num.unsigned_abs() <= LARGEST_NUMERATOR.unsigned_abs() && self.den <= LARGEST_DENOMINATOR
    }
}

fn gcd(mut a: u128, mut b: u128) -> u128 {
    while b != 0 {
        (a, b) = (b, a % b);
    }
    a
}

/// What a quantity measures: an exponent for each base dimension.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Dimension([Exponent; 8]);

impl Dimension {
    /// Of a plain number.
    pub const NONE: Dimension = Dimension([Exponent::ZERO; 8]);

    /// From whole exponents in the order of [`Base::ALL`].
    pub const fn whole(exponents: [i64; 8]) -> Dimension {
        let mut all = [Exponent::ZERO; 8];
        let mut i = 0;
        while i < 8 {
            all[i] = Exponent { num: exponents[i], den: 1 };
            i += 1;
        }
        Dimension(all)
    }

    /// A base dimension.
    pub const fn of(base: Base) -> Dimension {
        let mut exponents = [0; 8];
        exponents[base as usize] = 1;
        Dimension::whole(exponents)
    }

    /// Money.
    pub const MONEY: Dimension = Dimension::of(Base::Money);
    /// Energy.
    pub const ENERGY: Dimension = Dimension::of(Base::Energy);
    /// Time.
    pub const TIME: Dimension = Dimension::of(Base::Time);
    /// Temperature.
    pub const TEMPERATURE: Dimension = Dimension::of(Base::Temperature);
    /// Volume: length^3.
    pub const VOLUME: Dimension = Dimension::whole([0, 0, 3, 0, 0, 0, 0, 0]);
    /// Rate: 1/time.
    pub const RATE: Dimension = Dimension::whole([0, 0, 0, 0, -1, 0, 0, 0]);

    /// Exponent of `base`.
    pub fn exponent(&self, base: Base) -> Exponent {
        self.0[base as usize]
    }

    fn map2(&self, other: &Dimension, f: impl Fn(Exponent, Exponent) -> Exponent) -> Dimension {
        let mut out = self.0;
        for (a, b) in out.iter_mut().zip(other.0) {
            *a = f(*a, b);
        }
        Dimension(out)
    }

    /// Of a product. Exponents saturate far beyond [`Dimension::in_range`].
    #[must_use]
    pub fn mul(&self, other: &Dimension) -> Dimension {
        self.map2(other, Exponent::plus)
    }

    /// Of a quotient.
    #[must_use]
    pub fn div(&self, other: &Dimension) -> Dimension {
        self.map2(other, |a, b| a.plus(b.negated()))
    }

    /// Of a power `num/den`; none when `den` is 0.
    pub fn pow(&self, num: i64, den: i64) -> Option<Dimension> {
        let by = Exponent::new(num, den)?;
        let mut out = self.0;
        for a in &mut out {
            *a = a.times(by);
        }
        Some(Dimension(out))
    }

    /// Whether it is that of a plain number.
    pub fn is_none(&self) -> bool {
        *self == Dimension::NONE
    }

    /// Whether all exponents are of a size that a calculation can mean (|numerator| up to 1,000,
    /// denominator up to 24).
    pub fn in_range(&self) -> bool {
        self.0.iter().all(|e| e.in_range())
    }

    /// Its usual name with an article, where the trade has one: "a time", "an energy price".
    pub fn with_article(&self) -> Option<String> {
        if self.is_none() {
            return None;
        }
        let name = self.short_name()?;
        let article = if name.starts_with(['a', 'e', 'i', 'o']) { "an" } else { "a" };
        Some(match *self == Dimension::MONEY {
            true => "an amount of money".to_owned(),
            false => format!("{article} {name}"),
        })
    }

    fn short_name(&self) -> Option<&'static str> {
        USUAL.iter().find(|(d, ..)| d == self).map(|(_, name, _)| *name)
    }
}

/// Name of a dimension and, where the name alone may be unclear, what it is made of.
const USUAL: &[(Dimension, &str, &str)] = &[
    //                    money energy length mass time temperature person home
    (Dimension::NONE, "plain number", ""),
    (Dimension::whole([1, 0, 0, 0, 0, 0, 0, 0]), "money", ""),
    (Dimension::whole([0, 1, 0, 0, 0, 0, 0, 0]), "energy", ""),
    (Dimension::whole([0, 0, 1, 0, 0, 0, 0, 0]), "length", ""),
    (Dimension::whole([0, 0, 0, 1, 0, 0, 0, 0]), "mass", ""),
    (Dimension::whole([0, 0, 0, 0, 1, 0, 0, 0]), "time", ""),
    (Dimension::whole([0, 0, 0, 0, 0, 1, 0, 0]), "temperature", ""),
    (Dimension::whole([0, 0, 0, 0, 0, 0, 1, 0]), "number of people", ""),
    (Dimension::whole([0, 0, 0, 0, 0, 0, 0, 1]), "number of homes", ""),
    (Dimension::whole([0, 0, 2, 0, 0, 0, 0, 0]), "area", ""),
    (Dimension::whole([0, 0, 3, 0, 0, 0, 0, 0]), "volume", ""),
    (Dimension::whole([0, 1, 0, 0, -1, 0, 0, 0]), "power", ""),
    (Dimension::whole([1, -1, 0, 0, 0, 0, 0, 0]), "energy price", "money per energy"),
    (Dimension::whole([1, 0, 0, 0, -1, 0, 0, 0]), "yearly cost", "money per time"),
    (Dimension::whole([1, 0, -3, 0, 0, 0, 0, 0]), "price by volume", "money per volume"),
    (Dimension::whole([1, 0, 0, -1, 0, 0, 0, 0]), "price by mass", "money per mass"),
    (Dimension::whole([1, -1, 0, 0, 1, 0, 0, 0]), "price by power", "money per power"),
    (Dimension::whole([0, 0, 0, 0, -1, 0, 0, 0]), "rate", "1 per time"),
    (Dimension::whole([0, 0, 3, 0, -1, 0, 0, 0]), "flow", "volume per time"),
    (Dimension::whole([0, 0, 3, 0, -1, 0, -1, 0]), "use of water", "volume per person and time"),
    (Dimension::whole([0, 0, -3, 1, 0, 0, 0, 0]), "density", "mass per volume"),
    (Dimension::whole([0, -1, 0, 1, 0, 0, 0, 0]), "emission factor", "mass per energy"),
    (Dimension::whole([0, 1, 0, -1, 0, -1, 0, 0]), "specific heat", "energy per mass and temperature"),
    (Dimension::whole([0, 1, -3, 0, 0, -1, 0, 0]), "heat capacity", "energy per volume and temperature"),
    (Dimension::whole([0, 1, -2, 0, 0, 0, 0, 0]), "irradiation", "energy per area"),
    (Dimension::whole([0, 1, -2, 0, -1, 0, 0, 0]), "irradiance", "power per area"),
];

/// Writes `a b/c/d` from named factors with exponents; "1" where nothing stands above the line.
pub(super) fn write_factors(factors: &[(&str, Exponent)]) -> String {
    let mut above = Vec::new();
    let mut below = Vec::new();
    for &(name, e) in factors {
        let list = if e.num > 0 { &mut above } else { &mut below };
        let (num, den) = (e.num.unsigned_abs(), e.den);
        match (num, den) {
            (0, _) => {}
            (1, 1) => list.push(name.to_owned()),
            (n, 1) => list.push(format!("{name}^{n}")),
            (n, d) => list.push(format!("{name}^({n}/{d})")),
        }
    }
    let mut text = if above.is_empty() { "1".to_owned() } else { above.join(" ") };
    for name in below {
        text.push('/');
        text.push_str(&name);
    }
    text
}

impl fmt::Display for Dimension {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match USUAL.iter().find(|(d, ..)| d == self) {
            Some((_, name, "")) => f.write_str(name),
            Some((_, name, made_of)) => write!(f, "{name} ({made_of})"),
            None => {
                let factors: Vec<_> = Base::ALL.iter().map(|&b| (b.name(), self.exponent(b))).collect();
                f.write_str(&write_factors(&factors))
            }
        }
    }
}
