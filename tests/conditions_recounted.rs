//! The search and its figures against plain recounts: slices found by sorting what is left, boxes by looking at every run.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "a test may fail so"
)]

use payspread::analysis::Figure;
use payspread::analysis::conditions::lot::{Lot, Orders};
use payspread::analysis::conditions::peel::{Sort, paste, peel};
use payspread::analysis::conditions::{Wish, conditions};
use payspread::analysis::factors::Factor;
use statrs::function::beta::beta_reg;

fn uniform(seed: u64, column: u64, run: usize) -> f64 {
    let mut z = (seed << 40 ^ column << 32 ^ run as u64).wrapping_add(1).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    for (shift, times) in [(30, 0xBF58_476D_1CE4_E5B9), (27, 0x94D0_49BB_1331_11EB)] {
        z = (z ^ z >> shift).wrapping_mul(times);
    }
    ((z ^ z >> 31) >> 11) as f64 / (1u64 << 53) as f64
}

/// A slice that might go: the rows it leaves, and its gain as a fraction.
struct Slice {
    leaves: Vec<usize>,
    gain: (i128, i128),
}

fn hits(rows: &[usize], hit: &[bool]) -> i128 {
    rows.iter().filter(|&&row| hit[row]).count() as i128
}

fn slice(rows: &[usize], hit: &[bool], leaves: Vec<usize>) -> Option<Slice> {
    let (m, left) = (rows.len() as i128, leaves.len() as i128);
    if left == 0 || left == m {
        return None;
    }
    // (F'/m' - F/m) / (m - m')
    let above = hits(&leaves, hit) * m - hits(rows, hit) * left;
    Some(Slice { leaves, gain: (above, m * left * (m - left)) })
}

/// What may be taken of one column, low side first, labels in order.
fn slices(rows: &[usize], column: &[f64], sort: Sort, hit: &[bool]) -> Vec<Slice> {
    if let Sort::Labels(n) = sort {
        let without = |label: usize| {
            rows.iter().copied().filter(|&row| column[row] != label as f64).collect::<Vec<_>>()
        };
        return (0..n).filter_map(|label| slice(rows, hit, without(label))).collect();
    }
    let few = if sort == Sort::Classes { 0 } else { (0.05 * rows.len() as f64) as usize };
    let mut values: Vec<f64> = rows.iter().map(|&row| column[row]).collect();
    values.sort_by(f64::total_cmp);
    let mut distinct = values.clone();
    distinct.dedup();
    let mut found = Vec::new();
    // The slice of all values below some value: the largest with at most `few` runs (but one), else the smallest there is.
    let below = |x: f64| values.iter().filter(|v| **v < x).count();
    let above = |x: f64| values.iter().filter(|v| **v > x).count();
    let fits = |n: usize| n > 0 && n <= few.max(usize::from(sort == Sort::Values));
    let low = distinct.iter().rev().find(|&&x| fits(below(x))).or(distinct.get(1));
    if let Some(&from) = low {
        found.extend(slice(rows, hit, rows.iter().copied().filter(|&row| column[row] >= from).collect()));
    }
    let high = distinct.iter().find(|&&x| fits(above(x))).or(distinct.iter().rev().nth(1));
    if let Some(&to) = high {
        found.extend(slice(rows, hit, rows.iter().copied().filter(|&row| column[row] <= to).collect()));
    }
    found
}

/// The rows of each box on the path.
fn plain_path(columns: &[Vec<f64>], sorts: &[Sort], hit: &[bool]) -> Vec<Vec<usize>> {
    let mut rows: Vec<usize> = (0..hit.len()).collect();
    let least = 0.05 * rows.len() as f64;
    let mut path = vec![rows.clone()];
    while hits(&rows, hit) < rows.len() as i128 {
        let mut best: Option<Slice> = None;
        for (column, &sort) in columns.iter().zip(sorts) {
            for one in slices(&rows, column, sort, hit) {
                let more = |a: (i128, i128), b: (i128, i128)| a.0 * b.1 > b.0 * a.1;
                if one.leaves.len() as f64 >= least && best.as_ref().is_none_or(|b| more(one.gain, b.gain)) {
                    best = Some(one);
                }
            }
        }
        let Some(best) = best else { break };
        rows = best.leaves;
        path.push(rows.clone());
    }
    path
}

/// Five columns: plain, tied, whole numbers, labels, and with never; 20 to 400 runs.
fn made(seed: u64) -> (Vec<Vec<f64>>, Vec<Sort>, Vec<bool>) {
    let n = 20 + (uniform(seed, 9, 0) * 380.0) as usize;
    let column =
        |c: u64, f: &dyn Fn(f64) -> f64| (0..n).map(|run| f(uniform(seed, c, run))).collect::<Vec<f64>>();
    let columns = vec![
        column(0, &|u| u - 0.5),
        column(1, &|u| (u * 12.0).floor() / 4.0),
        column(2, &|u| (u * 4.0).floor()),
        column(3, &|u| (u * 3.0).floor()),
        column(4, &|u| if u < 0.2 { f64::INFINITY } else { 1.0 / u }),
    ];
    let chance = |run: usize| {
        let high = columns[0][run] > 0.1 || columns[3][run] == 1.0;
        if high && columns[2][run] < 3.0 && columns[4][run] > 1.5 { 0.8 } else { 0.1 }
    };
    let hit = (0..n).map(|run| uniform(seed, 8, run) < chance(run)).collect();
    (columns, vec![Sort::Values, Sort::Values, Sort::Classes, Sort::Labels(3), Sort::Values], hit)
}

#[test]
fn the_path_is_that_of_a_plain_search() {
    let mut steps = 0;
    for seed in 0..120 {
        let (columns, sorts, hit) = made(seed);
        let slices: Vec<&[f64]> = columns.iter().map(Vec::as_slice).collect();
        let lot = Lot::new(&slices, &hit, &vec![0; hit.len()]);
        let path = peel(&lot, &Orders::of(&lot), &lot.all(), &sorts);
        let rows: Vec<Vec<usize>> =
            path.iter().map(|region| region.inside(&lot, &lot.all()).iter().collect()).collect();
        assert_eq!(rows, plain_path(&columns, &sorts, &hit), "{seed}");
        steps += rows.len();
        // What is pasted grows, and the density with it.
        let mut before = path.last().unwrap().clone();
        for next in paste(&lot, &lot.all(), &sorts, &before) {
            let [a, b] = [&before, &next].map(|region| lot.count(&region.inside(&lot, &lot.all())));
            assert!(b.runs > a.runs && b.density() >= a.density() && b.hits > a.hits, "{seed}: {a:?} {b:?}");
            let lost = before.inside(&lot, &lot.all()).less(&next.inside(&lot, &lot.all()));
            assert!(lost.is_empty(), "{seed}");
            before = next;
        }
    }
    assert!(steps > 2_000, "{steps}");
}

/// Every figure of the answer, counted again from its limits; the quasi-p by the incomplete beta function.
#[test]
fn figures_are_counted_again() {
    let runs = 8_000;
    let names = ["a", "b", "c", "d"];
    let mut factors: Vec<Factor> = (0..4)
        .map(|c| Factor {
            name: names[c].into(),
            label: names[c].into(),
            unit: String::new(),
            values: (0..runs).map(|run| 100.0 * uniform(77, c as u64, run)).collect(),
            labels: Vec::new(),
            discrete: false,
            linked: false,
        })
        .collect();
    for value in &mut factors[3].values {
        *value = (*value / 25.0).floor();
    }
    factors[3].labels = ["w", "x", "y", "z"].map(String::from).to_vec();
    let fails: Vec<Option<bool>> = (0..runs)
        .map(|run| {
            let bad = factors[0].values[run] > 55.0
                && factors[1].values[run] < 60.0
                && factors[3].values[run] != 2.0;
            Some(uniform(77, 99, run) < if bad { 0.8 } else { 0.08 })
        })
        .collect();
    let found = conditions(&fails, &factors, &Wish::new(Some(8)));
    let one = &found.boxes[0];
    assert_eq!(one.restrictions.len(), 3, "{one:?}");
    let kept = |j: usize, run: usize| {
        let r = &one.restrictions[j];
        let factor = factors.iter().find(|f| f.name == r.name).unwrap();
        let x = factor.values[run];
        let end = |end: Option<Figure>, open: f64| end.and_then(Figure::number).unwrap_or(open);
        let named = r.labels.as_ref().is_none_or(|labels| labels.contains(&factor.labels[x as usize]));
        named && x >= end(r.from, f64::NEG_INFINITY) && x <= end(r.to, f64::INFINITY)
    };
    let count = |odd: usize, but: Option<usize>| {
        let mut n = [0u32; 4]; // runs, failures, runs in the box, failures in the box
        for run in (0..runs).filter(|run| run % 8 % 2 == odd) {
            let inside = (0..3).all(|j| Some(j) == but || kept(j, run));
            let failed = fails[run].unwrap();
            for (n, yes) in n.iter_mut().zip([true, failed, inside, inside && failed]) {
                *n += u32::from(yes);
            }
        }
        n.map(f64::from)
    };
    let same = |a: f64, b: f64| assert!((a - b).abs() < 1e-12, "{a} {b}");
    let [all, bad, inside, caught] = count(0, None);
    same(one.coverage.value, caught / bad);
    same(one.density.value, caught / inside);
    same(one.mass, inside / all);
    let [held_all, held_bad, held_inside, held_caught] = count(1, None);
    same(one.held_out.coverage.value, held_caught / held_bad);
    same(one.held_out.density.value, held_caught / held_inside);
    same(one.held_out.mass, held_inside / held_all);
    assert_eq!((one.held_out.runs as f64, one.held_out.failures as f64), (held_inside, held_caught));
    for (j, restriction) in one.restrictions.iter().enumerate() {
        let [_, _, without, caught_without] = count(0, Some(j));
        let p = beta_reg(caught, inside - caught + 1.0, caught_without / without);
        assert!((restriction.quasi_p / p - 1.0).abs() < 1e-6, "{} {p}", restriction.quasi_p);
        let [_, _, without, caught_without] = count(1, Some(j));
        same(restriction.adds.coverage_without, caught_without / held_bad);
        same(restriction.adds.density_without.unwrap(), caught_without / without);
    }
    // Replicates 1, 3, 5, 7: Student's t with 3 degrees of freedom is 3.182446.
    let shares: Vec<f64> = [1, 3, 5, 7]
        .map(|replicate| {
            let mine = (0..runs).filter(|run| run % 8 == replicate && fails[*run] == Some(true));
            let (n, caught) = mine.fold((0.0, 0.0), |(n, caught), run| {
                (n + 1.0, caught + if (0..3).all(|j| kept(j, run)) { 1.0 } else { 0.0 })
            });
            caught / n
        })
        .to_vec();
    let mean = shares.iter().sum::<f64>() / 4.0;
    let sd = (shares.iter().map(|s| (s - mean) * (s - mean)).sum::<f64>() / 3.0).sqrt();
    let half = (one.held_out.coverage.high - one.held_out.coverage.low) / 2.0;
    assert!((half - 3.182_446 * sd / 2.0).abs() < 1e-6, "{half}");
}
