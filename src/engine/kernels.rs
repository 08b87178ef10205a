//! The operations of [`ops`] over columns: plain loops
//! that vectorise. The bits are those of the scalar forms whatever the vector
//! width, since every value is computed by the same operations in the same
//! order.

use crate::engine::ops::{self, Binary, Unary};
use crate::sampling::maths::kernels;

kernels! {
    /// `out[i] = op(a[i])`
    pub(crate) fn unary(op: Unary, out: &mut [f64], a: &[f64]) = unary_all;
    /// `out[i] = op(a[i], b[i])`
    pub(crate) fn binary(op: Binary, out: &mut [f64], a: &[f64], b: &[f64]) = binary_all;
    /// `out[i] = op(a[i], k)`
    pub(crate) fn binary_right_constant(op: Binary, out: &mut [f64], a: &[f64], k: f64) = binary_right_constant_all;
    /// `out[i] = op(k, b[i])`
    pub(crate) fn binary_left_constant(op: Binary, out: &mut [f64], k: f64, b: &[f64]) = binary_left_constant_all;
    /// `out[i] = then[i]` where `condition[i]` is not 0, else `otherwise[i]`
    pub(crate) fn select(out: &mut [f64], condition: &[f64], then: &[f64], otherwise: &[f64]) = select_all;
}

/// Calls `$loop` with a closure for the operation that `$op` is, so that the
/// choice is made once a column.
macro_rules! for_binary {
    ($op:expr, $apply:ident) => {
        match $op {
            Binary::Add => $apply!(Binary::Add),
            Binary::Subtract => $apply!(Binary::Subtract),
            Binary::Multiply => $apply!(Binary::Multiply),
            Binary::Divide => $apply!(Binary::Divide),
            Binary::Power => $apply!(Binary::Power),
            Binary::Min => $apply!(Binary::Min),
            Binary::Max => $apply!(Binary::Max),
            Binary::Equal => $apply!(Binary::Equal),
            Binary::NotEqual => $apply!(Binary::NotEqual),
            Binary::Less => $apply!(Binary::Less),
            Binary::LessEqual => $apply!(Binary::LessEqual),
            Binary::And => $apply!(Binary::And),
            Binary::Or => $apply!(Binary::Or),
        }
    };
}

#[inline(always)]
fn unary_all(op: Unary, out: &mut [f64], a: &[f64]) {
    macro_rules! apply {
        ($op:expr) => {
            for (o, &x) in out.iter_mut().zip(a) {
                *o = $op.apply(x);
            }
        };
    }
    match op {
        Unary::Negate => apply!(Unary::Negate),
        Unary::Not => apply!(Unary::Not),
        Unary::Abs => apply!(Unary::Abs),
        Unary::Sqrt => apply!(Unary::Sqrt),
        Unary::Exp => apply!(Unary::Exp),
        Unary::Ln => apply!(Unary::Ln),
        Unary::Floor => apply!(Unary::Floor),
        Unary::Round => apply!(Unary::Round),
        Unary::IsNever => apply!(Unary::IsNever),
    }
}

/// Values handled in one go: arrays, since `zip` takes as long to begin as a few values take, and is not in every build
/// compiled into the loop.
const GO: usize = 8;

#[inline(always)]
fn binary_all(op: Binary, out: &mut [f64], a: &[f64], b: &[f64]) {
    let n = out.len().min(a.len()).min(b.len());
    let (out, last) = out[..n].as_chunks_mut::<GO>();
    let (a, last_a) = a[..n].as_chunks::<GO>();
    let (b, last_b) = b[..n].as_chunks::<GO>();
    macro_rules! apply {
        ($op:expr) => {{
            for (k, out) in out.iter_mut().enumerate() {
                let (a, b) = (&a[k], &b[k]);
                for i in 0..GO {
                    out[i] = $op.apply(a[i], b[i]);
                }
            }
            for (i, o) in last.iter_mut().enumerate() {
                *o = $op.apply(last_a[i], last_b[i]);
            }
        }};
    }
    for_binary!(op, apply);
}

#[inline(always)]
fn binary_right_constant_all(op: Binary, out: &mut [f64], a: &[f64], k: f64) {
    macro_rules! apply {
        ($op:expr) => {
            for (o, &x) in out.iter_mut().zip(a) {
                *o = $op.apply(x, k);
            }
        };
    }
    for_binary!(op, apply);
}

#[inline(always)]
fn binary_left_constant_all(op: Binary, out: &mut [f64], k: f64, b: &[f64]) {
    macro_rules! apply {
        ($op:expr) => {
            for (o, &y) in out.iter_mut().zip(b) {
                *o = $op.apply(k, y);
            }
        };
    }
    for_binary!(op, apply);
}

#[inline(always)]
fn select_all(out: &mut [f64], condition: &[f64], then: &[f64], otherwise: &[f64]) {
    for (((o, &c), &a), &b) in out.iter_mut().zip(condition).zip(then).zip(otherwise) {
        *o = ops::select(c, a, b);
    }
}
