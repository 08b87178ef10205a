//! Questions of cash as blocks of rows: the saving of each period, its sum up to there, and where it crosses zero.

use super::formulas::{Formulas, Obstacle, bare, key};
use super::places::{FIRST_VALUE, Page, Place};
use super::text::{NEVER, Value, column};
use crate::formula::functions::FunctionOp as F;
use crate::formula::types::{Kind, Shape, Typed, TypedNode};

const PAGE: Page = Page::Cash;
/// Steps in which the range of rates is halved: until it is below the last digit.
const HALVINGS: u16 = 58;

/// What a question of cash is asked of.
struct Question<'t> {
    op: F,
    rate: Option<&'t Typed>,
    outlay: &'t Typed,
    saving: &'t Typed,
    service: Option<&'t Typed>,
    mid_year: bool,
    /// Shape of the saving over all years.
    whole: Shape,
    per_year: usize,
    periods: usize,
}

/// A row of a block, with the values of its periods.
struct Row {
    row: u32,
    values: Vec<f64>,
}

impl Row {
    /// The cell of a period.
    fn at(&self, period: usize) -> String {
        format!("{}{}", column(FIRST_VALUE + period as u16), self.row + 1)
    }

    fn range(&self, first: usize, last: usize) -> String {
        format!("{}:{}", self.at(first), self.at(last))
    }

    fn value(&self, period: usize) -> f64 {
        self.values.get(period).copied().unwrap_or(f64::NAN)
    }
}

fn question<'t>(op: F, args: &'t [Typed], years: usize) -> Option<Question<'t>> {
    let discounts = matches!(op, F::Npv | F::DiscountedPayback);
    let first = usize::from(discounts);
    let saving = args.get(first + 1)?;
    let whole = saving.ty.shape.join(Shape::Yearly);
    let by_months =
        whole == Shape::MonthlyByYearly && matches!(op, F::Payback | F::FirstPayback | F::PaysBack);
    let per_year = if by_months { 12 } else { 1 };
    let timing = args.get(3).filter(|_| op == F::Npv);
    Some(Question {
        op,
        rate: args.first().filter(|_| discounts),
        outlay: args.get(first)?,
        saving,
        service: args
            .get(first + 2)
            .filter(|_| matches!(op, F::Payback | F::FirstPayback | F::DiscountedPayback)),
        mid_year: timing.is_some_and(|t| matches!(t.node, TypedNode::Constant(k) if k != 0.0)),
        whole,
        per_year,
        periods: years * per_year,
    })
}

impl Formulas<'_> {
    /// Writes the block behind a call; the place of its answer, in base units.
    pub(super) fn block_of_cash(&mut self, op: F, args: &[Typed], tree: &Typed) -> Result<Place, Obstacle> {
        let asked = question(op, args, self.years()).ok_or(Obstacle::Constant)?;
        let answer = self.known.get(&key(tree)).and_then(|v| v.first()).copied().unwrap_or(f64::NAN);
        // Rows are written only when nothing can stand in their way any more.
        let outlay = self.write(asked.outlay, 0, PAGE)?;
        let rate = asked.rate.map(|rate| self.write(rate, 0, PAGE)).transpose()?;
        let saving = self.by_period(&asked, asked.saving, false)?;
        let service = asked.service.map(|s| self.by_period(&asked, s, true)).transpose()?;
        let unit = self.unit_of(asked.outlay);
        self.title(tree)?;
        self.row_of_periods(&asked)?;
        let outlay_value = self.value_of(asked.outlay, 0);
        let outlay = self.one("outlay", &unit, bare(&outlay), &Value::Number(outlay_value))?;
        let mut money = self.fill("saving", &unit, &saving)?;
        let service = service.map(|s| self.fill("share in service", "", &s)).transpose()?;
        if let Some(rate) = rate {
            let rate_value = asked.rate.map_or(f64::NAN, |rate| self.value_of(rate, 0));
            money = self.discounted(&asked, &rate, rate_value, &money, &unit)?;
        }
        let row = match op {
            F::Npv => self.present_value(&asked, &outlay, &money, &unit, answer)?,
            F::RatesOfReturn => self.rate_of_return(&asked, &outlay, &money, answer)?,
            _ => self.crossing(&asked, (&outlay, outlay_value), &money, service.as_ref(), &unit, answer)?,
        };
        let kind = tree.ty.kind.clone();
        let place = Place {
            page: PAGE,
            row,
            col: FIRST_VALUE,
            shape: Shape::Single,
            scale: 1.0,
            kind,
            defined: None,
        };
        self.rows.insert(key(tree), place.clone());
        // An empty row sets blocks apart.
        self.grid.row(PAGE);
        Ok(place)
    }

    fn value_of(&self, tree: &Typed, lane: usize) -> f64 {
        self.known.get(&key(tree)).and_then(|v| v.get(lane)).copied().unwrap_or(f64::NAN)
    }

    /// Formula and value of each period.
    fn by_period(
        &mut self,
        asked: &Question<'_>,
        tree: &Typed,
        share: bool,
    ) -> Result<Vec<(String, f64)>, Obstacle> {
        let shape = tree.ty.shape;
        let whole = shape.join(Shape::Yearly);
        if whole == Shape::MonthlyByYearly && asked.per_year == 1 {
            let tail = if share { "/12" } else { "" };
            let row = if shape == Shape::MonthlyByYearly { Some(self.row_of(tree)?) } else { None };
            return (0..asked.periods)
                .map(|year| {
                    let values =
                        (12 * year..12 * year + 12).map(|k| self.value_of(tree, shape.lane(k, whole)));
                    let sum: f64 = values.sum();
                    let range = row.as_ref().map(|row| row.range(12 * year, 12 * year + 11, PAGE));
                    let range = range.ok_or(Obstacle::Constant)?;
                    Ok((format!("SUM({range}){tail}"), if share { sum / 12.0 } else { sum }))
                })
                .collect();
        }
        let shape_of_periods = if share { whole } else { asked.whole };
        (0..asked.periods)
            .map(|k| {
                let lane = shape.lane(k, shape_of_periods);
                let text = self.write(tree, lane, PAGE)?;
                Ok((bare(&text).to_owned(), self.value_of(tree, lane)))
            })
            .collect()
    }

    fn title(&mut self, tree: &Typed) -> Result<(), Obstacle> {
        let row = self.grid.row(PAGE);
        let look = self.grid.looks.result.clone();
        let text = self.study_text.get(tree.span.clone()).unwrap_or_default().to_owned();
        self.grid.text_as(PAGE, row, 0, &self.within.clone(), &look)?;
        self.grid.text_as(PAGE, row, 1, &text, &look)?;
        Ok(())
    }

    fn row_of_periods(&mut self, asked: &Question<'_>) -> Result<(), Obstacle> {
        let row = self.grid.row(PAGE);
        let what = if asked.per_year == 12 { "end of month" } else { "end of year" };
        let look = self.grid.looks.head.clone();
        for (col, text) in [(0, ""), (1, what), (2, "")] {
            self.grid.text_as(PAGE, row, col, text, &look)?;
        }
        for period in 0..=asked.periods {
            let col = FIRST_VALUE + period as u16;
            self.grid.value(PAGE, row, col, &Value::Number(period as f64), &look)?;
        }
        Ok(())
    }

    fn named_row(&mut self, label: &str, unit: &str) -> Result<u32, Obstacle> {
        let row = self.grid.row(PAGE);
        self.grid.text(PAGE, row, 1, label)?;
        self.grid.text(PAGE, row, 2, unit)?;
        Ok(row)
    }

    /// A row with one value.
    fn one(&mut self, label: &str, unit: &str, formula: &str, value: &Value) -> Result<Row, Obstacle> {
        let row = self.named_row(label, unit)?;
        let x = if let Value::Number(x) = value { *x } else { 1.0 };
        let look = self.grid.looks.number(x, false);
        self.grid.formula(PAGE, row, FIRST_VALUE, formula, value, &look)?;
        Ok(Row { row, values: vec![x] })
    }

    /// A row of values of the periods from 1 on.
    fn fill(&mut self, label: &str, unit: &str, cells: &[(String, f64)]) -> Result<Row, Obstacle> {
        let values: Vec<f64> = std::iter::once(0.0).chain(cells.iter().map(|(_, x)| *x)).collect();
        let row = self.named_row(label, unit)?;
        let look = self.grid.looks.number(largest(&values), false);
        for (k, (text, x)) in cells.iter().enumerate() {
            let value = Value::of(&plain(), *x);
            self.grid.formula(PAGE, row, FIRST_VALUE + 1 + k as u16, text, &value, &look)?;
        }
        Ok(Row { row, values })
    }

    /// A row whose first value differs from those of the periods after it; infinite is never.
    fn course(
        &mut self,
        label: &str,
        unit: &str,
        first: (String, f64),
        next: &mut dyn FnMut(usize, &Row) -> (String, f64),
        periods: usize,
    ) -> Result<Row, Obstacle> {
        let mut row = Row { row: self.named_row(label, unit)?, values: vec![first.1] };
        let mut texts = vec![first.0];
        for period in 1..=periods {
            let (text, value) = next(period, &row);
            texts.push(text);
            row.values.push(value);
        }
        let look = self.grid.looks.number(largest(&row.values), false);
        for (k, (text, x)) in texts.iter().zip(&row.values).enumerate() {
            let value = if *x == f64::INFINITY { Value::Text(NEVER.into()) } else { Value::of(&plain(), *x) };
            self.grid.formula(PAGE, row.row, FIRST_VALUE + k as u16, text, &value, &look)?;
        }
        Ok(row)
    }

    fn discounted(
        &mut self,
        asked: &Question<'_>,
        rate: &str,
        rate_value: f64,
        saving: &Row,
        unit: &str,
    ) -> Result<Row, Obstacle> {
        let growth = 1.0 + rate_value;
        let first =
            if asked.mid_year { (format!("SQRT(1+{rate})"), growth.sqrt()) } else { ("1".to_owned(), 1.0) };
        let mut next =
            |k: usize, row: &Row| (format!("{}/(1+{rate})", row.at(k - 1)), row.value(k - 1) / growth);
        let factors = self.course("discount factor", "", first, &mut next, asked.periods)?;
        let cells: Vec<(String, f64)> = (1..=asked.periods)
            .map(|k| (format!("{}*{}", saving.at(k), factors.at(k)), saving.value(k) * factors.value(k)))
            .collect();
        self.fill("discounted saving", unit, &cells)
    }

    fn present_value(
        &mut self,
        asked: &Question<'_>,
        outlay: &Row,
        money: &Row,
        unit: &str,
        answer: f64,
    ) -> Result<u32, Obstacle> {
        let text = format!("SUM({})-{}", money.range(1, asked.periods), outlay.at(0));
        Ok(self.one("net present value", unit, &text, &Value::of(&plain(), answer))?.row)
    }

    /// Cumulative cash and where it crosses zero.
    fn crossing(
        &mut self,
        asked: &Question<'_>,
        (outlay, outlay_value): (&Row, f64),
        money: &Row,
        service: Option<&Row>,
        unit: &str,
        answer: f64,
    ) -> Result<u32, Obstacle> {
        let n = asked.periods;
        let mut next = |k: usize, row: &Row| {
            (format!("{}+{}", row.at(k - 1), money.at(k)), row.value(k - 1) + money.value(k))
        };
        let first = (format!("-{}", outlay.at(0)), -outlay_value);
        let cash = self.course("cumulative cash", unit, first, &mut next, n)?;
        let sizes: f64 = money.values.iter().map(|x| x.abs()).sum();
        let size = outlay_value.abs();
        let zero = 1e-9 * if size > sizes { size } else { sizes };
        let text = format!("1E-9*MAX(ABS({}),SUMPRODUCT(ABS({})))", outlay.at(0), money.range(1, n));
        let tolerance = self.one("counts as zero", unit, &text, &Value::of(&plain(), zero))?;
        let small = tolerance.at(0);
        if asked.op == F::PaysBack {
            let text = format!("NOT({}<-{small})", cash.at(n));
            let value = Value::of(&Kind::YesNo, answer);
            return Ok(self.one("pays back", "", &text, &value)?.row);
        }
        let lasting = asked.op != F::FirstPayback;
        let mut next = |k: usize, row: &Row| {
            let part = part_in_service(service, k);
            let (before, after, saving) = (cash.at(k - 1), cash.at(k), money.at(k));
            let here = format!("{}+{}MIN(1,-{before}/{saving})", k - 1, part.0);
            let share = -cash.value(k - 1) / money.value(k);
            let crossing = (k - 1) as f64 + part.1 * if share < 1.0 { share } else { 1.0 };
            let so_far = row.at(k - 1);
            let unpaid = cash.value(k) < -zero;
            if lasting {
                let text = format!("IF({after}<-{small},\"{NEVER}\",IF({before}<-{small},{here},{so_far}))");
                let paid = if cash.value(k - 1) < -zero { crossing } else { row.value(k - 1) };
                (text, if unpaid { f64::INFINITY } else { paid })
            } else {
                let text = format!("IF(ISTEXT({so_far}),IF({after}<-{small},\"{NEVER}\",{here}),{so_far})");
                let now = if unpaid { f64::INFINITY } else { crossing };
                (text, if row.value(k - 1) == f64::INFINITY { now } else { row.value(k - 1) })
            }
        };
        let start = if cash.value(0) < -zero { f64::INFINITY } else { 0.0 };
        let first = (format!("IF({}<-{small},\"{NEVER}\",0)", cash.at(0)), start);
        let what = if asked.per_year == 12 { "months to payback so far" } else { "years to payback so far" };
        let course = self.course(what, "", first, &mut next, n)?;
        let last = course.at(n);
        let text = match asked.per_year {
            12 => format!("IF(ISTEXT({last}),{last},{last}/12)"),
            _ => last,
        };
        Ok(self.one("payback", "yr", &text, &Value::of(&Kind::Years, answer))?.row)
    }

    /// The rate by halving: one change of sign in the cash means at most one rate (Descartes' rule).
    fn rate_of_return(
        &mut self,
        asked: &Question<'_>,
        outlay: &Row,
        money: &Row,
        answer: f64,
    ) -> Result<u32, Obstacle> {
        let n = asked.periods;
        let cash = |k: usize| if k == 0 { -outlay.value(0) } else { money.value(k) };
        let cell = |k: usize| if k == 0 { format!("-{}", outlay.at(0)) } else { money.at(k) };
        let sign = |x: f64| {
            if x > 0.0 {
                1.0
            } else if x < 0.0 {
                -1.0
            } else {
                0.0
            }
        };
        let mut next = |k: usize, row: &Row| {
            let (c, before) = (cell(k), row.at(k - 1));
            let value = if cash(k) == 0.0 { row.value(k - 1) } else { sign(cash(k)) };
            (format!("IF({c}=0,{before},SIGN({c}))"), value)
        };
        let signs =
            self.course("sign of cash", "", (format!("SIGN({})", cell(0)), sign(cash(0))), &mut next, n)?;
        let changes = (1..=n).filter(|&k| signs.value(k - 1) * signs.value(k) < 0.0).count();
        // Several changes leave several rates possible, which only a search finds.
        if changes > 1 && !answer.is_nan() {
            return Err(Obstacle::Constant);
        }
        let text = format!("SUMPRODUCT(--({}*{}<0))", signs.range(0, n - 1), signs.range(1, n));
        let changes = self.one("changes of sign", "", &text, &Value::Number(changes as f64))?;
        self.halving(asked, outlay, money, &changes, answer)
    }

    fn halving(
        &mut self,
        asked: &Question<'_>,
        outlay: &Row,
        money: &Row,
        changes: &Row,
        answer: f64,
    ) -> Result<u32, Obstacle> {
        let n = asked.periods;
        // Ends of the range as ln(1 + rate), and the net present value at one.
        let at = |y: f64| {
            let terms = (1..=n).map(|k| money.value(k) * libm::exp(-y * k as f64));
            terms.sum::<f64>() - outlay.value(0)
        };
        let periods =
            self.fill("year", "", &(1..=n).map(|k| (k.to_string(), k as f64)).collect::<Vec<_>>())?;
        let rows = [
            self.named_row("ln(1 + rate) from", "")?,
            self.named_row("ln(1 + rate) to", "")?,
            self.named_row("net present value at the middle", "")?,
        ];
        let cell = |row: u32, k: u16| format!("{}{}", column(FIRST_VALUE + k), row + 1);
        let fixed = |row: u32| format!("${}{}", column(FIRST_VALUE), row + 1);
        let money_range = money.range(1, n).replace(':', ":$");
        let npv = |y: &str| {
            format!(
                "SUMPRODUCT(${money_range}*EXP(-({y})*${}))-${}",
                periods.range(1, n).replace(':', ":$"),
                outlay.at(0)
            )
        };
        let ends = self.named_row("net present value at the ends", "")?;
        let (mut low, mut high) = (libm::log(0.01), libm::log(11.0));
        let (at_low, at_high) = (at(low), at(high));
        let look = self.grid.looks.number(0.5, false);
        let number = |x: f64| Value::of(&plain(), x);
        self.grid.formula(PAGE, ends, FIRST_VALUE, &npv(&fixed(rows[0])), &number(at_low), &look)?;
        self.grid.formula(PAGE, ends, FIRST_VALUE + 1, &npv(&fixed(rows[1])), &number(at_high), &look)?;
        for k in 0..HALVINGS {
            let middle = low / 2.0 + high / 2.0;
            let value = at(middle);
            let (from, to) = if k == 0 {
                ("LN(0.01)".to_owned(), "LN(11)".to_owned())
            } else {
                let side = format!("({}<0)=({}<0)", cell(rows[2], k - 1), fixed(ends));
                let half = format!("({}+{})/2", cell(rows[0], k - 1), cell(rows[1], k - 1));
                (
                    format!("IF({side},{half},{})", cell(rows[0], k - 1)),
                    format!("IF({side},{},{half})", cell(rows[1], k - 1)),
                )
            };
            let half = format!("({}+{})/2", cell(rows[0], k), cell(rows[1], k));
            self.grid.formula(PAGE, rows[0], FIRST_VALUE + k, &from, &number(low), &look)?;
            self.grid.formula(PAGE, rows[1], FIRST_VALUE + k, &to, &number(high), &look)?;
            self.grid.formula(PAGE, rows[2], FIRST_VALUE + k, &npv(&half), &number(value), &look)?;
            if (value < 0.0) == (at_low < 0.0) {
                low = middle;
            } else {
                high = middle;
            }
        }
        let last = HALVINGS - 1;
        let text = format!(
            "IF(AND({}=1,({}<0)<>({}<0)),EXP(({}+{})/2)-1,NA())",
            changes.at(0),
            cell(ends, 0),
            cell(ends, 1),
            cell(rows[0], last),
            cell(rows[1], last)
        );
        Ok(self.one("rate of return", "1/yr", &text, &number(answer))?.row)
    }
}

fn plain() -> Kind {
    Kind::Number { dimension: crate::units::Dimension::NONE, point: false }
}

fn largest(values: &[f64]) -> f64 {
    values.iter().filter(|x| x.is_finite()).fold(0.0, |a: f64, b| if b.abs() > a { b.abs() } else { a })
}

/// The part of a period in which its saving comes, as a factor and as a value.
fn part_in_service(service: Option<&Row>, period: usize) -> (String, f64) {
    let Some(service) = service else { return (String::new(), 1.0) };
    let (cell, w) = (service.at(period), service.value(period));
    let part = if w > 0.0 && w < 1.0 { w } else { 1.0 };
    (format!("IF(AND({cell}>0,{cell}<1),{cell},1)*"), part)
}
