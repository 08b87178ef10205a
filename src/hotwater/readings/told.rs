//! Options by their words, as a study or a command line writes them.

use super::options::{DateOrder, Kind, Options, StampAt, Unit};

/// Words of the options, with what they say.
pub const WORDS: [(&str, &str); 17] = [
    ("export", "heading or number of the column of electricity sent to the grid"),
    ("import", "heading or number of the column of electricity taken from the grid"),
    ("generation", "heading or number of the column of electricity made by the panels"),
    ("gas", "heading or number of the column of gas"),
    ("net", "heading or number of a column that holds import less export"),
    ("net_export", "\"positive\" where that column counts export above 0"),
    ("time", "heading or number of the column of time stamps, or of dates"),
    ("clock", "heading or number of the column of the time of day, where it stands apart from the date"),
    ("dates", "\"day month\" or \"month day\""),
    ("stamps", "\"start\" or \"end\": what a time stamp marks of its interval"),
    ("zone", "zone of the clock, such as \"Europe/Dublin\""),
    ("unit", "Wh, kWh, MWh, W or kW"),
    ("values", "\"register\" (ever rising) or \"amounts\" (of each interval)"),
    ("decimal", "\"point\" or \"comma\""),
    ("separator", "\"comma\", \"semicolon\" or \"tab\""),
    ("largest_kw", "power above which a reading is taken for an error"),
    ("gas_kwh_per_m3", "heat of burning a cubic metre of gas, gross"),
];

impl Options {
    /// Sets the option of a word.
    ///
    /// # Errors
    /// What would be right, where there is no such option or no such value.
    pub fn tell(&mut self, word: &str, value: &str) -> Result<(), String> {
        let known = |wanted: &str| format!("`{word}` is {wanted}");
        let number = || value.trim().parse::<f64>().ok().filter(|x| *x > 0.0 && x.is_finite());
        match word {
            "export" => self.columns.push((Kind::Export, value.to_owned())),
            "import" => self.columns.push((Kind::Import, value.to_owned())),
            "generation" => self.columns.push((Kind::Generation, value.to_owned())),
            "gas" => self.columns.push((Kind::Gas, value.to_owned())),
            "net" => self.net_column = Some(value.to_owned()),
            "net_export" => {
                self.net_export_positive = one_of(value, &[("positive", true), ("negative", false)])
                    .ok_or_else(|| known("\"positive\" or \"negative\""))?;
            }
            "time" => self.time_column = Some(value.to_owned()),
            "clock" => self.clock_column = Some(value.to_owned()),
            "dates" => {
                let orders = [("day month", DateOrder::DayMonth), ("month day", DateOrder::MonthDay)];
                let order = one_of(value, &orders).ok_or_else(|| known("\"day month\" or \"month day\""))?;
                self.date_order = Some(order);
            }
            "stamps" => {
                let marks = [("start", StampAt::Start), ("end", StampAt::End)];
                self.stamp_at = Some(one_of(value, &marks).ok_or_else(|| known("\"start\" or \"end\""))?);
            }
            "zone" => self.zone = Some(value.to_owned()),
            "unit" => {
                let units = [Unit::Wh, Unit::Kwh, Unit::Mwh, Unit::W, Unit::Kw].map(|u| (u.name(), u));
                self.unit = Some(one_of(value, &units).ok_or_else(|| known("Wh, kWh, MWh, W or kW"))?);
            }
            "values" => {
                let kinds = [("register", true), ("amounts", false)];
                let register = one_of(value, &kinds).ok_or_else(|| known("\"register\" or \"amounts\""))?;
                self.register = Some(register);
            }
            "decimal" => {
                let signs = [("point", b'.'), ("comma", b','), (".", b'.'), (",", b',')];
                self.decimal = Some(one_of(value, &signs).ok_or_else(|| known("\"point\" or \"comma\""))?);
            }
            "separator" => {
                let signs = [("comma", b','), ("semicolon", b';'), ("tab", b'\t'), (",", b','), (";", b';')];
                let sign =
                    one_of(value, &signs).ok_or_else(|| known("\"comma\", \"semicolon\" or \"tab\""))?;
                self.separator = Some(sign);
            }
            "largest_kw" => self.largest_kw = Some(number().ok_or_else(|| known("a number above 0"))?),
            "gas_kwh_per_m3" => self.gas_kwh_per_m3 = number().ok_or_else(|| known("a number above 0"))?,
            _ => {
                let words: Vec<&str> = WORDS.iter().map(|(word, _)| *word).collect();
                return Err(format!("the options are {}", words.join(", ")));
            }
        }
        Ok(())
    }
}

fn one_of<T: Copy>(value: &str, known: &[(&str, T)]) -> Option<T> {
    known.iter().find(|(word, _)| *word == value).map(|(_, meant)| *meant)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_word_is_an_option_and_says_what_it_takes() {
        for (word, _) in WORDS {
            let free = ["export", "import", "generation", "gas", "net", "time", "clock", "zone"];
            let told = Options::default().tell(word, "a word that no option knows");
            assert_eq!(told.is_ok(), free.contains(&word), "{word}");
            assert!(told.err().is_none_or(|right| right.contains(word)));
        }
        assert!(Options::default().tell("colour", "red").is_err());
    }

    #[test]
    fn values_are_taken() {
        let mut options = Options::default();
        for (word, value) in [
            ("unit", "kW"),
            ("dates", "month day"),
            ("stamps", "end"),
            ("decimal", "comma"),
            ("values", "register"),
        ] {
            options.tell(word, value).unwrap();
        }
        assert_eq!(options.unit, Some(Unit::Kw));
        assert_eq!(options.date_order, Some(DateOrder::MonthDay));
        assert_eq!(options.stamp_at, Some(StampAt::End));
        assert_eq!((options.decimal, options.register), (Some(b','), Some(true)));
    }
}
