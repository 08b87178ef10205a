//! The report of a file of readings as lines of text.

use std::fmt::{Display, Write};

use super::found::Found;

impl Display for Found {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let mut text = String::new();
        self.heading(&mut text)?;
        self.trouble(&mut text)?;
        self.totals(&mut text)?;
        for warning in &self.warnings {
            writeln!(text, "note: {warning}")?;
        }
        for question in &self.questions {
            writeln!(text, "question: {question}")?;
        }
        f.write_str(&text)
    }
}

impl Found {
    fn heading(&self, text: &mut String) -> std::fmt::Result {
        writeln!(
            text,
            "file: {}; cells parted by {}; decimal sign `{}` ({})",
            self.encoding, self.separator, self.decimal, self.decimal_why
        )?;
        match self.header_line {
            Some(line) => writeln!(text, "headings: line {line}")?,
            None => writeln!(text, "headings: none")?,
        }
        for c in &self.columns {
            let form = if c.register { "register" } else { "amounts" };
            writeln!(
                text,
                "column `{}`: {} ({}), {} ({}), {form} ({})",
                c.heading, c.taken_as, c.why, c.unit, c.unit_why, c.register_why
            )?;
        }
        if !self.unused.is_empty() {
            writeln!(text, "not used: {}", self.unused.join(", "))?;
        }
        if let Some(order) = &self.date_order {
            writeln!(text, "dates: {order}")?;
        }
        writeln!(text, "clock: {}", self.clock)?;
        writeln!(text, "stamps: {}", self.stamps)?;
        let steps: Vec<String> =
            self.steps.iter().map(|s| format!("{} min ({:.1} %)", s.minutes, 100.0 * s.share)).collect();
        writeln!(text, "steps: {}", steps.join(", "))?;
        writeln!(text, "span: {} to {}, {} days, {} used", self.first, self.last, self.days, self.days_used)?;
        writeln!(text, "rows: {}; readings used: {}", self.rows, self.readings)
    }

    fn trouble(&self, text: &mut String) -> std::fmt::Result {
        for t in &self.troubles {
            let shown = t.first_text.as_ref().map_or(String::new(), |cell| format!(" (`{cell}`)"));
            writeln!(
                text,
                "trouble: {}: {}, first on line {}{shown}; {}",
                t.what, t.count, t.first_line, t.done
            )?;
        }
        for gap in &self.gaps {
            let kinds: Vec<&str> = gap.kinds.iter().map(|kind| kind.name()).collect();
            writeln!(
                text,
                "gap: {} from {}, {} min: {}",
                kinds.join(" and "),
                gap.from,
                gap.minutes,
                gap.filled.words()
            )?;
        }
        if self.gap_count > self.gaps.len() {
            writeln!(text, "and {} gaps more", self.gap_count - self.gaps.len())?;
        }
        Ok(())
    }

    fn totals(&self, text: &mut String) -> std::fmt::Result {
        for m in &self.months {
            write!(
                text,
                "{}-{:02}: {:.1} % known, {} of {} days used",
                m.year,
                m.month,
                100.0 * m.known,
                m.days_used,
                m.days
            )?;
            for t in &m.totals {
                write!(text, "; {} {:.3} kWh", t.kind.name(), t.measured_kwh)?;
                if t.filled_kwh > 0.0 {
                    write!(text, " + {:.3} filled", t.filled_kwh)?;
                }
            }
            writeln!(text)?;
        }
        Ok(())
    }
}
