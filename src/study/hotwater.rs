//! `[hotwater.NAME]`: a simulated home.

use toml::de::DeValue;

use crate::diagnostic::{Diagnostic, Span, Spanned};
use crate::hotwater::settings::{Setting, SettingInfo};
use crate::hotwater::time::{FIRST_DAYS, HALF_HOURS};
use crate::study::schema::{ForReader, Working};
use crate::study::simulated::{
    HotwaterDef, PeriodDef, PhasesDef, ReadingsDef, SettingDef, SettingValue, SunDef, TariffDef, WhichDays,
};
use crate::study::values::{Entry, Reader, Table};

/// Layers of a cylinder, and how many there are unless something is said.
const LAYERS: (i64, i64, usize) = (1, 20, 10);
/// Most simulated homes of a study: each takes some 0.2 s for every thousand runs.
const MOST_HOMES: usize = 8;
/// Steps of a day that can be asked for.
const STEPS: [i64; 3] = [24, 48, 96];

/// Numbers with the place of their list.
type Numbers = (Vec<Spanned<f64>>, Span);

impl Reader<'_> {
    /// `[hotwater]`, in file order.
    pub(crate) fn hotwater_of(&mut self, entry: &Entry<'_>) -> Vec<HotwaterDef> {
        let tables =
            self.named_tables(entry, "hotwater", "[hotwater.home] with the line volume = 180 below it");
        if let Some((over, _)) = tables.get(MOST_HOMES) {
            self.error(
                Diagnostic::error("too-many", format!("a study simulates at most {MOST_HOMES} homes"))
                    .at(over.span.clone(), format!("there are {}", tables.len())),
            );
        }
        let mut homes = Vec::new();
        for (name, mut table) in tables.into_iter().take(MOST_HOMES) {
            let before = self.found.len();
            let home = self.home_of(name, &mut table);
            table.finish(self);
            homes.push(HotwaterDef { broken: self.found.len() > before, ..home });
        }
        homes
    }

    fn home_of(&mut self, name: Spanned<String>, table: &mut Table<'_>) -> HotwaterDef {
        let about = self.about_of(table);
        let settings =
            Setting::ALL.iter().filter_map(|&s| self.home_setting_of(s, &name.value, table)).collect();
        let readings = self.readings_of(table);
        let sun = table.take("sun").and_then(|e| self.sun_of(&e));
        let draw_profile = table.take("draw_profile").and_then(|e| self.profile_of(&e));
        let weekend_profile = table.take("weekend_profile").and_then(|e| self.profile_of(&e));
        let flag = |reader: &mut Self, table: &mut Table<'_>, key| {
            table.take(key).and_then(|e| reader.flag_of(&e)).is_none_or(|flag| flag.value)
        };
        let lumpy = flag(self, table, "lumpy");
        let mixed_at_tap = flag(self, table, "mixed_at_tap");
        let phases = table.take("phases").and_then(|e| self.phases_of(&e));
        let export_tariff = table.take("export_tariff").and_then(|e| self.tariff_of(&e));
        let import_tariff = table.take("import_tariff").and_then(|e| self.tariff_of(&e));
        let layers = table.take("layers").and_then(|e| self.whole_number_of(&e, LAYERS.0, LAYERS.1));
        let steps = table.take("steps_a_day").and_then(|e| self.steps_a_day_of(&e));
        let arrangement = table.take("arrangement");
        let in_series =
            arrangement.and_then(|e| self.word_of(&e, &[("side by side", false), ("in series", true)]));
        let backup = table.take("backup");
        let electric = backup.and_then(|e| self.word_of(&e, &[("boiler", false), ("electricity", true)]));
        let same_days_as = table.take("same_days_as").and_then(|e| self.full_text_of(&e));
        let shown_day = table.take("shown_day").and_then(|e| self.day_of(&e));
        HotwaterDef {
            name,
            about,
            shown_day,
            broken: false,
            settings,
            readings,
            sun,
            draw_profile,
            weekend_profile,
            lumpy,
            phases,
            export_tariff,
            import_tariff,
            layers: layers.map_or(LAYERS.2, |n| n.value.unsigned_abs() as usize),
            steps: steps.unwrap_or(HALF_HOURS),
            in_series: in_series.is_some_and(|x| x.value),
            mixed_at_tap,
            electric_backup: electric.is_some_and(|x| x.value),
            same_days_as,
            span: table.span.clone(),
        }
    }

    /// A day of the year as month and day, such as "06-21".
    fn day_of(&mut self, entry: &Entry<'_>) -> Option<usize> {
        let text = self.text_of(entry)?;
        let parts = text.value.split_once('-');
        let parts = parts.and_then(|(m, d)| Some((m.parse::<usize>().ok()?, d.parse::<usize>().ok()?)));
        let day = parts.and_then(|(month, day)| {
            let first = *FIRST_DAYS.get(month.checked_sub(1)?)?;
            let days = FIRST_DAYS.get(month)? - first;
            (1..=days).contains(&day).then(|| first + day - 1)
        });
        if day.is_none() {
            self.error(
                Diagnostic::error("out-of-range", format!("`{}` is a day as month and day", entry.path))
                    .at(text.span, "")
                    .hint("such as shown_day = \"06-21\""),
            );
        }
        day
    }

    fn steps_a_day_of(&mut self, entry: &Entry<'_>) -> Option<usize> {
        let steps = self.whole_number_of(entry, STEPS[0], STEPS[2])?;
        if STEPS.contains(&steps.value) {
            return usize::try_from(steps.value).ok();
        }
        self.error(
            Diagnostic::error("out-of-range", format!("`{}` is 24, 48 or 96", entry.path))
                .at(entry.span.clone(), "")
                .hint("48 are half hours"),
        );
        None
    }

    fn home_setting_of(&mut self, setting: Setting, home: &str, table: &mut Table<'_>) -> Option<SettingDef> {
        let info = setting.info();
        let entry = table.take(info.key)?;
        let value = match entry.value {
            DeValue::Integer(_) | DeValue::Float(_) => {
                let number = self.number_that(&entry, &limits(info), |x| within(info, x))?;
                SettingValue::Number(number)
            }
            DeValue::Array(_) => {
                let numbers = self.twelve_of(&entry)?;
                if let Some(outside) = numbers.iter().find(|x| !within(info, x.value)) {
                    self.error(
                        Diagnostic::error(
                            "out-of-range",
                            format!("`{}` must be {}", entry.path, limits(info)),
                        )
                        .at(outside.span.clone(), ""),
                    );
                    return None;
                }
                SettingValue::Months(numbers.into_iter().map(|x| x.value).collect(), entry.span.clone())
            }
            _ => SettingValue::Formula(Box::new(Working {
                name: Spanned::new(format!("{home}.{}", info.key), entry.key_span.clone()),
                about: ForReader::default(),
                unit: Some(Spanned::new(info.unit.to_owned(), entry.key_span.clone())),
                formula: self.formula_of(&entry)?,
            })),
        };
        Some(SettingDef { setting, value })
    }

    /// Twelve numbers.
    fn twelve_of(&mut self, entry: &Entry<'_>) -> Option<Vec<Spanned<f64>>> {
        self.some_numbers_of(entry, &[12], "January to December").map(|(numbers, _)| numbers)
    }

    /// As many numbers as one of `lengths` says.
    fn some_numbers_of(&mut self, entry: &Entry<'_>, lengths: &[usize], hint: &str) -> Option<Numbers> {
        let numbers = self.numbers_of(entry)?;
        if lengths.contains(&numbers.len()) {
            return Some((numbers, entry.span.clone()));
        }
        let wanted: Vec<String> = lengths.iter().map(ToString::to_string).collect();
        self.error(
            Diagnostic::error(
                "wrong-length",
                format!("`{}` needs {} numbers", entry.path, wanted.join(" or ")),
            )
            .at(entry.span.clone(), format!("these are {}", numbers.len()))
            .hint(hint),
        );
        None
    }

    /// Shares of a day, by hour or half hour.
    fn profile_of(&mut self, entry: &Entry<'_>) -> Option<Numbers> {
        let numbers =
            self.some_numbers_of(entry, &[24, 48, 96], "one for each hour, half hour or quarter")?;
        let negative = numbers.0.iter().find(|x| x.value < 0.0 || x.value.is_nan());
        let none = numbers.0.iter().all(|x| x.value == 0.0);
        if negative.is_none() && !none {
            return Some(numbers);
        }
        let place = negative.map_or_else(|| entry.span.clone(), |x| x.span.clone());
        self.error(
            Diagnostic::error("out-of-range", format!("`{}` holds shares of the day", entry.path))
                .at(place, "")
                .hint("none below 0, and not all of them 0; they need not add up to 1"),
        );
        None
    }

    fn readings_of(&mut self, table: &mut Table<'_>) -> Option<ReadingsDef> {
        let (file, before) = (table.take("readings"), table.take("before_equipment"));
        let (options, season) = (table.take("readings_as"), table.take("season"));
        let Some(file) = file else {
            for stray in [before, options, season].into_iter().flatten() {
                self.error(
                    Diagnostic::error("misplaced-key", format!("`{}` speaks of meter readings", stray.path))
                        .at(stray.key_span, "")
                        .hint("name their file: readings = \"data/meter.csv\""),
                );
            }
            return None;
        };
        let file = self.full_text_of(&file)?;
        let before = before.and_then(|e| self.flag_of(&e));
        let options = options.map_or_else(Vec::new, |e| self.options_of(&e));
        let season = season.and_then(|e| self.some_numbers_of(&e, &[12], "the share of each month"));
        Some(ReadingsDef { file, options, before, season })
    }

    fn options_of(&mut self, entry: &Entry<'_>) -> Vec<(Spanned<String>, Spanned<String>)> {
        let Some(mut table) = self.table_of(entry, "readings_as = { export = \"to grid\" }") else {
            return Vec::new();
        };
        let entries = table.take_all();
        let option =
            |e: &Entry<'_>| Some((Spanned::new(e.key.to_owned(), e.key_span.clone()), self.full_text_of(e)?));
        entries.iter().filter_map(option).collect()
    }

    fn sun_of(&mut self, entry: &Entry<'_>) -> Option<SunDef> {
        let mut table = self.table_of(entry, "sun = { latitude = 53, tilt = 35, azimuth = 180 }")?;
        let latitude = self.require(&mut table, "latitude", "latitude = 53");
        let latitude = latitude
            .and_then(|e| self.number_that(&e, "from -90 to 90 degrees", |x| (-90.0..=90.0).contains(&x)));
        let half_turn = |x: f64| (-180.0..=180.0).contains(&x);
        let longitude = table.take("longitude");
        let longitude = longitude
            .and_then(|e| self.number_that(&e, "from -180 to 180 degrees, east positive", half_turn));
        let ahead = table.take("hours_ahead");
        let ahead =
            ahead.and_then(|e| self.number_that(&e, "hours from -12 to 14", |x| (-12.0..=14.0).contains(&x)));
        let summer_time = table.take("summer_time").and_then(|e| self.flag_of(&e));
        let roofs = match table.take("roofs") {
            Some(roofs) => self.tables_of(&roofs).into_iter().filter_map(|t| self.roof_of(t)).collect(),
            None => {
                self.plane_of(&mut table).into_iter().map(|[tilt, azimuth]| [tilt, azimuth, 1.0]).collect()
            }
        };
        let months = |reader: &mut Self, table: &mut Table<'_>, key: &'static str, lengths: &[usize]| {
            table.take(key).and_then(|e| reader.some_numbers_of(&e, lengths, "January to December"))
        };
        let clearness = months(self, &mut table, "clearness", &[12]);
        let sunshine = months(self, &mut table, "sunshine", &[12]);
        let clearness_sd = match table.take("clearness_sd") {
            Some(e) if matches!(e.value, DeValue::Array(_)) => {
                self.some_numbers_of(&e, &[12], "January to December")
            }
            Some(e) => self.number_of(&e).map(|sd| (vec![sd], e.span.clone())),
            None => None,
        };
        let share = |x: f64| (0.0..1.0).contains(&x);
        let persistence =
            table.take("persistence").and_then(|e| self.number_that(&e, "not below 0 and below 1", share));
        let albedo =
            table.take("albedo").and_then(|e| self.number_that(&e, "not below 0 and below 1", share));
        let span = entry.key_span.clone();
        if clearness.is_none() && sunshine.is_none() && !self.slip_of(&table, &["clearness", "sunshine"]) {
            self.error(
                Diagnostic::error("missing-key", "`sun` needs the clearness index of each month".to_owned())
                    .at(span.clone(), "")
                    .hint("clearness = [0.33, 0.38, ..], January to December; or sunshine = [..], hours of sunshine a day"),
            );
        }
        table.finish(self);
        let longitude = longitude.map(|x| x.value);
        let hours_ahead = ahead.map_or(0.0, |x| x.value);
        let summer_time = summer_time.is_some_and(|x| x.value);
        Some(SunDef {
            longitude,
            hours_ahead,
            summer_time,
            latitude: latitude?,
            roofs,
            clearness,
            clearness_sd,
            persistence,
            sunshine,
            albedo,
            span,
        })
    }

    fn plane_of(&mut self, table: &mut Table<'_>) -> Option<[f64; 2]> {
        let tilt = self.require(table, "tilt", "tilt = 35");
        let tilt =
            tilt.and_then(|e| self.number_that(&e, "from 0 to 90 degrees", |x| (0.0..=90.0).contains(&x)));
        let azimuth = self.require(table, "azimuth", "azimuth = 180");
        let around = |x: f64| (0.0..=360.0).contains(&x);
        let azimuth = azimuth.and_then(|e| {
            self.number_that(&e, "from 0 to 360 degrees: 90 is east, 180 south, 270 west", around)
        });
        Some([tilt?.value, azimuth?.value])
    }

    fn roof_of(&mut self, mut table: Table<'_>) -> Option<[f64; 3]> {
        let plane = self.plane_of(&mut table);
        let share = self.require(&mut table, "share", "share = 0.5");
        let share = share.and_then(|e| self.number_that(&e, "above 0", |x| x > 0.0));
        table.finish(self);
        let [tilt, azimuth] = plane?;
        Some([tilt, azimuth, share?.value])
    }

    fn phases_of(&mut self, entry: &Entry<'_>) -> Option<PhasesDef> {
        let example =
            "phases = { demand = [0.5, 0.3, 0.2], generation = [1, 0, 0], netting = \"each phase\" }";
        let mut table = self.table_of(entry, example)?;
        let mut three = |reader: &mut Self, key, example| {
            let entry = reader.require(&mut table, key, example)?;
            let (shares, _) = reader.some_numbers_of(&entry, &[3], "one for each phase")?;
            let shares = [shares[0].value, shares[1].value, shares[2].value];
            let sum: f64 = shares.iter().sum();
            if shares.iter().all(|x| *x >= 0.0) && (sum - 1.0).abs() < 1e-6 {
                return Some(shares);
            }
            reader.error(
                Diagnostic::error("out-of-range", format!("`{}` holds shares that add up to 1", entry.path))
                    .at(entry.span.clone(), format!("they add up to {sum}")),
            );
            None
        };
        let demand = three(self, "demand", "demand = [0.5, 0.3, 0.2]");
        let generation = three(self, "generation", "generation = [1, 0, 0]");
        let netting = self.require(&mut table, "netting", "netting = \"each phase\"");
        let each = netting.and_then(|e| self.word_of(&e, &[("each phase", true), ("all phases", false)]));
        table.finish(self);
        Some(PhasesDef { demand: demand?, generation: generation?, each: each?.value })
    }

    fn tariff_of(&mut self, entry: &Entry<'_>) -> Option<TariffDef> {
        match entry.value {
            DeValue::Table(_) => {
                let mut table = self.table_of(entry, "{ file = \"data/prices.csv\", column = \"price\" }")?;
                let file = self.require(&mut table, "file", "file = \"data/prices.csv\"");
                let file = file.and_then(|e| self.full_text_of(&e));
                let column = self.require(&mut table, "column", "column = \"price\"");
                let column = column.and_then(|e| self.full_text_of(&e));
                table.finish(self);
                Some(TariffDef::Series { file: file?, column: column? })
            }
            DeValue::Array(list) if list.iter().any(|x| matches!(x.get_ref(), DeValue::Table(_))) => {
                let tables = self.tables_of(entry);
                Some(TariffDef::Periods(tables.into_iter().filter_map(|t| self.period_of(t)).collect()))
            }
            _ => {
                let hint =
                    "one factor for each hour or half hour; or periods: [{ from = 2, to = 5, factor = 0.5 }]";
                let (numbers, span) = self.some_numbers_of(entry, &[24, 48], hint)?;
                Some(TariffDef::Profile(numbers.into_iter().map(|x| x.value).collect(), span))
            }
        }
    }

    fn period_of(&mut self, mut table: Table<'_>) -> Option<PeriodDef> {
        let mut hour = |reader: &mut Self, key, example| {
            let entry = reader.require(&mut table, key, example)?;
            reader.number_that(&entry, "an hour from 0 to 24", |x| (0.0..=24.0).contains(&x)).map(|x| x.value)
        };
        let from = hour(self, "from", "from = 2");
        let to = hour(self, "to", "to = 5");
        let factor = self.require(&mut table, "factor", "factor = 0.5").and_then(|e| self.number_of(&e));
        let months = table.take("months").and_then(|e| self.months_of(&e)).unwrap_or_default();
        let days = table.take("days").and_then(|e| {
            self.word_of(&e, &[("weekdays", WhichDays::Weekdays), ("weekends", WhichDays::Weekends)])
        });
        table.finish(self);
        Some(PeriodDef { from: from?, to: to?, factor: factor?.value, months, days: days.map(|d| d.value) })
    }

    fn months_of(&mut self, entry: &Entry<'_>) -> Option<Vec<u8>> {
        let numbers = self.numbers_of(entry)?;
        let month = |x: &Spanned<f64>| (1..=12_u8).find(|&m| f64::from(m) == x.value);
        let months: Option<Vec<u8>> = numbers.iter().map(month).collect();
        if months.is_none() {
            self.error(
                Diagnostic::error("out-of-range", format!("`{}` holds months, 1 to 12", entry.path))
                    .at(entry.span.clone(), "")
                    .hint("such as months = [11, 12, 1, 2]"),
            );
        }
        months
    }
}

fn within(info: &SettingInfo, value: f64) -> bool {
    (info.least..=info.most).contains(&value)
}

fn limits(info: &SettingInfo) -> String {
    let unit = if info.unit == "1" { String::new() } else { format!(" {}", info.unit) };
    format!("from {} to {}{unit}; or a formula between quotes", info.least, info.most)
}
