//! What a result hangs on, one at a time: its span when one input goes from
//! its P10 to its P90, all else at base (methods: span; the caution under it
//! is that of Saltelli and Annoni, 2010).

use crate::analysis::{Figure, Tornado, TornadoRow};
use crate::engine::block::Runs;
use crate::engine::graph::{Graph, NodeId};
use crate::engine::program::Program;

/// One input (or path) and the leaf values that move it.
pub struct Mover {
    /// Name.
    pub name: String,
    /// Plain name.
    pub label: String,
    /// Unit.
    pub unit: String,
    /// Its low, lower quartile, upper quartile and high course: values for leaves, all others at base.
    pub courses: Courses,
    /// How the low end is written.
    pub low_input: String,
    /// How the high end is written.
    pub high_input: String,
}

/// Leaf values of a mover.
pub enum Courses {
    /// P10, P25, P75, P90 in order.
    Ordered([Vec<(u32, f64)>; 4]),
    /// Values without an order (labels), with how each is written: the two that give the least and the most are shown.
    Unordered(Vec<(Vec<(u32, f64)>, String)>),
}

/// The result that spans are of.
pub struct Target {
    /// Name.
    pub name: String,
    /// Plain name.
    pub label: String,
    /// Unit.
    pub unit: String,
    /// Base units in one such unit.
    pub scale: f64,
    /// Threshold, in its unit.
    pub threshold: Option<f64>,
    /// Its node.
    pub node: NodeId,
}

/// Spans of `target` over each mover, largest first; a side that is never comes before all numbers.
pub fn tornado(
    graph: &Graph,
    base_leaves: &[f64],
    target: &Target,
    movers: &[Mover],
    notes: Vec<String>,
) -> Tornado {
    let points: Vec<&[(u32, f64)]> =
        std::iter::once(&[][..]).chain(movers.iter().flat_map(Mover::points)).collect();
    let values = results_at(graph, base_leaves, target, &points);
    let base = values.first().copied().unwrap_or(f64::NAN);
    let mut at = 1;
    let mut rows = Vec::with_capacity(movers.len());
    for mover in movers {
        let n = mover.points().count();
        if let Some(row) = row_of(mover, base, &values[at..at + n]) {
            rows.push(row);
        }
        at += n;
    }
    // A stable sort: ties keep file order.
    rows.sort_by(|(_, a), (_, b)| b.partial_cmp(a).unwrap_or(std::cmp::Ordering::Equal));
    Tornado {
        result: target.name.clone(),
        label: target.label.clone(),
        unit: target.unit.clone(),
        base: Figure::of(base),
        threshold: target.threshold,
        rows: rows.into_iter().map(|(row, _)| row).collect(),
        notes,
    }
}

impl Mover {
    fn points(&self) -> Box<dyn Iterator<Item = &[(u32, f64)]> + '_> {
        match &self.courses {
            Courses::Ordered(points) => Box::new(points.iter().map(Vec::as_slice)),
            Courses::Unordered(points) => Box::new(points.iter().map(|(leaves, _)| leaves.as_slice())),
        }
    }
}

/// The target at each point, all in one block: as many columns as points.
fn results_at(graph: &Graph, base: &[f64], target: &Target, points: &[&[(u32, f64)]]) -> Vec<f64> {
    let n = points.len();
    let moved = |leaf: u32| points.iter().any(|point| point.iter().any(|&(l, _)| l == leaf));
    let program = Program::cone(graph, moved, &[target.node]);
    let columns: Vec<Vec<f64>> = base
        .iter()
        .enumerate()
        .map(|(leaf, &value)| {
            let at = |point: &&[(u32, f64)]| {
                point.iter().find(|(l, _)| *l as usize == leaf).map_or(value, |p| p.1)
            };
            points.iter().map(at).collect()
        })
        .collect();
    let leaves: Vec<&[f64]> = columns.iter().map(Vec::as_slice).collect();
    let mut frame = program.frame(n);
    for stage in 0..program.n_stages() {
        program.execute(stage, &mut frame, &leaves, Runs::of_base_case(n));
    }
    let mut values = vec![0.0; n];
    program.copy_wanted(0, &frame, &leaves, &mut values);
    values.iter().map(|v| v / target.scale).collect()
}

/// The row and what it is ordered by: never ends first, then the range over low, base and high.
fn row_of(mover: &Mover, base: f64, values: &[f64]) -> Option<(TornadoRow, (usize, f64))> {
    let (low, high, quartiles, low_input, high_input) = match &mover.courses {
        Courses::Ordered(_) => {
            let [low, q1, q3, high] = *values else { return None };
            let one_sided = (low > base && high > base) || (low < base && high < base);
            let quartiles = one_sided.then(|| (Figure::of(q1), Figure::of(q3)));
            (low, high, quartiles, mover.low_input.clone(), mover.high_input.clone())
        }
        Courses::Unordered(points) => {
            let order = |a: &usize, b: &usize| values[*a].total_cmp(&values[*b]);
            let least = (0..values.len()).min_by(order)?;
            let most = (0..values.len()).max_by(order)?;
            (values[least], values[most], None, points[least].1.clone(), points[most].1.clone())
        }
    };
    let finite: Vec<f64> = [low, base, high].into_iter().filter(|x| x.is_finite()).collect();
    let range = finite.iter().copied().fold(f64::NEG_INFINITY, f64::max)
        - finite.iter().copied().fold(f64::INFINITY, f64::min);
    let range = if finite.is_empty() { 0.0 } else { range };
    let never_ends = [low, high].iter().filter(|x| **x == f64::INFINITY).count();
    let row = TornadoRow {
        name: mover.name.clone(),
        label: mover.label.clone(),
        unit: mover.unit.clone(),
        low_input,
        high_input,
        low: Figure::of(low),
        high: Figure::of(high),
        quartiles,
        span: range,
        span_is_lower_bound: never_ends == 1 || (never_ends == 2 && base.is_finite()),
    };
    Some((row, (usize::from(never_ends > 0), range)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::ops::{Binary, Unary};

    fn mover(name: &str, leaf: u32, values: [f64; 4]) -> Mover {
        Mover {
            name: name.into(),
            label: name.into(),
            unit: String::new(),
            courses: Courses::Ordered(values.map(|v| vec![(leaf, v)])),
            low_input: String::new(),
            high_input: String::new(),
        }
    }

    /// f = a - b^2 + ln(c), base (1, 0, 1): spans by hand.
    #[test]
    fn spans_by_hand() {
        let mut graph = Graph::new();
        let (a, b, c) = (graph.leaf(0), graph.leaf(1), graph.leaf(2));
        let square = graph.times(b, b);
        let log = graph.unary(Unary::Ln, c);
        let less = graph.binary(Binary::Subtract, a, square);
        let node = graph.add_up(less, log);
        let target = Target {
            name: "f".into(),
            label: "f".into(),
            unit: String::new(),
            scale: 1.0,
            threshold: None,
            node,
        };
        let movers = [
            mover("a", 0, [0.5, 0.8, 1.5, 2.0]),
            mover("b", 1, [-2.0, -1.0, 1.0, 2.0]),
            mover("c", 2, [1.0, 1.0, 1.0, f64::INFINITY]),
        ];
        let t = tornado(&graph, &[1.0, 0.0, 1.0], &target, &movers, Vec::new());
        let names: Vec<&str> = t.rows.iter().map(|r| r.name.as_str()).collect();
        assert_eq!(names, ["c", "b", "a"], "an end at never comes first, then by range");
        assert_eq!(t.base, Figure::Number(1.0));
        assert_eq!(t.rows[0].high, Figure::Never);
        assert!(t.rows[0].span_is_lower_bound);
        assert_eq!(
            (t.rows[1].low, t.rows[1].high, t.rows[1].span),
            (Figure::Number(-3.0), Figure::Number(-3.0), 4.0)
        );
        assert_eq!(
            t.rows[1].quartiles,
            Some((Figure::Number(0.0), Figure::Number(0.0))),
            "both ends below base"
        );
        assert_eq!(t.rows[2].span, 1.5);
        assert_eq!(t.rows[2].quartiles, None);
    }
}
