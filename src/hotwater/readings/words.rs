//! Words by which headings are recognised, in plain English and a few other European languages. Compared with headings
//! in lower case without accents ([`super::text_bytes::plain`]).

use super::options::{Kind, StampAt, Unit};

/// Of the grid for certain: these win over plain ones ("import" over "consumption").
const EXPORT: &[&str] = &[
    "export",
    "to grid",
    "to the grid",
    "feed in",
    "feedin",
    "fed in",
    "into grid",
    "into the grid",
    "sent to",
    "grid feed",
    "einspeis",
    "eingespeist",
    "ruckspeis",
    "ruckliefer",
    "injection",
    "injecte",
    "reinjecte",
    "terugl",
    "teruggel",
    "invoeding",
    "injectie",
    "vertid",
    "vertido",
    "excedent",
    "inyec",
    "immess",
    "immission",
    "cedut",
    "injetad",
    "injec",
    "eksport",
    "oddan",
    "oddawan",
    "wprowadzon",
    "inmatning",
    "verkkoon",
    "overskud",
    "surplus",
];
const IMPORT: &[&str] = &[
    "import",
    "from grid",
    "from the grid",
    "bezug",
    "bezogen",
    "soutir",
    "afname",
    "preliev",
    "prelev",
    "pobran",
    "pobor",
    "uttag",
    "bought",
    "purchased",
    "netzentnahme",
    "verkosta",
];
const IMPORT_PLAIN: &[&str] = &[
    "consumption",
    "consumed",
    "usage",
    "verbrauch",
    "consommation",
    "verbruik",
    "consumo",
    "consumid",
    "zuzyci",
    "forbrug",
    "forbruk",
    "kulutus",
    "demand",
    "electricity",
    "strom",
    "levering",
];
const GENERATION: &[&str] = &[
    "generation",
    "generated",
    "solar",
    "photovolta",
    "production",
    "produced",
    "erzeug",
    "ertrag",
    "produktion",
    "opwek",
    "opbrengst",
    "generacion",
    "produccion",
    "produzione",
    "producao",
    "produkcja",
    "tuotanto",
    "produksjon",
    "inverter",
    "yield",
];
const GAS: &[&str] = &["gas", "gaz", "kaasu"];
const NOT: &[&str] = &["self", "eigenverbrauch", "auto", "reactive", "blind", "kvarh", "battery"];
/// Not an amount of energy, unless a unit of energy stands there too.
const MONEY: &[&str] = &["tariff", "price", "cost", "rate", "preis", "prix", "prijs", "precio", "prezzo"];

/// What a heading says it counts, with how surely (2 of the grid by name, 1 plainly).
pub(super) fn kind(heading: &str) -> Option<(Kind, u8)> {
    let has = |words: &[&str]| words.iter().any(|word| heading.contains(word));
    let is = |word: &str| heading.split(' ').any(|w| w == word);
    if has(NOT) || (has(MONEY) && unit(heading).is_none()) {
        return None;
    }
    if is("gas")
        || is("gaz")
        || GAS.iter().any(|gas| heading.split(' ').any(|w| w.ends_with(gas) || w.starts_with("gas")))
    {
        return Some((Kind::Gas, 2));
    }
    let export = has(EXPORT) || is("sold");
    let import = has(IMPORT);
    match (export, import) {
        (true, false) => Some((Kind::Export, 2)),
        (false, true) => Some((Kind::Import, 2)),
        (true, true) => None,
        _ if has(GENERATION) || is("pv") => Some((Kind::Generation, 2)),
        _ if has(IMPORT_PLAIN) => Some((Kind::Import, 1)),
        _ => None,
    }
}

/// A heading without the words that tell one tariff's register from another's.
pub(super) fn without_tariff(heading: &str) -> String {
    const WORDS: [&str; 30] = [
        "t1", "t2", "t3", "1", "2", "3", "tariff", "tarief", "tarif", "tarifa", "tariffa", "day", "night",
        "low", "high", "peak", "off", "offpeak", "normal", "dal", "hp", "hc", "ht", "nt", "nacht", "tag",
        "laag", "hoog", "rate", "dag",
    ];
    heading.split(' ').filter(|word| !WORDS.contains(word)).collect::<Vec<_>>().join(" ")
}

/// Whether a heading says that it is import less export.
pub(super) fn is_net(heading: &str) -> bool {
    const WORDS: [&str; 8] = ["net", "netto", "saldo", "solde", "balance", "nett", "bilanz", "saldiert"];
    heading.split(' ').any(|word| WORDS.contains(&word))
}

/// Whether the first cell of a row without a date is that of totals.
pub(super) fn is_total(text: &str) -> bool {
    const WORDS: [&str; 14] = [
        "total",
        "totals",
        "sum",
        "summe",
        "gesamt",
        "somme",
        "totaal",
        "totale",
        "suma",
        "razem",
        "sommetotal",
        "average",
        "mean",
        "end",
    ];
    text.split(' ').next().is_some_and(|word| WORDS.contains(&word))
}

/// Whether a heading says that its column rises for ever.
pub(super) fn is_register(heading: &str) -> bool {
    const WORDS: [&str; 14] = [
        "register",
        "cumulative",
        "counter",
        "zahlerstand",
        "stand",
        "meterstand",
        "odczyt",
        "lettura",
        "lectura",
        "malerstand",
        "mittarilukema",
        "lifetime",
        "index",
        "totaliser",
    ];
    heading.split(' ').any(|word| WORDS.contains(&word)) || heading.contains("meter reading")
}

/// The unit that a heading names.
pub(super) fn unit(heading: &str) -> Option<Unit> {
    let of = |word: &str| {
        Some(match word {
            "mwh" => Unit::Mwh,
            "kwh" => Unit::Kwh,
            "wh" => Unit::Wh,
            "kw" => Unit::Kw,
            "w" | "watt" | "watts" => Unit::W,
            "m3" => Unit::CubicMetre,
            _ => return None,
        })
    };
    let joined = |word: &str| match word {
        _ if word.len() > 4 && word.ends_with("kwh") => Some(Unit::Kwh),
        _ => None,
    };
    heading.split(' ').find_map(of).or_else(|| heading.split(' ').find_map(joined))
}

/// Whether a heading says that it is power.
pub(super) fn is_power(heading: &str) -> bool {
    const WORDS: [&str; 8] =
        ["power", "leistung", "puissance", "potencia", "vermogen", "potenza", "effekt", "teho"];
    WORDS.iter().any(|word| heading.contains(word))
}

/// What a heading of a time column says that it marks.
pub(super) fn stamp_at(heading: &str) -> Option<StampAt> {
    const START: [&str; 14] = [
        "start",
        "from",
        "begin",
        "beginning",
        "von",
        "beginn",
        "debut",
        "van",
        "desde",
        "inizio",
        "inicio",
        "fra",
        "od",
        "alku",
    ];
    const END: [&str; 13] =
        ["end", "to", "until", "ending", "bis", "ende", "fin", "tot", "hasta", "fine", "fim", "til", "do"];
    let has = |words: &[&str]| heading.split(' ').any(|word| words.contains(&word));
    match (has(&START), has(&END)) {
        (true, false) => Some(StampAt::Start),
        (false, true) => Some(StampAt::End),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn headings_are_understood() {
        for (heading, wanted) in [
            ("export kwh", Some(Kind::Export)),
            ("energy to grid", Some(Kind::Export)),
            ("solar feed in wh", Some(Kind::Export)),
            ("active import interval kw", Some(Kind::Import)),
            ("netzbezug kwh", Some(Kind::Import)),
            ("teruglevering", Some(Kind::Export)),
            ("production solaire", Some(Kind::Generation)),
            ("gas m3", Some(Kind::Gas)),
            ("erdgas", Some(Kind::Gas)),
            ("eigenverbrauch", None),
            ("status", None),
        ] {
            assert_eq!(kind(heading).map(|k| k.0), wanted, "{heading}");
        }
        assert_eq!(unit("export kwh"), Some(Unit::Kwh));
        assert_eq!(unit("leistung w"), Some(Unit::W));
        assert_eq!(stamp_at("read date and end time"), Some(StampAt::End));
        assert_eq!(stamp_at("from"), Some(StampAt::Start));
    }
}
