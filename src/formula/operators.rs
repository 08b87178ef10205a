//! Kinds, units and shapes of operators.

use super::ast::{BinaryOp, Expr, Node, UnaryOp};
use super::checker::Checker;
use super::functions::FunctionOp;
use super::printer::sign;
use super::types::{Kind, Shape, Type, Typed, TypedNode};
use crate::diagnostic::{Diagnostic, Span};
use crate::units::Dimension;

/// Gives the share in service the shape of what it multiplies: a share by year becomes one by month and year.
/// Goes through arithmetic, not through names: a working keeps the shape it has.
pub(super) fn refine(typed: &mut Typed) {
    match &mut typed.node {
        TypedNode::Call { function, .. } if function.op == FunctionOp::InService => {
            typed.ty.shape = Shape::MonthlyByYearly;
        }
        TypedNode::Unary(_, inner) => {
            refine(inner);
            typed.ty.shape = inner.ty.shape;
        }
        TypedNode::Binary(
            BinaryOp::Add | BinaryOp::Subtract | BinaryOp::Multiply | BinaryOp::Divide,
            left,
            right,
        ) => {
            refine(left);
            refine(right);
            typed.ty.shape = left.ty.shape.join(right.ty.shape);
        }
        _ => {}
    }
}

/// A temperature on the scale, in a sum, product, quotient, power or under a sign.
const POINT_HINT: &str = "take a difference first, such as (hot - cold), or use K";

impl Checker<'_> {
    pub(super) fn unary(&mut self, op: UnaryOp, inner: &Expr, span: Span) -> Option<Typed> {
        let inner = self.expr(inner, None)?;
        if op == UnaryOp::Not {
            self.condition(&inner, "`not`")?;
        } else {
            let (_, point) = self.as_number(&inner, "negate")?;
            // -5 [degC] is a temperature like any other, not the negative of one.
            if let TypedNode::Constant(value) = inner.node {
                return Some(Typed { node: TypedNode::Constant(-value), ty: inner.ty, span });
            }
            if point {
                return self.refuse_point("negated", &inner);
            }
        }
        let ty = inner.ty.clone();
        Some(Typed { node: TypedNode::Unary(op, Box::new(inner)), ty, span })
    }

    fn refuse_point<T>(&mut self, done: &str, typed: &Typed) -> Option<T> {
        let message = format!("a temperature in degC cannot be {done}: it is a point on a scale");
        let error = Diagnostic::error("temperature-point", message).at(typed.span.clone(), "degC");
        self.error(error.hint(POINT_HINT));
        None
    }

    pub(super) fn condition(&mut self, typed: &Typed, of: &str) -> Option<()> {
        if typed.ty.kind == Kind::YesNo {
            return Some(());
        }
        let found = self.speak(&typed.ty.kind);
        let hint = match typed.ty.kind {
            Kind::Number { .. } => "compare it with something, such as `x > 0` or `x == 1`",
            Kind::Label(_) => "compare it with a label, such as `tank == \"large\"`",
            _ => "compare it, or write `is_never(x)`",
        };
        let message = format!("{of} needs yes or no, found {found}");
        self.error(Diagnostic::error("kind-mismatch", message).at(typed.span.clone(), found).hint(hint));
        None
    }

    /// Dimension and point-ness, or an error that it cannot be `verb`ed.
    pub(super) fn as_number(&mut self, typed: &Typed, verb: &str) -> Option<(Dimension, bool)> {
        if let Kind::Number { dimension, point } = typed.ty.kind {
            return Some((dimension, point));
        }
        let found = self.speak(&typed.ty.kind);
        let hint = match typed.ty.kind {
            Kind::YesNo => "make a number of it: `if(x, 1, 0)`",
            Kind::Label(_) => "a label can only be compared: `tank == \"large\"`",
            _ => "years or never can only be compared, or stand in min, max, if and is_never",
        };
        let error = Diagnostic::error("kind-mismatch", format!("cannot {verb} {found}"));
        self.error(error.at(typed.span.clone(), found).hint(hint));
        None
    }

    pub(super) fn binary(&mut self, op: BinaryOp, left: &Expr, right: &Expr, span: Span) -> Option<Typed> {
        let labels = match op {
            BinaryOp::Equal | BinaryOp::NotEqual => self.labels_of(left).or_else(|| self.labels_of(right)),
            _ => None,
        };
        let a = self.expr(left, labels.as_deref());
        let b = self.expr(right, labels.as_deref());
        let (mut a, mut b) = (a?, b?);
        if op == BinaryOp::Multiply {
            if b.ty.shape.has_months() {
                refine(&mut a);
            }
            if a.ty.shape.has_months() {
                refine(&mut b);
            }
        }
        let shape = a.ty.shape.join(b.ty.shape);
        let kind = match op {
            BinaryOp::Or | BinaryOp::And => {
                let of = format!("`{}`", sign(op));
                let left = self.condition(&a, &of);
                let right = self.condition(&b, &of);
                left.and(right).map(|()| Kind::YesNo)
            }
            BinaryOp::Add | BinaryOp::Subtract => self.sum(op, &a, &b),
            BinaryOp::Multiply | BinaryOp::Divide => self.product(op, &a, &b),
            BinaryOp::Power => self.power(&a, &b, right),
            _ => self.comparison(op, &a, &b),
        }?;
        let ty = Type { kind, shape };
        Some(Typed { node: TypedNode::Binary(op, Box::new(a), Box::new(b)), ty, span })
    }

    /// The list of labels that a side brings along, so that a literal on the other side can be looked up in it.
    pub(super) fn labels_of(&self, expr: &Expr) -> Option<Vec<String>> {
        match &expr.node {
            Node::Name(name) => match self.names.type_of(name)?.kind {
                Kind::Label(labels) => Some(labels),
                _ => None,
            },
            Node::Call { function, args, .. } if function == "if" => {
                args.iter().skip(1).find_map(|arg| self.labels_of(arg))
            }
            _ => None,
        }
    }

    fn sum(&mut self, op: BinaryOp, a: &Typed, b: &Typed) -> Option<Kind> {
        let verb = if op == BinaryOp::Add { "add" } else { "subtract" };
        let left = self.as_number(a, verb);
        let right = self.as_number(b, verb);
        let ((left, left_point), (right, right_point)) = (left?, right?);
        if left != right {
            let (l, r) = (self.speak(&a.ty.kind), self.speak(&b.ty.kind));
            let message = match op {
                BinaryOp::Add => format!("cannot add {l} and {r}"),
                _ => format!("cannot subtract {r} from {l}"),
            };
            return self.mismatch(message, a, b);
        }
        let point = match (left_point, right_point, op) {
            (true, true, BinaryOp::Add) => return self.refuse_point("added to another", b),
            (false, true, BinaryOp::Subtract) => return self.refuse_point("taken from a difference", b),
            (true, true, _) => false,
            (l, r, _) => l || r,
        };
        Some(Kind::Number { dimension: left, point })
    }

    /// Both sides with their places, and the missing factor where it has a name.
    pub(super) fn mismatch<T>(&mut self, message: String, a: &Typed, b: &Typed) -> Option<T> {
        let (l, r) = (self.speak(&a.ty.kind), self.speak(&b.ty.kind));
        let label = format!("{r}; the left side is {l}");
        let error =
            Diagnostic::error("unit-mismatch", message).at(b.span.clone(), label).also(a.span.clone(), "");
        let error = match self.missing_factor(a, b) {
            Some(hint) => error.hint(hint),
            None => error,
        };
        self.error(error);
        None
    }

    fn missing_factor(&self, a: &Typed, b: &Typed) -> Option<String> {
        let (Kind::Number { dimension: left, point }, Kind::Number { dimension: right, .. }) =
            (&a.ty.kind, &b.ty.kind)
        else {
            return None;
        };
        let literal = |t: &Typed| match t.node {
            TypedNode::Constant(value) => Some(value),
            _ => None,
        };
        if let Some(value) = literal(b).filter(|_| right.is_none()) {
            let unit = self.units.unit_for(left, *point).text;
            return Some(format!("give the number a unit, such as `{value} [{unit}]`"));
        }
        if let Some(value) = literal(a).filter(|_| left.is_none()) {
            return Some(format!("give the number a unit, such as `{value} [{}]`", self.speak(&b.ty.kind)));
        }
        let factor = left.div(right);
        let divide = right.div(left);
        let by = |d: &Dimension| d.with_article().filter(|_| *d != Dimension::RATE);
        match (by(&factor), by(&divide)) {
            (Some(name), _) => Some(format!("multiply the right side by {name}")),
            (None, Some(name)) => Some(format!("divide the right side by {name}")),
            _ => Some(format!("the left side is {left}, the right side {right}")),
        }
    }

    fn product(&mut self, op: BinaryOp, a: &Typed, b: &Typed) -> Option<Kind> {
        let verb = if op == BinaryOp::Multiply { "multiply" } else { "divide" };
        let left = self.as_number(a, verb);
        let right = self.as_number(b, verb);
        let ((left, left_point), (right, right_point)) = (left?, right?);
        let done = if op == BinaryOp::Multiply { "multiplied" } else { "divided" };
        if left_point {
            return self.refuse_point(done, a);
        }
        if right_point {
            return self.refuse_point(if op == BinaryOp::Multiply { done } else { "a divisor" }, b);
        }
        let dimension = if op == BinaryOp::Multiply { left.mul(&right) } else { left.div(&right) };
        self.in_range(dimension, b)
    }

    fn in_range(&mut self, dimension: Dimension, at: &Typed) -> Option<Kind> {
        if dimension.in_range() {
            return Some(Kind::Number { dimension, point: false });
        }
        let error =
            Diagnostic::error("unit-exponent", "the exponents of the unit grow out of any range of use");
        self.error(error.at(at.span.clone(), ""));
        None
    }

    fn power(&mut self, a: &Typed, b: &Typed, exponent: &Expr) -> Option<Kind> {
        let base = self.as_number(a, "raise to a power");
        let by = self.as_number(b, "use as an exponent");
        let ((base, point), (by, by_point)) = (base?, by?);
        if point {
            return self.refuse_point("raised to a power", a);
        }
        if by_point || !by.is_none() {
            let found = self.speak(&b.ty.kind);
            let error = Diagnostic::error(
                "unit-exponent",
                format!("an exponent must be a plain number, found {found}"),
            );
            self.error(error.at(b.span.clone(), found).hint("divide it by a unit, such as `n / 1 [yr]`"));
            return None;
        }
        if base.is_none() {
            return Some(Kind::Number { dimension: base, point: false });
        }
        let Some((num, den)) = fraction(exponent) else {
            let found = self.speak(&a.ty.kind);
            let error = Diagnostic::error("unit-exponent", format!("{found} needs a constant exponent"))
                .at(b.span.clone(), "not a constant")
                .also(a.span.clone(), found)
                .hint("write a number such as 2, 0.5 or (1/3), or make the base a plain number");
            self.error(error);
            return None;
        };
        let dimension = base.pow(num, den)?;
        self.in_range(dimension, b)
    }

    fn comparison(&mut self, op: BinaryOp, a: &Typed, b: &Typed) -> Option<Kind> {
        let equality = matches!(op, BinaryOp::Equal | BinaryOp::NotEqual);
        let (l, r) = (self.speak(&a.ty.kind), self.speak(&b.ty.kind));
        match (&a.ty.kind, &b.ty.kind) {
            (Kind::Number { dimension: x, point: p }, Kind::Number { dimension: y, point: q }) if x == y => {
                if p == q {
                    return Some(Kind::YesNo);
                }
                let message = "cannot compare a temperature (degC) with a difference (K)";
                let error = Diagnostic::error("temperature-point", message)
                    .at(b.span.clone(), format!("{r}; the left side is {l}"))
                    .also(a.span.clone(), "")
                    .hint("write both in degC, or both in K");
                self.error(error);
                None
            }
            (x, y) if years_or_time(x) && years_or_time(y) => Some(Kind::YesNo),
            (Kind::YesNo, Kind::YesNo) if equality => Some(Kind::YesNo),
            (Kind::Label(x), Kind::Label(y)) if equality && x == y => Some(Kind::YesNo),
            (Kind::Number { .. }, Kind::Number { .. }) => {
                self.mismatch(format!("cannot compare {l} with {r}"), a, b)
            }
            (x, y) => {
                let hint = comparison_hint(x, y, equality);
                let error = Diagnostic::error(
                    "kind-mismatch",
                    format!("cannot compare {l} with {r} by `{}`", sign(op)),
                )
                .at(b.span.clone(), format!("{r}; the left side is {l}"))
                .also(a.span.clone(), "")
                .hint(hint);
                self.error(error);
                None
            }
        }
    }
}

fn comparison_hint(x: &Kind, y: &Kind, equality: bool) -> &'static str {
    match (x, y) {
        (Kind::Years, Kind::Number { .. }) | (Kind::Number { .. }, Kind::Years) => {
            "compare it with a time: give the number the unit `[yr]`"
        }
        (Kind::Label(_), Kind::Label(_)) if equality => "both sides must have the same list of labels",
        (Kind::Label(_), _) | (_, Kind::Label(_)) if equality => {
            "a label is compared with a label of its list"
        }
        (Kind::Label(_), _) | (_, Kind::Label(_)) => "labels have no order: use `==` or `!=`",
        (Kind::YesNo, Kind::YesNo) => "yes and no have no order: use `==` or `!=`",
        (Kind::YesNo, _) | (_, Kind::YesNo) => "yes or no needs no comparison: write it alone, or `not x`",
        _ => "both sides must be of one kind",
    }
}

/// What can be counted in years: a payback or a time.
pub(super) fn years_or_time(kind: &Kind) -> bool {
    matches!(kind, Kind::Years | Kind::Number { dimension: Dimension::TIME, point: false })
}

/// A constant exponent as an exact fraction: numbers, signs and quotients of them.
fn fraction(expr: &Expr) -> Option<(i64, i64)> {
    match &expr.node {
        Node::Number { value, unit: None } => (1..=24).find_map(|den: i32| {
            let num = value * f64::from(den);
            // Decimals like 1.1 are not exact in a double; no exponent of use lies nearer to another fraction.
            let near = (num - num.round()).abs() <= 1e-12 * num.abs().max(1.0) && num.abs() <= 1000.0;
            #[expect(clippy::cast_possible_truncation, reason = "at most 1000")]
            near.then_some((num.round() as i64, i64::from(den)))
        }),
        Node::Unary(UnaryOp::Negate, inner) => fraction(inner).map(|(num, den)| (-num, den)),
        Node::Binary(BinaryOp::Divide, left, right) => {
            let ((a, b), (c, d)) = (fraction(left)?, fraction(right)?);
            let (num, den) = (a.checked_mul(d)?, b.checked_mul(c)?);
            (den != 0).then_some((num, den))
        }
        _ => None,
    }
}
