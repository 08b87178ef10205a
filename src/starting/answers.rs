//! What a buyer knows, and how well.

/// An answer, and with it how wide the study takes the figure.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum Answer<T> {
    /// Given: a narrow range round it.
    Given(T),
    /// The usual figure will do: its usual range.
    #[default]
    Usual,
    /// Not known: a wide range.
    Unknown,
}

impl<T> Answer<T> {
    /// The answer given, if one was.
    pub fn given(&self) -> Option<&T> {
        match self {
            Answer::Given(value) => Some(value),
            _ => None,
        }
    }

    /// Whether "don't know" was said.
    pub fn is_unknown(&self) -> bool {
        matches!(self, Answer::Unknown)
    }
}

/// What heats the water of the shower.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shower {
    /// It draws from the cylinder.
    Cylinder,
    /// An electric shower, or another heater of its own: nothing comes from the cylinder.
    Own,
    /// Some showers draw from it, others do not.
    Both,
}

/// How long a shower runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ShowerLength {
    /// About four minutes.
    Short,
    /// About seven.
    Usual,
    /// Twelve and more.
    Long,
}

/// What heats the water when the sun does not.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Heater {
    /// Gas boiler.
    Gas,
    /// Oil boiler.
    Oil,
    /// Boiler with bottled gas.
    Lpg,
    /// Electricity at night.
    OffPeak,
    /// Electricity at the day price.
    Day,
    /// Heat pump.
    HeatPump,
}

/// What is known of the surplus.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Export {
    /// Size of the panels, kWp.
    Panels(f64),
    /// What was sent to the grid in a year, kWh.
    Yearly(f64),
}

/// A line of the quote.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LineAmount {
    /// As written in the quote.
    pub amount: f64,
    /// Whether VAT is still to be added.
    pub without_vat: bool,
}

/// All answers.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Answers {
    /// People living there.
    pub people: Answer<f64>,
    /// What heats the shower.
    pub heats_shower: Answer<Shower>,
    /// Showers a day, each person.
    pub showers: Answer<f64>,
    /// How long.
    pub shower_length: Answer<ShowerLength>,
    /// Baths a week, in the whole home.
    pub baths: Answer<f64>,
    /// What heats the water.
    pub heater: Answer<Heater>,
    /// Price of a kWh of it.
    pub heat_price: Answer<f64>,
    /// The surplus.
    pub export: Answer<Export>,
    /// Price of a kWh exported.
    pub export_price: Answer<f64>,
    /// Who made the quote.
    pub seller: Answer<String>,
    /// Its lines.
    pub controller: Answer<LineAmount>,
    /// The electrician.
    pub electrician: Answer<LineAmount>,
    /// A new element; 0 where none is needed.
    pub element: Answer<LineAmount>,
    /// Anything else in the quote.
    pub other: Answer<LineAmount>,
    /// VAT, per cent.
    pub vat: Answer<f64>,
    /// Until when the quote holds, as typed.
    pub valid_until: Answer<String>,
    /// Promised: years until it has paid for itself.
    pub promised_payback: Answer<f64>,
    /// Promised: saving in a year.
    pub promised_saving: Answer<f64>,
    /// Promised: years that it lasts.
    pub promised_life: Answer<f64>,
    /// Warranty, years.
    pub warranty: Answer<f64>,
    /// File of meter readings, from the study's folder downwards.
    pub meter: Answer<String>,
    /// Currency; EUR unless given.
    pub currency: Option<String>,
    /// First year of the study.
    pub first_year: Option<u32>,
    /// The date that the answers are of, as typed.
    pub as_of: Option<String>,
}

impl Answers {
    /// Currency of the study.
    pub fn currency(&self) -> &str {
        self.currency.as_deref().unwrap_or("EUR")
    }

    /// Whether no shower draws from the cylinder.
    pub fn showers_do_not_count(&self) -> bool {
        self.heats_shower == Answer::Given(Shower::Own)
    }

    /// Lines of the quote, with the name of each one's row.
    pub fn lines(&self) -> [(&'static str, &Answer<LineAmount>); 4] {
        [
            ("controller_price", &self.controller),
            ("fitting_price", &self.electrician),
            ("element_price", &self.element),
            ("other_price", &self.other),
        ]
    }

    /// Whether VAT is still to be added to some line.
    pub fn vat_matters(&self) -> bool {
        self.lines().iter().any(|(_, line)| line.given().is_some_and(|l| l.without_vat && l.amount > 0.0))
    }
}
