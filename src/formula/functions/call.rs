//! What the entries of the table check their arguments with. Each failure is reported with the function,
//! the argument and what would be right.

use super::Function;
use crate::diagnostic::{Diagnostic, Span};
use crate::formula::checker::Checker;
use crate::formula::operators::{refine, years_or_time};
use crate::formula::types::{Kind, Shape, Type, Typed, TypedNode};
use crate::units::Dimension;

/// A call whose arguments are checked one by one, with what an error message needs.
pub(crate) struct Call<'a, 'b> {
    pub(crate) checker: &'a mut Checker<'b>,
    pub(crate) function: &'static Function,
    pub(crate) name_span: Span,
    pub(crate) args: Vec<Typed>,
}

impl Call<'_, '_> {
    /// Number of arguments against the table's entry.
    pub(crate) fn count(&mut self, given: usize) -> Option<()> {
        let Function { name, parameters, least, many, signature, .. } = *self.function;
        let most = if many { usize::MAX } else { parameters.len() };
        if (least..=most).contains(&given) {
            return Some(());
        }
        let wanted = match (least, many) {
            (least, true) => format!("at least {least}"),
            (least, _) if least == most => least.to_string(),
            (least, _) => format!("{least} to {most}"),
        };
        let plural = if wanted == "1" || wanted.ends_with(" 1") { "" } else { "s" };
        let message = format!("`{name}` takes {wanted} argument{plural}, found {given}");
        let error = Diagnostic::error("argument-count", message).at(self.name_span.clone(), "");
        self.checker.error(error.hint(signature));
        None
    }

    /// A list with too few or too many values.
    pub(super) fn wrong_number<T>(&mut self, wanted: usize, given: usize, what: &str) -> Option<T> {
        let name = self.function.name;
        let message = format!("`{name}` takes {wanted} values, one for each {what}, found {given}");
        let error = Diagnostic::error("argument-count", message).at(self.name_span.clone(), "");
        self.checker.error(error.hint(self.function.signature));
        None
    }

    fn parameter(&self, i: usize) -> &'static str {
        let parameters = self.function.parameters;
        parameters.get(i).or(parameters.last()).copied().unwrap_or("x")
    }

    /// Kind and shape of an argument, if given.
    pub(super) fn ty(&self, i: usize) -> Option<Type> {
        self.args.get(i).map(|a| a.ty.clone())
    }

    pub(super) fn shape(&self, i: usize) -> Shape {
        self.args.get(i).map_or(Shape::Single, |a| a.ty.shape)
    }

    /// The shape that holds all arguments.
    pub(super) fn joined(&self) -> Shape {
        self.args.iter().fold(Shape::Single, |shape, a| shape.join(a.ty.shape))
    }

    /// Reports that argument `i` should have been something else.
    pub(super) fn refuse<T>(&mut self, i: usize, wanted: &str, hint: &str) -> Option<T> {
        let (span, kind, shape) = match self.args.get(i) {
            Some(a) => (a.span.clone(), self.checker.speak(&a.ty.kind), a.ty.shape),
            None => (self.name_span.clone(), "nothing".to_owned(), Shape::Single),
        };
        let found = match shape {
            Shape::Single => kind,
            shape => format!("{kind}, {}", shape.words()),
        };
        let message = format!("`{}` needs {wanted} as `{}`", self.function.name, self.parameter(i));
        let error = Diagnostic::error("wrong-argument", message).at(span, format!("this is {found}"));
        let error = if hint.is_empty() { error } else { error.hint(hint) };
        let name = self.args.get(i).and_then(|a| match &a.node {
            TypedNode::Name(name) => Some(name.as_str()),
            _ => None,
        });
        let error = match name.and_then(|name| self.checker.names.why_by_year(name)) {
            Some(why) => error.hint(why),
            None => error,
        };
        self.checker.error(error.hint(self.function.signature));
        None
    }

    /// Dimension of a number that may be a point on the temperature scale.
    pub(super) fn number_or_point(&mut self, i: usize) -> Option<(Dimension, bool)> {
        match self.args.get(i).map(|a| &a.ty.kind) {
            Some(Kind::Number { dimension, point }) => Some((*dimension, *point)),
            Some(Kind::YesNo) => self.refuse(i, "a number", "make a number of it: `if(x, 1, 0)`"),
            Some(Kind::Years) => {
                let hint = "years or never can only be compared, or stand in min, max, if and is_never";
                self.refuse(i, "a number", hint)
            }
            _ => self.refuse(i, "a number", ""),
        }
    }

    /// Dimension of a number that is no point.
    pub(super) fn number(&mut self, i: usize) -> Option<Dimension> {
        match self.number_or_point(i)? {
            (_, true) => {
                self.refuse(i, "a quantity", "degC is a point on a scale: take a difference, or use K")
            }
            (dimension, false) => Some(dimension),
        }
    }

    /// A number of this dimension.
    pub(super) fn of(&mut self, i: usize, dimension: Dimension, wanted: &str, hint: &str) -> Option<()> {
        match self.number(i)? {
            d if d == dimension => Some(()),
            _ => self.refuse(i, wanted, hint),
        }
    }

    /// A number without dimension.
    pub(super) fn plain(&mut self, i: usize) -> Option<()> {
        let hint = "divide it by a unit, such as `x / 1 [yr]`";
        self.of(i, Dimension::NONE, "a plain number", hint)
    }

    /// One value.
    pub(super) fn single(&mut self, i: usize) -> Option<()> {
        match self.shape(i) {
            Shape::Single => Some(()),
            _ => self.refuse(
                i,
                "a single value",
                "reduce it first, such as `mean_years(x)` or `at_year(x, 0)`",
            ),
        }
    }

    /// Argument `i` in the unit of argument `first`.
    pub(super) fn like(&mut self, i: usize, first: usize) -> Option<()> {
        let (Some(a), Some(b)) = (self.ty(first), self.ty(i)) else { return None };
        if a.kind == b.kind || (years_or_time(&a.kind) && years_or_time(&b.kind)) {
            return Some(());
        }
        let wanted = self.checker.speak(&a.kind);
        let message = format!(
            "`{}` needs {wanted} as `{}`, like `{}`",
            self.function.name,
            self.parameter(i),
            self.parameter(first)
        );
        let found = self.checker.speak(&b.kind);
        let (span, first_span) = match (self.args.get(i), self.args.get(first)) {
            (Some(x), Some(y)) => (x.span.clone(), y.span.clone()),
            _ => return None,
        };
        let error = Diagnostic::error("unit-mismatch", message)
            .at(span, format!("this is {found}"))
            .also(first_span, wanted.clone());
        let bare = |i: usize| match self.args.get(i) {
            Some(Typed { node: TypedNode::Constant(value), ty, .. }) if *ty == Type::plain(Shape::Single) => {
                Some(*value)
            }
            _ => None,
        };
        let hint = match (bare(i), bare(first)) {
            (Some(value), _) if wanted != found => {
                format!("give the number a unit, such as `{value} [{wanted}]`")
            }
            (None, Some(value)) if matches!(b.kind, Kind::Number { .. }) => {
                format!("give the number a unit, such as `{value} [{found}]`")
            }
            _ => "all of them must be of one kind and unit".to_owned(),
        };
        self.checker.error(error.hint(hint));
        None
    }

    /// All arguments from `first` on of one kind and unit; years and times mix, and then it is years or never.
    pub(super) fn all_alike(&mut self, first: usize) -> Option<Kind> {
        let mut fine = Some(());
        for i in first + 1..self.args.len() {
            fine = self.like(i, first).and(fine);
        }
        fine?;
        let years = self.args.iter().skip(first).any(|a| a.ty.kind == Kind::Years);
        let kind = self.ty(first)?.kind;
        Some(if years { Kind::Years } else { kind })
    }

    /// Lets the share in service of argument `i` follow an argument by month.
    pub(super) fn refine(&mut self, i: usize) {
        if let Some(arg) = self.args.get_mut(i) {
            refine(arg);
        }
    }

    pub(super) fn years(&self) -> usize {
        self.checker.names.years()
    }

    /// That the study has an inflation to convert by.
    pub(super) fn inflation(&mut self) -> Option<()> {
        if self.checker.names.has_inflation() {
            return Some(());
        }
        let message = format!("`{}` needs the inflation of the study, which has none", self.function.name);
        let error = Diagnostic::error("inflation-missing", message).at(self.name_span.clone(), "");
        let hint = "add inflation = \"NAME\", an input or path in 1/yr, above the first section";
        self.checker.error(error.hint(hint));
        None
    }

    pub(super) fn is_drawn(&self, name: &str) -> bool {
        self.checker.names.is_drawn(name)
    }
}
