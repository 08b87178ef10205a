//! Arithmetic and choice.

use super::{Call, Function, FunctionOp};
use crate::formula::types::{Kind, Type};
use crate::units::Dimension;

const NONE: &[&str] = &[];

pub(super) const FUNCTIONS: &[Function] = &[
    Function {
        name: "abs",
        op: FunctionOp::Abs,
        parameters: &["x"],
        least: 1,
        many: false,
        labels: NONE,
        signature: "abs(x) -> unit and shape of x",
        summary: "The size of x without its sign.",
        example: "abs(3 [EUR] - 5 [EUR])",
        expected: "2",
        source: "",
        check: |call| call.number(0).and(call.ty(0)),
    },
    Function {
        name: "min",
        op: FunctionOp::Min,
        parameters: &["a", "b"],
        least: 2,
        many: true,
        labels: NONE,
        signature: "min(a, b, ...) -> unit of a; all in one unit",
        summary: "The smallest of its arguments, month by month and year by year.",
        example: "min(7 [kWh], 5 [kWh], 6 [kWh])",
        expected: "5",
        source: "",
        check: extreme,
    },
    Function {
        name: "max",
        op: FunctionOp::Max,
        parameters: &["a", "b"],
        least: 2,
        many: true,
        labels: NONE,
        signature: "max(a, b, ...) -> unit of a; all in one unit",
        summary: "The largest of its arguments, month by month and year by year.",
        example: "max(0 [kWh], 5 [kWh] - 6 [kWh])",
        expected: "0",
        source: "",
        check: extreme,
    },
    Function {
        name: "clamp",
        op: FunctionOp::Clamp,
        parameters: &["x", "low", "high"],
        least: 3,
        many: false,
        labels: NONE,
        signature: "clamp(x, low, high) -> unit of x; all in one unit",
        summary: "x, but not below low and not above high.",
        example: "clamp(1.2, 0, 1)",
        expected: "1",
        source: "",
        check: |call| {
            call.number_or_point(0)?;
            let kind = call.all_alike(0)?;
            Some(Type { kind, shape: call.joined() })
        },
    },
    Function {
        name: "floor",
        op: FunctionOp::Floor,
        parameters: &["x"],
        least: 1,
        many: false,
        labels: NONE,
        signature: "floor(x: plain) -> plain, shape of x",
        summary: "The largest whole number that is not above x.",
        example: "floor(-2.5)",
        expected: "-3",
        source: "",
        check: plain_to_plain,
    },
    Function {
        name: "round",
        op: FunctionOp::Round,
        parameters: &["x"],
        least: 1,
        many: false,
        labels: NONE,
        signature: "round(x: plain) -> plain, shape of x",
        summary: "The nearest whole number; halves go away from zero.",
        example: "round(2.5)",
        expected: "3",
        source: "",
        check: plain_to_plain,
    },
    Function {
        name: "sqrt",
        op: FunctionOp::Sqrt,
        parameters: &["x"],
        least: 1,
        many: false,
        labels: NONE,
        signature: "sqrt(x) -> unit^(1/2), shape of x",
        summary: "The square root; of a number below zero it is not a number, and the run is counted as failed.",
        example: "sqrt(9 [m2])",
        expected: "3",
        source: "",
        check: |call| {
            let dimension = call.number(0)?;
            match dimension.pow(1, 2).filter(Dimension::in_range) {
                Some(root) => Some(Type::number(root, call.shape(0))),
                None => call.refuse(0, "a unit of small exponents", ""),
            }
        },
    },
    Function {
        name: "exp",
        op: FunctionOp::Exp,
        parameters: &["x"],
        least: 1,
        many: false,
        labels: NONE,
        signature: "exp(x: plain) -> plain, shape of x",
        summary: "e to the power of x.",
        example: "exp(1)",
        expected: "2.718281828459045",
        source: "",
        check: plain_to_plain,
    },
    Function {
        name: "ln",
        op: FunctionOp::Ln,
        parameters: &["x"],
        least: 1,
        many: false,
        labels: NONE,
        signature: "ln(x: plain) -> plain, shape of x",
        summary: "The natural logarithm; only of numbers above zero.",
        example: "ln(2)",
        expected: "0.6931471805599453",
        source: "",
        check: plain_to_plain,
    },
    Function {
        name: "if",
        op: FunctionOp::If,
        parameters: &["condition", "then", "otherwise"],
        least: 3,
        many: false,
        labels: NONE,
        signature: "if(condition: yes or no, then, otherwise) -> unit of then; both in one unit",
        summary: "then where the condition holds, otherwise where it does not.",
        example: "if(2 > 1, 10 [EUR], 20 [EUR])",
        expected: "10",
        source: "",
        check: |call| {
            if call.ty(0)?.kind != Kind::YesNo {
                return call.refuse(0, "yes or no", "compare it with something, such as `x > 0`");
            }
            let kind = call.all_alike(1)?;
            Some(Type { kind, shape: call.joined() })
        },
    },
];

fn plain_to_plain(call: &mut Call<'_, '_>) -> Option<Type> {
    call.plain(0)?;
    call.ty(0)
}

fn extreme(call: &mut Call<'_, '_>) -> Option<Type> {
    // Years or never have an order too; anything else must be a number.
    if call.ty(0)?.kind != Kind::Years {
        call.number_or_point(0)?;
    }
    let kind = call.all_alike(0)?;
    Some(Type { kind, shape: call.joined() })
}
