//! A checked formula as a spreadsheet's formula, value by value. Within a formula all numbers are in base units; the
//! cells are in the units that the study gives.

use std::collections::BTreeMap;

use rust_xlsxwriter::XlsxError;

use super::grid::{Grid, LONGEST_FORMULA};
use super::places::{FIRST_VALUE, Page, Place, Places};
use super::text::{Value, literal, number};
use crate::formula::ast::{BinaryOp, UnaryOp};
use crate::formula::functions::FunctionOp as F;
use crate::formula::types::{Kind, Shape, Typed, TypedNode};
use crate::hotwater::time::{DAYS_IN_MONTH, middle_of_month};
use crate::model::Model;
use crate::units::Unit;

/// Why a formula cannot be written.
#[derive(Debug)]
pub(super) enum Obstacle {
    /// It does not fit a cell, or a spreadsheet has nothing like it: a constant stands in its place.
    Constant,
    /// The file cannot be written.
    Writing(XlsxError),
}

impl From<XlsxError> for Obstacle {
    fn from(error: XlsxError) -> Obstacle {
        Obstacle::Writing(error)
    }
}

/// A formula or a part of one.
pub(super) type Written = Result<String, Obstacle>;

/// Formulas being written.
pub(super) struct Formulas<'a> {
    pub(super) model: &'a Model,
    pub(super) study_text: &'a str,
    pub(super) grid: Grid,
    pub(super) places: Places,
    /// Values of calls and their arguments in base units, by the place of the node.
    pub(super) known: BTreeMap<usize, Vec<f64>>,
    /// The price level of each year, where the study has an inflation.
    pub(super) level: Vec<f64>,
    /// Rows of parts that have no name, and answers of blocks of cash, by the place of the node.
    pub(super) rows: BTreeMap<usize, Place>,
    /// What is a constant though it should be a formula, and why.
    pub(super) constants: Vec<String>,
    /// Name of the working being written.
    pub(super) within: String,
}

/// What `Formulas::known` is by.
pub(super) fn key(tree: &Typed) -> usize {
    std::ptr::from_ref(tree) as usize
}

/// Calls in a formula and their arguments, whose values helper rows need.
pub(super) fn calls<'t>(tree: &'t Typed, found: &mut Vec<&'t Typed>) {
    match &tree.node {
        TypedNode::Constant(_) | TypedNode::Name(_) => {}
        TypedNode::Unary(_, a) => calls(a, found),
        TypedNode::Binary(_, a, b) => {
            calls(a, found);
            calls(b, found);
        }
        TypedNode::Call { args, .. } => {
            found.push(tree);
            for arg in args {
                if !matches!(arg.node, TypedNode::Call { .. }) {
                    found.push(arg);
                }
                calls(arg, found);
            }
        }
    }
}

impl Formulas<'_> {
    pub(super) fn years(&self) -> usize {
        self.model.years
    }

    /// Value `index` of `tree`, in its own shape, as an operand on the sheet `from`.
    pub(super) fn write(&mut self, tree: &Typed, index: usize, from: Page) -> Written {
        let shape = tree.ty.shape;
        let text = match &tree.node {
            TypedNode::Constant(x) => literal(&tree.ty.kind, *x).ok_or(Obstacle::Constant)?,
            TypedNode::Name(name) => self.name(name, index, from)?,
            TypedNode::Unary(op, a) => {
                let a = self.write(a, a.ty.shape.lane(index, shape), from)?;
                match op {
                    UnaryOp::Negate => format!("(-{a})"),
                    UnaryOp::Not => format!("NOT({a})"),
                }
            }
            TypedNode::Binary(op, a, b) => {
                let left = self.write(a, a.ty.shape.lane(index, shape), from)?;
                let right = self.write(b, b.ty.shape.lane(index, shape), from)?;
                binary(*op, &a.ty.kind, &left, &right)
            }
            TypedNode::Call { function, args } => self.call(function.op, args, tree, index, from)?,
        };
        if text.len() < LONGEST_FORMULA { Ok(text) } else { Err(Obstacle::Constant) }
    }

    /// The whole formula of a cell in `unit`.
    pub(super) fn cell(&mut self, tree: &Typed, index: usize, unit: &Unit, from: Page) -> Written {
        let text = self.write(tree, index, from)?;
        let is_number = matches!(tree.ty.kind, Kind::Number { .. });
        Ok(match &tree.ty.kind {
            Kind::Years if unit.scale != 1.0 => {
                format!("IF(ISTEXT({text}),{text},{text}/{})", number(unit.scale))
            }
            _ if is_number && unit.scale != 1.0 => format!("{text}/{}", number(unit.scale)),
            _ => bare(&text).to_owned(),
        })
    }

    fn name(&self, name: &str, index: usize, from: Page) -> Written {
        let clock = match name {
            "year" => Some(index as f64),
            "month" => Some(index as f64 + 1.0),
            "calendar_year" => Some(self.model.first_year as f64 + index as f64),
            "days_in_month" => {
                let days = DAYS_IN_MONTH.get(index % 12).copied().unwrap_or(f64::NAN);
                return Ok(format!("({}/365)", number(days)));
            }
            _ => None,
        };
        if let Some(value) = clock {
            return Ok(number(value));
        }
        let place = self.places.get(name).ok_or(Obstacle::Constant)?;
        Ok(place.reference(index, from))
    }

    fn operand(&mut self, arg: &Typed, tree: &Typed, index: usize, from: Page) -> Written {
        self.write(arg, arg.ty.shape.lane(index, tree.ty.shape), from)
    }

    fn operands(
        &mut self,
        args: &[Typed],
        tree: &Typed,
        index: usize,
        from: Page,
    ) -> Result<Vec<String>, Obstacle> {
        args.iter().map(|arg| self.operand(arg, tree, index, from)).collect()
    }

    fn call(&mut self, op: F, args: &[Typed], tree: &Typed, index: usize, from: Page) -> Written {
        match op {
            F::SumMonths | F::MeanMonths | F::MinMonths | F::MaxMonths => {
                self.over_months(op, args, index, from)
            }
            F::SumYears | F::MeanYears | F::MinYears | F::MaxYears => self.over_years(op, args, index, from),
            F::Cumulative => {
                let row = self.row_of(&args[0])?;
                Ok(scaled("SUM", &row.range(0, index, from), row.scale))
            }
            F::AtYear => self.at_year(args, index, from),
            F::Previous => self.previous(args, tree, index, from),
            F::Months | F::Years => match args.get(index) {
                Some(arg) => self.write(arg, 0, from),
                None => Err(Obstacle::Constant),
            },
            F::Failures => self.failures(args, index, from),
            F::Npv | F::Payback | F::FirstPayback | F::DiscountedPayback | F::PaysBack | F::RatesOfReturn => {
                let answer = match self.rows.get(&key(tree)) {
                    Some(answer) => answer.clone(),
                    None => self.block_of_cash(op, args, tree)?,
                };
                Ok(answer.reference(0, from))
            }
            F::Annuity => {
                let args = self.operands(args, tree, index, from)?;
                let [rate, outlay, years] = &args[..] else { return Err(Obstacle::Constant) };
                Ok(format!("({outlay}*IF({rate}=0,1/{years},{rate}/(1-(1+{rate})^(-{years}))))"))
            }
            F::Inflate | F::Deflate => self.levelled(op, args, tree, index, from),
            F::Min | F::Max => self.extreme(op, args, tree, index, from),
            _ => {
                let texts = self.operands(args, tree, index, from)?;
                elementwise(op, &texts, tree, index)
            }
        }
    }

    /// Never is text, which MIN and MAX pass over: years are compared one by one.
    fn extreme(&mut self, op: F, args: &[Typed], tree: &Typed, index: usize, from: Page) -> Written {
        let texts = self.operands(args, tree, index, from)?;
        let (word, sign) = if op == F::Min { ("MIN", "<=") } else { ("MAX", ">=") };
        if tree.ty.kind != Kind::Years {
            return Ok(format!("{word}({})", texts.join(",")));
        }
        let folded = texts.into_iter().reduce(|a, b| format!("IF({a}{sign}{b},{a},{b})"));
        folded.ok_or(Obstacle::Constant)
    }

    fn over_months(&mut self, op: F, args: &[Typed], index: usize, from: Page) -> Written {
        let row = self.row_of(&args[0])?;
        let first = if row.shape == Shape::MonthlyByYearly { 12 * index } else { 0 };
        let range = row.range(first, first + 11, from);
        let text = match op {
            F::SumMonths => scaled("SUM", &range, row.scale),
            F::MinMonths => scaled("MIN", &range, row.scale),
            F::MaxMonths => scaled("MAX", &range, row.scale),
            _ => format!("({}/12)", scaled("SUM", &range, row.scale)),
        };
        Ok(text)
    }

    fn over_years(&mut self, op: F, args: &[Typed], index: usize, from: Page) -> Written {
        let row = self.row_of(&args[0])?;
        let years = self.years();
        let range = match row.shape {
            Shape::MonthlyByYearly => {
                let cells: Vec<String> = (0..years).map(|y| row.cell(12 * y + index, from)).collect();
                // A function takes at most 255 arguments.
                if years > 250 {
                    return Err(Obstacle::Constant);
                }
                cells.join(",")
            }
            _ => row.range(0, years.saturating_sub(1), from),
        };
        let text = match op {
            F::SumYears => scaled("SUM", &range, row.scale),
            F::MinYears => scaled("MIN", &range, row.scale),
            F::MaxYears => scaled("MAX", &range, row.scale),
            _ => format!("({}/{years})", scaled("SUM", &range, row.scale)),
        };
        Ok(text)
    }

    fn at_year(&mut self, args: &[Typed], index: usize, from: Page) -> Written {
        let year = match args[1].node {
            TypedNode::Constant(year) => year as usize,
            _ => 0,
        };
        let lane = if args[0].ty.shape == Shape::MonthlyByYearly { 12 * year + index } else { year };
        self.write(&args[0], lane, from)
    }

    fn previous(&mut self, args: &[Typed], tree: &Typed, index: usize, from: Page) -> Written {
        let shape = tree.ty.shape;
        let year = if shape == Shape::MonthlyByYearly { 12 } else { 1 };
        if index < year {
            return self.write(&args[1], args[1].ty.shape.lane(index, shape), from);
        }
        self.write(&args[0], args[0].ty.shape.lane(index - year, shape), from)
    }

    /// In the base case every life is the base life: how many of its multiples fall into the year.
    fn failures(&mut self, args: &[Typed], year: usize, from: Page) -> Written {
        let life = self.write(&args[0], 0, from)?;
        let until = |year: usize| format!("ROUNDUP({year}/{life},0)-1");
        Ok(match year {
            0 => format!("({})", until(1)),
            _ => format!("({}-({}))", until(year + 1), until(year)),
        })
    }

    fn levelled(&mut self, op: F, args: &[Typed], tree: &Typed, index: usize, from: Page) -> Written {
        let amount = self.operand(&args[0], tree, index, from)?;
        let year = Shape::Yearly.lane(index, tree.ty.shape);
        let level = self.places.get(super::courses::PRICE_LEVEL).ok_or(Obstacle::Constant)?;
        let level = level.reference(year, from);
        let for_money = match &args[0].ty.kind {
            Kind::Number { dimension, .. } => {
                let power = dimension.exponent(crate::units::Base::Money);
                power.numerator() < 0
            }
            _ => false,
        };
        let sign = if (op == F::Inflate) == for_money { '/' } else { '*' };
        Ok(format!("({amount}{sign}{level})"))
    }

    /// The row of a part: that of its name, or a row of its own.
    pub(super) fn row_of(&mut self, tree: &Typed) -> Result<Place, Obstacle> {
        if let TypedNode::Name(name) = &tree.node
            && let Some(place) = self.places.get(name)
            && place.shape == tree.ty.shape
        {
            return Ok(place.clone());
        }
        if let Some(place) = self.rows.get(&key(tree)) {
            return Ok(place.clone());
        }
        let (shape, kind) = (tree.ty.shape, tree.ty.kind.clone());
        let page = Page::of(shape);
        let values = self.known.get(&key(tree)).cloned().unwrap_or_default();
        let texts: Vec<String> = (0..shape.len(self.years()))
            .map(|k| self.write(tree, k, page).map(|text| bare(&text).to_owned()))
            .collect::<Result<_, _>>()?;
        let row = self.grid.row(page);
        let place = Place { page, row, col: FIRST_VALUE, shape, scale: 1.0, kind, defined: None };
        self.head_of_part(page, row, tree)?;
        let largest = values.iter().fold(0.0, |a: f64, b| if b.abs() > a { b.abs() } else { a });
        let look = self.grid.looks.number(largest, false).set_italic();
        for (k, text) in texts.iter().enumerate() {
            let value = Value::of(&place.kind, values.get(k).copied().unwrap_or(f64::NAN));
            self.grid.formula(page, row, FIRST_VALUE + k as u16, text, &value, &look)?;
        }
        self.rows.insert(key(tree), place.clone());
        Ok(place)
    }

    fn head_of_part(&mut self, page: Page, row: u32, tree: &Typed) -> Result<(), Obstacle> {
        let look = self.grid.looks.part.clone();
        let text = self.study_text.get(tree.span.clone()).unwrap_or_default();
        self.grid.text_as(page, row, 0, &format!("part of {}", self.within), &look)?;
        self.grid.text_as(page, row, 1, text, &look)?;
        let unit = self.unit_of(tree);
        self.grid.text_as(page, row, 2, &unit, &look)?;
        Ok(())
    }

    /// What a part is in: base units.
    pub(super) fn unit_of(&self, tree: &Typed) -> String {
        match &tree.ty.kind {
            Kind::Number { dimension, point } => {
                let unit = self.model.units.unit_for(dimension, *point);
                let factor =
                    if unit.scale == 1.0 { String::new() } else { format!(" / {}", number(unit.scale)) };
                format!("{}{factor}", unit.text)
            }
            Kind::Years => "yr".into(),
            _ => String::new(),
        }
    }
}

/// Without the parentheses that hold all of it.
pub(super) fn bare(text: &str) -> &str {
    let Some(inner) = text.strip_prefix('(').and_then(|t| t.strip_suffix(')')) else { return text };
    let (mut depth, mut quoted) = (0_i64, false);
    for c in inner.chars() {
        match c {
            '"' => quoted = !quoted,
            '(' if !quoted => depth += 1,
            ')' if !quoted => depth -= 1,
            _ => {}
        }
        if depth < 0 {
            return text;
        }
    }
    inner
}

fn scaled(word: &str, range: &str, scale: f64) -> String {
    if scale == 1.0 { format!("{word}({range})") } else { format!("({word}({range})*{})", number(scale)) }
}

fn binary(op: BinaryOp, kind: &Kind, a: &str, b: &str) -> String {
    let is_label = matches!(kind, Kind::Label(_));
    let sign = match op {
        BinaryOp::Or => return format!("OR({},{})", bare(a), bare(b)),
        BinaryOp::And => return format!("AND({},{})", bare(a), bare(b)),
        // A spreadsheet's `=` takes capitals and small letters for the same.
        BinaryOp::Equal if is_label => return format!("EXACT({a},{b})"),
        BinaryOp::NotEqual if is_label => return format!("NOT(EXACT({a},{b}))"),
        BinaryOp::Equal => "=",
        BinaryOp::NotEqual => "<>",
        BinaryOp::Less => "<",
        BinaryOp::LessEqual => "<=",
        BinaryOp::Greater => ">",
        BinaryOp::GreaterEqual => ">=",
        // Sums and products from the left need no parentheses about their first operand.
        BinaryOp::Add => return format!("({}+{b})", left_of(a, "+-*/")),
        BinaryOp::Subtract => return format!("({}-{b})", left_of(a, "+-*/")),
        BinaryOp::Multiply => return format!("({}*{b})", left_of(a, "*/")),
        BinaryOp::Divide => return format!("({}/{b})", left_of(a, "*/")),
        BinaryOp::Power => "^",
    };
    format!("({a}{sign}{b})")
}

/// The first operand without its parentheses, where only these signs stand outside of other parentheses in it.
fn left_of<'t>(text: &'t str, signs: &str) -> &'t str {
    let inner = bare(text);
    if inner.len() == text.len() || inner.starts_with('-') {
        return text;
    }
    let (mut depth, mut quoted) = (0_i64, false);
    for c in inner.chars() {
        match c {
            '"' => quoted = !quoted,
            '(' => depth += 1,
            ')' => depth -= 1,
            '+' | '-' | '*' | '/' | '^' | '=' | '<' | '>' if depth == 0 && !quoted && !signs.contains(c) => {
                return text;
            }
            _ => {}
        }
    }
    // The sign in `1E-5` is none; the number is short, so parentheses do no harm.
    if quoted || inner.contains('E') && signs == "*/" { text } else { inner }
}

fn elementwise(op: F, texts: &[String], tree: &Typed, index: usize) -> Written {
    let inner: Vec<&str> = texts.iter().map(|t| bare(t)).collect();
    Ok(match (op, &inner[..]) {
        (F::Abs, [x]) => format!("ABS({x})"),
        (F::Floor, [x]) => format!("INT({x})"),
        (F::Round, [x]) => format!("ROUND({x},0)"),
        (F::Sqrt, [x]) => format!("SQRT({x})"),
        (F::Exp, [x]) => format!("EXP({x})"),
        (F::Ln, [x]) => format!("LN({x})"),
        (F::IsNever, [x]) => format!("ISTEXT({x})"),
        (F::Clamp, [x, low, high]) => format!("MIN(MAX({x},{low}),{high})"),
        (F::If, [c, a, b]) => format!("IF({c},{a},{b})"),
        (F::Growth, [_]) => format!("(1+{})", texts[0]),
        (F::WaterHeat, [_, _, _]) => {
            format!("({}*4.186*1000/3600*({}-{}))", texts[0], texts[2], texts[1])
        }
        (F::Seasonal, [_, _, _]) => {
            let middle = number(middle_of_month(index % 12));
            format!("({}-{}*COS(2*PI()*({middle}-{})/365))", texts[0], texts[1], texts[2])
        }
        (F::InService, [_]) => {
            let periods = if tree.ty.shape == Shape::MonthlyByYearly { "*12" } else { "" };
            format!("MAX(0,MIN(1,{}{periods}-{index}))", texts[0])
        }
        _ => return Err(Obstacle::Constant),
    })
}
