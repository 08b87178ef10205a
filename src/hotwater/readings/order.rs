//! The order of day and month in dates such as 03/04/2024, decided from the whole file.

use super::dates::{Date, Stamp};
use super::options::DateOrder;

/// The order and how it was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct OrderFound {
    pub(super) order: DateOrder,
    pub(super) why: &'static str,
    /// The data do not decide.
    pub(super) ambiguous: bool,
}

/// Decides from all stamps; `told` wins.
pub(super) fn decide<'a>(
    stamps: impl Iterator<Item = &'a Stamp> + Clone,
    told: Option<DateOrder>,
) -> Option<OrderFound> {
    let two = stamps.clone().filter_map(|stamp| match stamp.date() {
        Date::Two(_, a, b) => Some((a, b)),
        Date::Days(_) => None,
    });
    let (mut any, mut first_over, mut second_over) = (false, 0usize, 0usize);
    for (a, b) in two {
        any = true;
        first_over += usize::from(a > 12);
        second_over += usize::from(b > 12);
    }
    if !any {
        return None;
    }
    let found = |order, why| Some(OrderFound { order, why, ambiguous: false });
    match told {
        Some(order) => found(order, "as told"),
        None if first_over > second_over => found(DateOrder::DayMonth, "the first number goes above 12"),
        None if second_over > first_over => found(DateOrder::MonthDay, "the second number goes above 12"),
        None => Some(by_steps(stamps)),
    }
}

/// The order in which days follow each other more closely.
fn by_steps<'a>(stamps: impl Iterator<Item = &'a Stamp> + Clone) -> OrderFound {
    let travelled = |order| {
        let days = stamps.clone().filter_map(move |stamp: &Stamp| stamp.date().days(order));
        let mut last = None;
        days.fold(0i64, |sum, day| {
            let step = last.map_or(0, |last: i64| (day - last).abs());
            last = Some(day);
            sum + step
        })
    };
    let (day, month) = (travelled(DateOrder::DayMonth), travelled(DateOrder::MonthDay));
    let why = "days follow each other in this order only";
    match day.cmp(&month) {
        std::cmp::Ordering::Less => OrderFound { order: DateOrder::DayMonth, why, ambiguous: false },
        std::cmp::Ordering::Greater => OrderFound { order: DateOrder::MonthDay, why, ambiguous: false },
        std::cmp::Ordering::Equal => {
            let why = "nothing in the file decides; day before month is usual in most of the world";
            OrderFound { order: DateOrder::DayMonth, why, ambiguous: true }
        }
    }
}
