//! Order statistics and quantiles of columns, exact, many ranks at once.
//!
//! A long column is not sorted. One pass counts its values into classes of
//! equal width between bounds taken from a small sample; a second gathers the
//! values of the classes that hold a wanted rank, and only these are sorted.
//! The sample decides the cost, never the answer: what it misjudges (ties,
//! heavy tails, constants) ends in one class and is selected there.

use multiversion::multiversion;
use rayon::prelude::*;

/// Below this length a column is sorted or selected whole.
const SHORT: usize = 1 << 12;
/// Values looked at to choose the bounds of the classes.
const SAMPLE: usize = 512;
/// Classes; the numbers 0..CLASSES are classes, CLASSES itself is "never or no value".
const CLASSES: usize = 2048;
/// Room for them, a power of two so that an index is masked, not checked.
const TABLE: usize = 4096;
/// Values handled between filling and reading the list of class numbers.
const STRIP: usize = 512;
/// Adding it to a small number leaves that number, rounded, in the low bits.
const TO_LOW_BITS: f64 = 4_503_599_627_370_496.0;

/// Classes of equal width: monotone in the value, which is all that exactness needs.
#[derive(Clone, Copy)]
struct Grid {
    low: f64,
    scale: f64,
}

impl Grid {
    /// Bounds near the ends of a sample spread evenly over the column (golden
    /// ratio steps, so that no pattern in the run's index lines up with it).
    fn of(values: &[f64]) -> Option<Grid> {
        const GOLDEN: u64 = 0x9E37_79B9_7F4A_7C15;
        let pick = |i: u64| ((u128::from(i.wrapping_mul(GOLDEN)) * values.len() as u128) >> 64) as usize;
        let mut sample: Vec<f64> = (1..=SAMPLE as u64)
            .filter_map(|i| values.get(pick(i)).copied())
            .filter(|x| x.is_finite())
            .collect();
        sample.sort_unstable_by(f64::total_cmp);
        let outer = sample.len() / 128;
        [outer, 0].into_iter().find_map(|skip| {
            let low = *sample.get(skip)?;
            let high = *sample.get(sample.len().checked_sub(skip + 1)?)?;
            let scale = (CLASSES - 1) as f64 / (high - low);
            (high > low && scale > 0.0 && scale < f64::INFINITY).then_some(Grid { low, scale })
        })
    }

    #[inline(always)]
    fn class(self, x: f64) -> u16 {
        let t = (x - self.low) * self.scale;
        let top = (CLASSES - 1) as f64;
        let t = if t < top { t } else { top };
        let t = if t > 0.0 { t } else { 0.0 };
        let class = (t + TO_LOW_BITS).to_bits() as u16;
        if x < f64::INFINITY { class } else { CLASSES as u16 }
    }
}

/// Counts by class, and how many values are never.
#[multiversion(targets("x86_64+avx2"))]
fn count(values: &[f64], grid: Grid) -> (Vec<u32>, u64) {
    // Two tables, so that a run of equal values does not wait for itself.
    let (mut even, mut odd) = ([0u32; TABLE], [0u32; TABLE]);
    let mut never = 0;
    let mut classes = [0u16; STRIP];
    for strip in values.chunks(STRIP) {
        for (class, &x) in classes.iter_mut().zip(strip) {
            *class = grid.class(x);
            never += u64::from(x == f64::INFINITY);
        }
        let mut pairs = classes[..strip.len()].chunks_exact(2);
        for pair in &mut pairs {
            even[usize::from(pair[0]) & (TABLE - 1)] += 1;
            odd[usize::from(pair[1]) & (TABLE - 1)] += 1;
        }
        for &class in pairs.remainder() {
            even[usize::from(class) & (TABLE - 1)] += 1;
        }
    }
    (even.iter().zip(&odd).take(CLASSES + 1).map(|(a, b)| a + b).collect(), never)
}

/// The values of the wanted classes, in the column's order.
#[multiversion(targets("x86_64+avx2"))]
fn gather(values: &[f64], grid: Grid, wanted: &[bool; TABLE], into: &mut Vec<f64>) {
    let mut classes = [0u16; STRIP];
    for strip in values.chunks(STRIP) {
        for (class, &x) in classes.iter_mut().zip(strip) {
            *class = grid.class(x);
        }
        for (&class, &x) in classes.iter().zip(strip) {
            if wanted[usize::from(class) & (TABLE - 1)] {
                into.push(x);
            }
        }
    }
}

/// Sorts as `f64::total_cmp` does, by whole numbers in that order, which is quicker.
fn sort_in_total_order(values: &mut [f64]) {
    // Negative numbers count downwards; the map is its own inverse.
    let turned = |bits: i64| bits ^ ((bits >> 63) as u64 >> 1) as i64;
    let mut keys: Vec<i64> = values.iter().map(|x| turned(x.to_bits() as i64)).collect();
    keys.sort_unstable();
    for (x, key) in values.iter_mut().zip(keys) {
        *x = f64::from_bits(turned(key) as u64);
    }
}

/// Puts every wanted rank (rising, distinct, counted from `base`) in its place.
fn select(values: &mut [f64], base: u64, ranks: &[u64]) {
    let Some(&middle) = ranks.get(ranks.len() / 2) else { return };
    if values.len() <= 256 * ranks.len() {
        sort_in_total_order(values);
        return;
    }
    let at = (middle - base) as usize;
    if at >= values.len() {
        return;
    }
    let (low, _, high) = values.select_nth_unstable_by(at, f64::total_cmp);
    let (before, after) = ranks.split_at(ranks.len() / 2);
    select(low, base, before);
    select(high, middle + 1, after.get(1..).unwrap_or_default());
}

/// A column seen by rank: NaN left out, never after every number.
pub struct Ranking<'a> {
    column: &'a [f64],
    body: Body,
    /// Finite values (-infinity counts as one).
    pub numbers: u64,
    /// Values that are never.
    pub never: u64,
    /// NaNs.
    pub without_value: u64,
}

enum Body {
    Sorted(Vec<f64>),
    Classed { grid: Grid, counts: Vec<u32> },
}

impl<'a> Ranking<'a> {
    /// One look at the column.
    pub fn of(column: &'a [f64]) -> Self {
        Self::new(column, SHORT)
    }

    /// As [`of`](Self::of), sorting the column when it has at most
    /// `sort_up_to` values: for asking very many ranks and counts of it.
    pub fn sorting(column: &'a [f64], sort_up_to: usize) -> Self {
        Self::new(column, sort_up_to)
    }

    fn new(column: &'a [f64], sort_up_to: usize) -> Self {
        let grid = if column.len() <= sort_up_to || column.len() > u32::MAX as usize {
            None
        } else {
            Grid::of(column)
        };
        match grid {
            Some(grid) => {
                let (counts, never) = count(column, grid);
                let over = counts.get(CLASSES).copied().map_or(0, u64::from);
                let numbers = column.len() as u64 - over;
                Ranking {
                    column,
                    body: Body::Classed { grid, counts },
                    numbers,
                    never,
                    without_value: over - never,
                }
            }
            None => {
                let mut sorted: Vec<f64> = column.iter().copied().filter(|&x| x < f64::INFINITY).collect();
                sort_in_total_order(&mut sorted);
                let never = column.iter().filter(|&&x| x == f64::INFINITY).count() as u64;
                let numbers = sorted.len() as u64;
                let without_value = column.len() as u64 - numbers - never;
                Ranking { column, body: Body::Sorted(sorted), numbers, never, without_value }
            }
        }
    }

    /// Runs that have a value.
    pub fn with_value(&self) -> u64 {
        self.numbers + self.never
    }

    /// The values of 0-based `ranks`, in the order asked: never above the
    /// numbers, NaN beyond the last.
    pub fn at(&self, ranks: &[u64]) -> Vec<f64> {
        let mut wanted: Vec<u64> = ranks.iter().copied().filter(|&r| r < self.numbers).collect();
        wanted.sort_unstable();
        wanted.dedup();
        let found = self.numbers_at(&wanted);
        let value = |&rank: &u64| {
            if rank >= self.with_value() {
                f64::NAN
            } else if rank >= self.numbers {
                f64::INFINITY
            } else {
                wanted.binary_search(&rank).ok().and_then(|i| found.get(i).copied()).unwrap_or(f64::NAN)
            }
        };
        ranks.iter().map(value).collect()
    }

    /// Values of rising, distinct ranks below `numbers`.
    fn numbers_at(&self, ranks: &[u64]) -> Vec<f64> {
        let pick = |from: &[f64], at: u64| from.get(at as usize).copied().unwrap_or(f64::NAN);
        match &self.body {
            Body::Sorted(sorted) => ranks.iter().map(|&r| pick(sorted, r)).collect(),
            Body::Classed { grid, counts } => {
                let mut wanted = [false; TABLE];
                let (mut places, mut room) = (Vec::with_capacity(ranks.len()), 0);
                let (mut passed, mut left_out) = (0, 0);
                let mut rest = ranks;
                for (&n, wanted) in counts.iter().take(CLASSES).zip(&mut wanted) {
                    let (before, n) = (passed, u64::from(n));
                    passed += n;
                    let here = rest.partition_point(|&r| r < before + n);
                    let (these, later) = rest.split_at(here);
                    rest = later;
                    if these.is_empty() {
                        left_out += n;
                    } else {
                        *wanted = true;
                        room += n as usize;
                        places.extend(these.iter().map(|&r| r - left_out));
                    }
                }
                let mut gathered = Vec::with_capacity(room);
                gather(self.column, *grid, &wanted, &mut gathered);
                select(&mut gathered, 0, &places);
                places.iter().map(|&at| pick(&gathered, at)).collect()
            }
        }
    }

    /// How many numbers lie below each of the rising `edges`.
    pub fn below(&self, edges: &[f64]) -> Vec<u64> {
        self.counts_up_to(edges, |x, edge| x < edge)
    }

    /// How many numbers do not lie above each of the rising `values`.
    pub fn not_above(&self, values: &[f64]) -> Vec<u64> {
        self.counts_up_to(values, |x, edge| x <= edge)
    }

    fn counts_up_to(&self, edges: &[f64], counts: impl Fn(f64, f64) -> bool) -> Vec<u64> {
        if let Body::Sorted(sorted) = &self.body {
            return edges.iter().map(|&e| sorted.partition_point(|&x| counts(x, e)) as u64).collect();
        }
        let Body::Classed { grid, counts: in_class } = &self.body else { return Vec::new() };
        // Numbers of an earlier class than an edge's lie below the edge, those of a later one above it: only the
        // classes that hold an edge are looked at one by one.
        let class = |e: f64| usize::from(grid.class(e)).min(CLASSES);
        let mut wanted = [false; TABLE];
        edges.iter().for_each(|&e| wanted[class(e)] = true);
        wanted[CLASSES] = false;
        let mut gathered = Vec::new();
        gather(self.column, *grid, &wanted, &mut gathered);
        // Each number once, at the first edge that counts it; then running sums.
        let mut all = vec![0u64; edges.len() + 1];
        let mut first = 0;
        for (k, &n) in in_class.iter().enumerate().take(CLASSES).filter(|(k, _)| !wanted[*k]) {
            while edges.get(first).is_some_and(|&e| class(e) < k) {
                first += 1;
            }
            all[first] += u64::from(n);
        }
        for x in gathered {
            all[edges.partition_point(|&e| !counts(x, e))] += 1;
        }
        all.pop();
        let mut sum = 0;
        for n in &mut all {
            sum += *n;
            *n = sum;
        }
        all
    }

    /// Quantiles of type 7 of all runs that have a value; never ranks last,
    /// and a quantile that gives any weight to a never is never. NaN without
    /// any value or for a `p` outside 0 to 1.
    pub fn quantiles(&self, ps: &[f64]) -> Vec<f64> {
        let n = self.with_value();
        let ranks: Vec<u64> = ps.iter().flat_map(|&p| Place::of(p, n).ranks()).collect();
        let found = self.at(&ranks);
        ps.iter().zip(found.chunks_exact(2)).map(|(&p, pair)| Place::of(p, n).between(pair)).collect()
    }
}

/// Where the `p`-quantile of type 7 lies among n: h = (n - 1) p, between the
/// values of ranks floor(h) and floor(h) + 1 (Hyndman, Fan 1996, *Sample
/// quantiles in statistical packages*).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// 0-based rank of the lower neighbour; none without values or for a `p` out of range.
    pub rank: Option<u64>,
    /// Share of the way to the next rank; exactly 0 where the rank alone decides.
    pub share: f64,
}

impl Place {
    /// The place among `n` values.
    pub fn of(p: f64, n: u64) -> Place {
        if n == 0 || !(0.0..=1.0).contains(&p) {
            return Place { rank: None, share: 0.0 };
        }
        let h = (n - 1) as f64 * p;
        let whole = h.round();
        // A p such as 0.9 is no binary number: h may miss its whole number by
        // a rounding, which must not bring in a neighbour that is never.
        if (h - whole).abs() <= 4.0 * f64::EPSILON * h {
            return Place { rank: Some(whole as u64), share: 0.0 };
        }
        Place { rank: Some(h.floor() as u64), share: h - h.floor() }
    }

    /// The two ranks (the same twice where one alone decides).
    pub(super) fn ranks(self) -> [u64; 2] {
        match self.rank {
            None => [u64::MAX; 2],
            Some(r) => [r, if self.share > 0.0 { r + 1 } else { r }],
        }
    }

    /// The value between those of the two ranks.
    pub(super) fn between(self, pair: &[f64]) -> f64 {
        match *pair {
            [this, _] if self.share == 0.0 => this,
            // No arithmetic with an infinity: infinity times zero is no number.
            [this, next] if this.is_infinite() || next.is_infinite() => {
                if next.is_infinite() {
                    next
                } else {
                    this
                }
            }
            // The second form keeps neighbours of opposite sign and any size from overflowing.
            [this, next] if (next - this).is_finite() => this + self.share * (next - this),
            [this, next] => (1.0 - self.share) * this + self.share * next,
            _ => f64::NAN,
        }
    }
}

/// The values of 0-based `ranks` among the values that are not NaN, in the
/// order asked. NaN beyond the last.
pub fn order_statistics(values: &[f64], ranks: &[u64]) -> Vec<f64> {
    Ranking::of(values).at(ranks)
}

/// Quantiles of type 7, see [`Ranking::quantiles`].
///
/// # Example: payback years, three of ten never
/// ```
/// use payspread::analysis::statistics::quantiles::quantiles;
/// let never = f64::INFINITY;
/// let years = [7.5, never, 9.2, 4.1, never, 6.6, 12.3, never, 5.0, 8.8];
/// assert_eq!(quantiles(&years, &[0.5, 0.9]), [9.0, never]);
/// ```
pub fn quantiles(values: &[f64], ps: &[f64]) -> Vec<f64> {
    Ranking::of(values).quantiles(ps)
}

/// [`quantiles`] of each column, columns in parallel.
pub fn quantiles_of_columns(columns: &[&[f64]], ps: &[f64]) -> Vec<Vec<f64>> {
    columns.par_iter().map(|column| quantiles(column, ps)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// By sorting everything.
    fn plain(values: &[f64], ranks: &[u64]) -> Vec<f64> {
        let mut all: Vec<f64> = values.iter().copied().filter(|x| !x.is_nan()).collect();
        all.sort_by(f64::total_cmp);
        ranks.iter().map(|&r| all.get(r as usize).copied().unwrap_or(f64::NAN)).collect()
    }

    fn same(a: &[f64], b: &[f64]) -> bool {
        a.len() == b.len()
            && a.iter().zip(b).all(|(x, y)| x.to_bits() == y.to_bits() || x.is_nan() && y.is_nan())
    }

    /// Columns of many sorts, longer than [`SHORT`], by a small generator.
    fn column(sort: u8, n: usize, seed: u64) -> Vec<f64> {
        let mut state = seed | 1;
        let mut next = || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 11) as f64 / (1u64 << 53) as f64
        };
        let one = |i: usize, u: f64, v: f64| match sort {
            0 => u,
            1 => 7.25,
            2 => f64::INFINITY,
            3 => (u * 5.0).floor(),
            4 => {
                if u < 0.4 {
                    f64::INFINITY
                } else if u < 0.5 {
                    f64::NAN
                } else {
                    v * 20.0
                }
            }
            5 => 1.0 / (u - 0.5),
            6 => libm::exp(600.0 * (u - 0.5)) * if v < 0.5 { -1.0 } else { 1.0 },
            7 => {
                if u < 0.99 {
                    0.0
                } else {
                    v - 0.5
                }
            }
            8 => i as f64,
            9 => f64::from_bits(u.to_bits() ^ (v * 1e18) as u64),
            10 => {
                if i.is_multiple_of(8) {
                    1e300
                } else {
                    u
                }
            }
            11 => {
                if u < 0.5 {
                    -0.0
                } else {
                    0.0
                }
            }
            _ => {
                if u < 0.1 {
                    f64::NEG_INFINITY
                } else {
                    f64::MAX * (v - 0.5)
                }
            }
        };
        (0..n).map(|i| one(i, next(), next())).collect()
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(150))]
        #[test]
        fn as_by_sorting(
            sort in 0u8..=12,
            n in prop_oneof![1usize..200, 4000usize..30_000],
            seed in any::<u64>(),
            shares in prop::collection::vec(0.0..1.02f64, 0..24),
        ) {
            let values = column(sort, n, seed);
            let ranks: Vec<u64> = shares.iter().map(|s| (s * n as f64) as u64).collect();
            let found = order_statistics(&values, &ranks);
            prop_assert!(same(&found, &plain(&values, &ranks)), "{found:?}");
        }

        #[test]
        fn counts_as_by_counting(sort in 0u8..=12, n in 4000usize..9000, seed in any::<u64>()) {
            let values = column(sort, n, seed);
            let mut edges = [-1.0, 0.0, 0.5, 2.0, 7.25, 1e6];
            edges.sort_by(f64::total_cmp);
            let count = |of: &dyn Fn(f64, f64) -> bool| -> Vec<u64> {
                edges.iter().map(|&e| {
                    values.iter().filter(|&&x| x < f64::INFINITY && of(x, e)).count() as u64
                }).collect()
            };
            for sort_up_to in [0, usize::MAX] {
                let ranking = Ranking::sorting(&values, sort_up_to);
                prop_assert_eq!(ranking.below(&edges), count(&|x, e| x < e));
                prop_assert_eq!(ranking.not_above(&edges), count(&|x, e| x <= e));
                prop_assert_eq!(ranking.numbers, values.iter().filter(|&&x| x < f64::INFINITY).count() as u64);
                prop_assert_eq!(ranking.without_value, values.iter().filter(|x| x.is_nan()).count() as u64);
            }
        }
    }

    #[test]
    fn the_place_of_a_decimal_is_its_own() {
        // 0.29 x 100 is 28.999999999999996 in binary.
        for (p, n, rank) in [(0.7, 1011, 707), (0.29, 101, 29), (0.9, 11, 9), (1.0, 5, 4), (0.0, 5, 0)] {
            assert_eq!(Place::of(p, n), Place { rank: Some(rank), share: 0.0 }, "{p} of {n}");
        }
        assert_eq!(Place::of(0.5, 0).rank, None);
    }

    #[test]
    fn no_values_no_quantile() {
        assert!(quantiles(&[], &[0.5])[0].is_nan());
        assert!(quantiles(&[f64::NAN], &[0.5])[0].is_nan());
        assert!(quantiles(&[1.0], &[1.5])[0].is_nan());
        assert_eq!(quantiles(&[-f64::MAX, f64::MAX], &[0.5]), [0.0]);
    }
}
