//! Water, seasons, equipment and growth.

use super::{Call, Function, FunctionOp};
use crate::formula::types::{Kind, Shape, Type, TypedNode};
use crate::units::Dimension;

const NONE: &[&str] = &[];

pub(super) const FUNCTIONS: &[Function] = &[
    Function {
        name: "seasonal",
        op: FunctionOp::Seasonal,
        parameters: &["mean", "half_range", "coldest_day"],
        least: 3,
        many: false,
        labels: NONE,
        signature: "seasonal(mean: degC or any unit, half_range: K or that unit, coldest_day: plain) -> unit of mean, by month",
        summary: "A yearly wave by month: mean - half_range cos(2 pi (d - coldest_day)/365) at the middle d of each month (January 15.5).",
        example: "max_months(seasonal(10 [degC], 5 [K], 41))",
        expected: "14.988151526532928",
        source: "Burch and Christensen 2007",
        check: seasonal,
    },
    Function {
        name: "water_heat",
        op: FunctionOp::WaterHeat,
        parameters: &["volume", "from", "to"],
        least: 3,
        many: false,
        labels: NONE,
        signature: "water_heat(volume: L, from: degC, to: degC) -> kWh",
        summary: "Heat that warms a volume of water: 4.186 kJ/L/K x volume x (to - from); below zero when to is the colder.",
        example: "water_heat(100 [L], 10 [degC], 60 [degC])",
        expected: "5.813888888888889",
        source: "",
        check: |call| {
            let hint = "write litres, such as `120 [L]`, and multiply a use of L/day by `days_in_month`";
            call.of(0, Dimension::VOLUME, "a volume", hint)?;
            if call.number_or_point(1)?.0 != Dimension::TEMPERATURE {
                return call.refuse(1, "a temperature", "write degrees, such as `12 [degC]`");
            }
            call.like(2, 1)?;
            Some(Type::number(Dimension::ENERGY, call.joined()))
        },
    },
    Function {
        name: "in_service",
        op: FunctionOp::InService,
        parameters: &["life"],
        least: 1,
        many: false,
        labels: NONE,
        signature: "in_service(life: yr) -> plain, by year; by month and year where it multiplies such values",
        summary: "Share of each period in which equipment of that life works: 1 in full periods, a part in the period of failure, 0 after it.",
        example: "sum_years(in_service(3.4 [yr]))",
        expected: "3.4",
        source: "",
        check: |call| {
            call.of(0, Dimension::TIME, "a time", "give the life a unit, such as `10 [yr]`")?;
            call.single(0)?;
            Some(Type::plain(Shape::Yearly))
        },
    },
    Function {
        name: "failures",
        op: FunctionOp::Failures,
        parameters: &["life"],
        least: 1,
        many: false,
        labels: NONE,
        signature: "failures(life: name of an input in yr with a distribution) -> plain, by year",
        summary: "Number of replacements in each year when every failed piece is replaced at once, each piece with a life of its own draw.",
        example: "sum_years(failures(example_life))",
        expected: "2",
        source: "",
        check: failures,
    },
    Function {
        name: "growth",
        op: FunctionOp::Growth,
        parameters: &["rate"],
        least: 1,
        many: false,
        labels: NONE,
        signature: "growth(rate: 1/yr) -> plain, shape of rate",
        summary: "The factor of one year: 1 + rate x 1 yr; `growth(rate) ^ year` is the course.",
        example: "growth(2 [%/yr])",
        expected: "1.02",
        source: "",
        check: |call| {
            call.of(
                0,
                Dimension::RATE,
                "a rate by year",
                "give it a unit, such as `0.02 [1/yr]` or `2 [%/yr]`",
            )?;
            Some(Type::plain(call.shape(0)))
        },
    },
];

fn seasonal(call: &mut Call<'_, '_>) -> Option<Type> {
    let (dimension, point) = call.number_or_point(0)?;
    if call.number(1)? != dimension {
        let wanted = call.checker.speak(&Kind::Number { dimension, point: false });
        return call.refuse(1, &format!("{wanted}, a difference in the unit of `mean`,"), "");
    }
    call.of(2, Dimension::NONE, "the number of a day in the year", "a plain number from 1 to 365")?;
    if call.joined().has_months() {
        let i = (0..3).find(|&i| call.shape(i).has_months()).unwrap_or(0);
        return call.refuse(i, "a value that does not vary by month", "the wave makes the months");
    }
    Some(Type { kind: Kind::Number { dimension, point }, shape: call.joined().join(Shape::Monthly) })
}

fn failures(call: &mut Call<'_, '_>) -> Option<Type> {
    let hint =
        "each replacement takes a fresh draw, so it must be the bare name of an input with a distribution";
    let drawn = match call.args.first().map(|a| &a.node) {
        Some(TypedNode::Name(name)) => call.is_drawn(name),
        _ => false,
    };
    if !drawn {
        return call.refuse(0, "the name of an input with a distribution", hint);
    }
    call.of(0, Dimension::TIME, "a time", "the input's unit should be yr")?;
    if call.shape(0) != Shape::Single {
        let hint =
            "a life that changes by year is none that a piece could be given: use an input without `changes`";
        return call.refuse(0, "one life for the whole time", hint);
    }
    Some(Type::plain(Shape::Yearly))
}
