//! The terms that gains are regressed on: a constant, straight lines, curves
//! and products.
//!
//! A curve is a natural cubic spline: straight beyond its outermost knots, so
//! that few runs far out cannot bend it (Hastie, Tibshirani, Friedman 2009,
//! *The Elements of Statistical Learning*, 5.2.1). Lines come first, then
//! curves, then products: the fit takes each term for what the earlier ones
//! leave over.

use super::classes::distinct;
use super::runs::mean;

/// Runs handled in one go.
pub(super) const BLOCK: usize = 64;
/// Terms are at most this many, and at most one for so many runs.
const MOST_TERMS: usize = 72;
const RUNS_A_TERM: usize = 40;
/// A discrete column with at most this many values gets a line for each but the first.
const MOST_VALUES: usize = 6;
/// Knots are laid by this many runs, the first: of Sobol points a stretch from the start is balanced, every tenth is not.
const KNOTS_BY: usize = 1024;

/// A column as the regression sees it.
#[derive(Clone)]
enum Line {
    /// (x - mean) / sd.
    Scaled { column: usize, mean: f64, scale: f64 },
    /// 1 where the column has this value.
    Is { column: usize, value: f64 },
}

/// A spline's knots along a line.
struct Curve {
    line: usize,
    knots: Vec<f64>,
}

/// All terms of a subject, the constant first.
pub(super) struct Terms {
    lines: Vec<Line>,
    curves: Vec<Curve>,
    /// Each the product of two earlier terms, by place.
    products: Vec<(usize, usize)>,
    /// How many terms, with the constant.
    pub(super) count: usize,
}

impl Terms {
    /// Terms for these columns; `gains` tell which columns matter most when not all products can be had.
    pub(super) fn of(columns: &[Vec<f64>], discrete: &[bool], gains: &[Vec<f64>]) -> Terms {
        let n = columns.first().map_or(0, Vec::len);
        let most = MOST_TERMS.min(n / RUNS_A_TERM).max(2);
        let mut lines: Vec<(Line, f64)> = Vec::new();
        for (k, column) in columns.iter().enumerate() {
            for line in lines_of(k, column, discrete.get(k).copied().unwrap_or(false)) {
                // A single line needs no rank.
                let weight = if columns.len() > 1 { weight(&line, column, gains) } else { 0.0 };
                lines.push((line, weight));
            }
        }
        // A stable sort: equals stay in their order.
        let mut order: Vec<usize> = (0..lines.len()).collect();
        order.sort_by(|&a, &b| lines[b].1.total_cmp(&lines[a].1));
        order.truncate(most - 1);
        let lines: Vec<Line> =
            order.iter().filter_map(|&k| lines.get(k)).map(|(line, _)| line.clone()).collect();
        let mut terms = Terms { count: 1 + lines.len(), lines, curves: Vec::new(), products: Vec::new() };
        terms.add_curves(columns, most);
        terms.add_products(most);
        terms
    }

    fn add_curves(&mut self, columns: &[Vec<f64>], most: usize) {
        let wanted = match self.lines.len() {
            1 => 12,
            2 => 5,
            3 => 4,
            4 | 5 => 3,
            6..=8 => 2,
            _ => 1,
        };
        for (k, line) in self.lines.iter().enumerate() {
            let Line::Scaled { column, mean, scale } = *line else { continue };
            let bends = wanted.min(most.saturating_sub(self.count));
            let knots = knots(&columns[column], mean, scale, bends + 2);
            if bends > 0 && knots.len() > 2 {
                self.count += knots.len() - 2;
                self.curves.push(Curve { line: k, knots });
            }
        }
    }

    /// Products of lines of different columns, the weightiest first; with few lines also those of three, and of a line
    /// with another's first bend.
    fn add_products(&mut self, most: usize) {
        let n = self.lines.len();
        let apart = |a: usize, b: usize| self.lines[a].column() != self.lines[b].column();
        let mut pairs: Vec<(usize, usize)> =
            (0..n).flat_map(|b| (0..b).map(move |a| (a, b))).filter(|&(a, b)| apart(a, b)).collect();
        // Lines are in order of weight: pairs of the first come first.
        pairs.sort_by_key(|&(a, b)| ((a + 1) * (b + 1), b));
        pairs.truncate(most.saturating_sub(self.count));
        let first_pair = self.count;
        let mut products: Vec<(usize, usize)> = pairs.iter().map(|&(a, b)| (1 + a, 1 + b)).collect();
        if n <= 5 {
            for (k, &(_, b)) in pairs.iter().enumerate() {
                products.extend((b + 1..n).filter(|&c| apart(b, c)).map(|c| (first_pair + k, 1 + c)));
            }
        }
        if n <= 3 {
            let mut at = 1 + n;
            for curve in &self.curves {
                let others = (0..n).filter(|&k| apart(k, curve.line));
                products.extend(others.map(|k| (at, 1 + k)));
                at += curve.knots.len() - 2;
            }
        }
        products.truncate(most.saturating_sub(self.count));
        self.count += products.len();
        self.products = products;
    }

    /// Writes the terms of the runs `from..from + rows` into rows of length `stride`.
    pub(super) fn fill(
        &self,
        columns: &[Vec<f64>],
        from: usize,
        rows: usize,
        stride: usize,
        out: &mut [f64],
    ) {
        let mut set = |place: usize, values: &[f64; BLOCK]| {
            for (k, x) in values[..rows].iter().enumerate() {
                out[k * stride + place] = *x;
            }
        };
        set(0, &[1.0; BLOCK]);
        let mut curves = self.curves.iter().peekable();
        let mut at = 1 + self.lines.len();
        for (k, line) in self.lines.iter().enumerate() {
            let own = line.values(columns, from, rows);
            set(1 + k, &own);
            if let Some(curve) = curves.next_if(|curve| curve.line == k) {
                curve.bends(&own, |bend| {
                    set(at, bend);
                    at += 1;
                });
            }
        }
        for row in out.chunks_exact_mut(stride).take(rows) {
            for (k, &(a, b)) in self.products.iter().enumerate() {
                row[at + k] = row[a] * row[b];
            }
        }
    }
}

impl Line {
    fn column(&self) -> usize {
        match self {
            Line::Scaled { column, .. } | Line::Is { column, .. } => *column,
        }
    }

    fn values(&self, columns: &[Vec<f64>], from: usize, rows: usize) -> [f64; BLOCK] {
        let mut out = [0.0; BLOCK];
        let own = &columns[self.column()][from..from + rows];
        match *self {
            Line::Scaled { mean, scale, .. } => {
                out.iter_mut().zip(own).for_each(|(o, x)| *o = (x - mean) * scale);
            }
            Line::Is { value, .. } => {
                out.iter_mut().zip(own).for_each(|(o, x)| *o = f64::from(u8::from(*x == value)));
            }
        }
        out
    }
}

impl Curve {
    /// Each bend of the natural spline at the values of a line.
    fn bends(&self, z: &[f64; BLOCK], mut give: impl FnMut(&[f64; BLOCK])) {
        let [inner @ .., before, last] = self.knots.as_slice() else { return };
        let (mut beyond, mut end, mut bend) = ([0.0; BLOCK], [0.0; BLOCK], [0.0; BLOCK]);
        bend_all(z, *last, 1.0, &[0.0; BLOCK], &[0.0; BLOCK], &mut beyond);
        bend_all(z, *before, 1.0 / (last - before), &beyond, &[0.0; BLOCK], &mut end);
        for knot in inner {
            bend_all(z, *knot, 1.0 / (last - knot), &beyond, &end, &mut bend);
            give(&bend);
        }
    }
}

/// d_k - d_(last but one), where d_k = (max(z - t_k, 0)^3 - max(z - t_last, 0)^3) / (t_last - t_k): the cubes of the last
/// knot are `beyond`, d of the last but one is `end`.
#[multiversion::multiversion(targets("x86_64+avx2"))]
fn bend_all(
    z: &[f64; BLOCK],
    knot: f64,
    over: f64,
    beyond: &[f64; BLOCK],
    end: &[f64; BLOCK],
    out: &mut [f64; BLOCK],
) {
    for (k, out) in out.iter_mut().enumerate() {
        let x = if z[k] > knot { z[k] - knot } else { 0.0 };
        *out = (x * x * x - beyond[k]) * over - end[k];
    }
}

/// The lines of a column: none for a constant.
fn lines_of(k: usize, column: &[f64], discrete: bool) -> Vec<Line> {
    if let Some(values) = distinct(column, MOST_VALUES).filter(|v| v.len() < 2 || discrete) {
        return values.iter().skip(1).map(|&value| Line::Is { column: k, value }).collect();
    }
    let mean = mean(column);
    let square: f64 = column.iter().map(|x| (x - mean) * (x - mean)).sum();
    let sd = (square / column.len() as f64).sqrt();
    if sd.is_finite() && sd > 1e-12 * mean.abs() {
        vec![Line::Scaled { column: k, mean, scale: 1.0 / sd }]
    } else {
        Vec::new()
    }
}

/// The largest squared correlation of a line with a gain.
fn weight(line: &Line, column: &[f64], gains: &[Vec<f64>]) -> f64 {
    let value = |x: f64| match *line {
        Line::Scaled { mean, scale, .. } => (x - mean) * scale,
        Line::Is { value, .. } => f64::from(u8::from(x == value)),
    };
    let n = column.len() as f64;
    let of_gain = |gain: &Vec<f64>| {
        let (mut x, mut xx, mut y, mut yy, mut xy) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for (&c, &g) in column.iter().zip(gain) {
            let v = value(c);
            x += v;
            xx += v * v;
            y += g;
            yy += g * g;
            xy += v * g;
        }
        let (covariance, both) = (xy - x * y / n, (xx - x * x / n) * (yy - y * y / n));
        if both > 0.0 { covariance * covariance / both } else { 0.0 }
    };
    gains.iter().map(of_gain).fold(0.0, f64::max)
}

/// Knots at even shares between the first and last hundredth, on the scale of the line; fewer where values repeat.
fn knots(column: &[f64], mean: f64, scale: f64, count: usize) -> Vec<f64> {
    let mut some: Vec<f64> = column.iter().copied().take(KNOTS_BY).collect();
    some.sort_unstable_by(f64::total_cmp);
    let share = |k: usize| 0.004 + 0.992 * k as f64 / (count - 1).max(1) as f64;
    let at = |k: usize| some[(share(k) * (some.len() - 1) as f64).round() as usize];
    let mut knots: Vec<f64> = (0..count).map(|k| (at(k) - mean) * scale).collect();
    knots.dedup_by(|b, a| (*b - *a).abs() < 1e-3);
    knots
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grid(n: usize) -> Vec<f64> {
        (0..n).map(|k| k as f64 / n as f64).collect()
    }

    /// Beyond the outermost knots a natural spline is straight; between them it bends.
    #[test]
    fn bends_are_straight_outside() {
        let curve = Curve { line: 0, knots: vec![-1.0, -0.2, 0.5, 1.0] };
        let mut z = [0.0; BLOCK];
        for (k, z) in z.iter_mut().enumerate() {
            *z = -3.2 + 0.1 * k as f64;
        }
        let mut seen = 0;
        curve.bends(&z, |d| {
            seen += 1;
            let mut bent = false;
            for k in 1..BLOCK - 1 {
                let bend = d[k - 1] - 2.0 * d[k] + d[k + 1];
                if z[k + 1] < -0.999 || z[k - 1] > 1.001 {
                    assert!(bend.abs() < 1e-9, "bend {bend} at {}", z[k]);
                }
                bent |= bend.abs() > 1e-3;
            }
            assert!(bent);
        });
        assert_eq!(seen, 2);
    }

    /// Every term is at its place: products are those of the terms they name, and nothing is written twice.
    #[test]
    fn rows_hold_all_terms() {
        let columns = [grid(400), grid(400).iter().map(|x| x * x * 7.0).collect(), vec![2.0; 400]];
        let two: Vec<f64> = (0..400).map(|k| f64::from(u8::from(k % 3 == 0))).collect();
        let columns: Vec<Vec<f64>> = columns.into_iter().chain([two]).collect();
        let terms = Terms::of(&columns, &[false, false, false, true], &[grid(400)]);
        assert_eq!(terms.lines.len(), 3, "a constant column has no line");
        assert_eq!(terms.count, 10, "one for forty runs");
        let stride = terms.count + 2;
        let mut rows = vec![f64::NAN; BLOCK * stride];
        terms.fill(&columns, 64, BLOCK, stride, &mut rows);
        for row in rows.chunks_exact(stride) {
            assert!(row[..terms.count].iter().all(|x| x.is_finite()));
            assert!(row[terms.count..].iter().all(|x| x.is_nan()));
            let first = terms.count - terms.products.len();
            for (k, &(a, b)) in terms.products.iter().enumerate() {
                assert_eq!(row[first + k], row[a] * row[b]);
            }
        }
    }

    #[test]
    fn terms_are_limited() {
        let columns: Vec<Vec<f64>> =
            (1..=25).map(|k| (0..8000).map(|r| ((r * (2 * k + 1)) % 8009) as f64).collect()).collect();
        let terms = Terms::of(&columns, &[false; 25], &[columns[24].clone()]);
        assert!(terms.count == MOST_TERMS && terms.lines.len() == 25 && terms.curves.len() == 25);
        assert_eq!(terms.lines[0].column(), 24, "the weightiest line comes first");
        assert_eq!(Terms::of(&columns[..1], &[false], &columns[1..2]).count, 14);
    }
}
