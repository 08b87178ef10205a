//! Functions whose indices are known, and their columns from a plan's two matrices: any function, any groups.

use payspread::analysis::indices::estimators::Columns;
use payspread::sampling::{Design, InputSpec, Plan, Scratch};

/// A function of a point.
pub(crate) type Function = fn(&[f64]) -> f64;

pub(crate) fn ishigami(x: &[f64]) -> f64 {
    let (a, b) = (libm::sin(x[0]), libm::sin(x[1]));
    a + 7.0 * b * b + 0.1 * x[2] * x[2] * x[2] * x[2] * a
}

fn g(x: &[f64], a: &[f64]) -> f64 {
    x.iter().zip(a).map(|(x, a)| ((4.0 * x - 2.0).abs() + a) / (1.0 + a)).product()
}

pub(crate) fn g_of_eight(x: &[f64]) -> f64 {
    g(x, &[0.0, 1.0, 4.5, 9.0, 99.0, 99.0, 99.0, 99.0])
}

pub(crate) fn g_of_three(x: &[f64]) -> f64 {
    g(x, &[0.0, 0.5, 3.0])
}

/// Columns of `function` with each of `groups` (of inputs) swapped in turn.
pub(crate) fn columns(
    function: Function,
    inputs: &[InputSpec],
    groups: &[Vec<usize>],
    design: Design,
) -> Columns {
    let first = Plan::new(inputs, &[], &[], design, &[]).unwrap();
    let n = design.runs as usize;
    let draw = |plan: &Plan| {
        let mut out = vec![0.0; inputs.len() * n];
        plan.draw(&[], 0, n, &mut out, n, &mut Scratch::new());
        out
    };
    let (a, b) = (draw(&first), draw(&first.second()));
    let at = |from: &dyn Fn(usize) -> bool| -> Vec<f64> {
        let mut point = vec![0.0; inputs.len()];
        (0..n)
            .map(|r| {
                for (k, x) in point.iter_mut().enumerate() {
                    *x = if from(k) { b[k * n + r] } else { a[k * n + r] };
                }
                function(&point)
            })
            .collect()
    };
    Columns {
        a: at(&|_| false),
        b: at(&|_| true),
        swapped: groups.iter().map(|group| at(&|k| group.contains(&k))).collect(),
    }
}
