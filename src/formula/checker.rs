//! Checks names, kinds, units and shapes of a tree, and turns its numbers into base units.
//! All errors are gathered: a part that fails does not hide the errors of the others.

use super::ast::{Expr, Node};
use super::functions::{self, Call, FunctionOp};
use super::names::{CLOCK_WORDS, Names, clock_type};
use super::suggestion::nearest;
use super::types::{Kind, Shape, Type, Typed, TypedNode};
use crate::diagnostic::{Diagnostic, Span};
use crate::units::{Unit, UnitTable};

/// From so many errors on, suggestions are no longer looked for: nobody reads them, and each costs a look at every name.
const MANY: usize = 100;

/// Checks `expr`; none when something is wrong, and `diagnostics` then says what.
pub fn check(
    expr: &Expr,
    names: &dyn Names,
    units: &UnitTable,
    diagnostics: &mut Vec<Diagnostic>,
) -> Option<Typed> {
    Checker { names, units, diagnostics }.expr(expr, None)
}

pub(super) struct Checker<'a> {
    pub(super) names: &'a dyn Names,
    pub(super) units: &'a UnitTable,
    pub(super) diagnostics: &'a mut Vec<Diagnostic>,
}

impl Checker<'_> {
    pub(super) fn error(&mut self, diagnostic: Diagnostic) {
        self.diagnostics.push(diagnostic);
    }

    /// A kind and unit as a message speaks of it.
    pub(super) fn speak(&self, kind: &Kind) -> String {
        match kind {
            Kind::Number { dimension, .. } if dimension.is_none() => "a plain number".to_owned(),
            Kind::Number { dimension, point } => self.units.unit_for(dimension, *point).text,
            Kind::YesNo => "yes or no".to_owned(),
            Kind::Label(_) => "a label".to_owned(),
            Kind::Years => "years or never".to_owned(),
        }
    }

    pub(super) fn expr(&mut self, expr: &Expr, labels: Option<&[String]>) -> Option<Typed> {
        let span = expr.span.clone();
        match &expr.node {
            Node::Number { value, unit } => self.number(*value, unit.as_ref(), span),
            Node::Label(text) => self.label(text, labels, span),
            Node::YesNo(yes) => {
                let value = if *yes { 1.0 } else { 0.0 };
                Some(Typed { node: TypedNode::Constant(value), ty: Type::yes_no(Shape::Single), span })
            }
            Node::Name(name) => self.name(name, span),
            Node::Unary(op, inner) => self.unary(*op, inner, span),
            Node::Binary(op, left, right) => self.binary(*op, left, right, span),
            Node::Call { function, function_span, args } => self.call(function, function_span, args, span),
        }
    }

    fn number(&mut self, value: f64, unit: Option<&(String, Span)>, span: Span) -> Option<Typed> {
        let unit = match unit {
            None => Unit::plain(),
            Some((text, place)) => match self.units.parse(text) {
                Ok(unit) => unit,
                Err(error) => {
                    self.error(error.diagnostic(place.start));
                    return None;
                }
            },
        };
        let kind = Kind::Number { dimension: unit.dimension, point: unit.point };
        let ty = Type { kind, shape: Shape::Single };
        Some(Typed { node: TypedNode::Constant(unit.to_base(value)), ty, span })
    }

    fn label(&mut self, text: &str, labels: Option<&[String]>, span: Span) -> Option<Typed> {
        let Some(labels) = labels else {
            let error = Diagnostic::error("label", format!("the label \"{text}\" stands alone"))
                .at(span, "")
                .hint("a label can only be compared with an input that has labels: `tank == \"large\"`");
            self.error(error);
            return None;
        };
        let Some(index) = labels.iter().position(|l| l == text) else {
            let list = labels.iter().map(|l| format!("\"{l}\"")).collect::<Vec<_>>().join(", ");
            let error =
                Diagnostic::error("unknown-label", format!("there is no label \"{text}\" here")).at(span, "");
            let error = match nearest(text, labels.iter().map(String::as_str)) {
                Some(meant) => error.hint(format!("did you mean \"{meant}\"?")),
                None => error,
            };
            self.error(error.hint(format!("the labels are {list}")));
            return None;
        };
        #[expect(clippy::cast_precision_loss, reason = "a list of labels is short")]
        let value = index as f64;
        let ty = Type { kind: Kind::Label(labels.to_vec()), shape: Shape::Single };
        Some(Typed { node: TypedNode::Constant(value), ty, span })
    }

    fn name(&mut self, name: &str, span: Span) -> Option<Typed> {
        if let Some(ty) = clock_type(name).or_else(|| self.names.type_of(name)) {
            return Some(Typed { node: TypedNode::Name(name.to_owned()), ty, span });
        }
        let error = Diagnostic::error("unknown-name", format!("unknown name `{name}`")).at(span, "");
        if let Some(function) = functions::find(name) {
            let hint = format!("`{name}` is a function: {}", function.signature);
            self.error(error.hint(hint));
            return None;
        }
        if self.diagnostics.len() >= MANY {
            self.error(error);
            return None;
        }
        let known = self.names.suggestions();
        let candidates = known.iter().map(String::as_str).chain(CLOCK_WORDS);
        let hint = match nearest(name, candidates) {
            Some(meant) => format!("did you mean `{meant}`?"),
            None if self.units.parse(name).is_ok() => {
                format!("a unit stands in brackets after a number: `1 [{name}]`")
            }
            None => "define it under [inputs], [paths] or [workings]".to_owned(),
        };
        self.error(error.hint(hint));
        None
    }

    fn call(&mut self, name: &str, name_span: &Span, args: &[Expr], span: Span) -> Option<Typed> {
        let Some(function) = functions::find(name) else {
            self.unknown_function(name, name_span);
            for arg in args {
                self.expr(arg, None);
            }
            return None;
        };
        let labels = match function.op {
            FunctionOp::If => args.iter().skip(1).find_map(|arg| self.labels_of(arg)),
            _ if function.labels.is_empty() => None,
            _ => Some(function.labels.iter().map(|l| (*l).to_owned()).collect()),
        };
        let typed: Vec<Option<Typed>> = args.iter().map(|arg| self.expr(arg, labels.as_deref())).collect();
        let mut call = Call { checker: self, function, name_span: name_span.clone(), args: Vec::new() };
        call.count(args.len())?;
        call.args = typed.into_iter().collect::<Option<_>>()?;
        let ty = (function.check)(&mut call)?;
        let args = call.args;
        Some(Typed { node: TypedNode::Call { function, args }, ty, span })
    }

    fn unknown_function(&mut self, name: &str, span: &Span) {
        let error =
            Diagnostic::error("unknown-function", format!("unknown function `{name}`")).at(span.clone(), "");
        let hint = if clock_type(name).is_some() || self.names.type_of(name).is_some() {
            format!("`{name}` is a name, not a function; to multiply write `{name} * (...)`")
        } else {
            match nearest(name, functions::all().map(|f| f.name)) {
                Some(meant) => format!("did you mean `{meant}`?"),
                None => "`payspread reference functions` lists them".to_owned(),
            }
        };
        self.error(error.hint(hint));
    }
}
