//! Answers made by simple formulas, for tests of the charts and of the
//! report: a surplus controller in a home, near the edge of paying.

use crate::analysis::*;

/// Runs behind the made-up answers.
pub(crate) const RUNS: u64 = 16_384;

/// sqrt(ln(40) / 2 / RUNS).
const WITHIN: f64 = 0.0106;

const P: [f64; 9] = [0.01, 0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95, 0.99];
/// Standard normal quantiles of P (tables).
const Z: [f64; 9] = [-2.3263, -1.6449, -1.2816, -0.6745, 0.0, 0.6745, 1.2816, 1.6449, 2.3263];

fn phi(z: f64) -> f64 {
    0.5 * libm::erfc(-z / std::f64::consts::SQRT_2)
}

pub(crate) fn share(value: f64) -> Share {
    let half = 1.96 * (value * (1.0 - value) / RUNS as f64).sqrt();
    Share {
        value,
        low: (value - half).max(0.0),
        high: (value + half).min(1.0),
        interval: Interval::Replicates,
    }
}

fn about(value: f64, half: f64) -> Estimate {
    Estimate {
        value: Figure::Number(value),
        low: Some(Figure::Number(value - half)),
        high: Some(Figure::Number(value + half)),
        interval: Interval::Replicates,
    }
}

fn never() -> Estimate {
    let end = Some(Figure::Never);
    Estimate { value: Figure::Never, low: end, high: end, interval: Interval::OrderStatistics }
}

/// A normal result: mean, sd, and the share at or above a threshold.
pub(crate) fn normal(
    name: &str,
    label: &str,
    unit: &str,
    mean: f64,
    sd: f64,
    at_least: Option<f64>,
) -> Summary {
    let n = RUNS as f64;
    let edges: Vec<f64> = (0..=40).map(|i| mean + sd * (-2.6 + 5.2 * f64::from(i) / 40.0)).collect();
    let counts = edges
        .windows(2)
        .map(|e| (n * (phi((e[1] - mean) / sd) - phi((e[0] - mean) / sd))).round() as u64)
        .collect();
    let tail = (n * phi(-2.6)).round() as u64;
    let cumulative = (0..=200)
        .map(|i| {
            let z = -3.0 + 6.0 * f64::from(i) / 200.0;
            (mean + sd * z, phi(z))
        })
        .collect();
    Summary {
        name: name.into(),
        label: label.into(),
        unit: unit.into(),
        kind: ResultKind::Number,
        base: Figure::Number(mean - 0.2 * sd),
        base_rank: Some(share(phi(-0.2))),
        runs: RUNS,
        without_value: 0,
        mean: Some(about(mean, 1.96 * sd / n.sqrt())),
        sd: Some(about(sd, 1.4 * sd / n.sqrt())),
        percentiles: P
            .iter()
            .zip(Z)
            .map(|(&p, z)| Percentile { p, estimate: about(mean + sd * z, 3.0 * sd / n.sqrt()) })
            .collect(),
        never: None,
        success: at_least.map(|threshold| Success {
            rule: format!("at least {threshold} {unit}"),
            threshold: Some(threshold),
            good_above: true,
            share: share(phi((mean - threshold) / sd)),
        }),
        histogram: Histogram { edges, counts, below: tail, above: tail, never: 0 },
        cumulative,
        cumulative_within: WITHIN,
    }
}

/// Share paid back by the end of year t: a Weibull curve that reaches `by_end` at `years`.
pub(crate) fn paid_back(t: f64, years: f64, by_end: f64) -> f64 {
    let part = |t: f64| 1.0 - libm::exp(-libm::pow(t / 9.0, 2.2));
    by_end * part(t) / part(years)
}

/// The year by which a share has paid back, by bisection.
fn payback_at(p: f64, years: f64, by_end: f64) -> Option<f64> {
    if p >= by_end {
        return None;
    }
    let (mut low, mut high) = (0.0, years);
    for _ in 0..60 {
        let middle = (low + high) / 2.0;
        if paid_back(middle, years, by_end) < p { low = middle } else { high = middle }
    }
    Some(high)
}

pub(crate) fn payback(years: f64, by_end: f64) -> Summary {
    let n = RUNS as f64;
    let classes = 40;
    let edge = |i: usize| years * i as f64 / classes as f64;
    let at = |t: f64| paid_back(t, years, by_end);
    Summary {
        name: "payback".into(),
        label: "Payback".into(),
        unit: "yr".into(),
        kind: ResultKind::Years,
        base: Figure::Number(10.4),
        base_rank: Some(share(at(10.4))),
        runs: RUNS,
        without_value: 0,
        mean: None,
        sd: None,
        percentiles: P
            .iter()
            .map(|&p| Percentile {
                p,
                estimate: payback_at(p, years, by_end).map_or_else(never, |x| about(x, 0.08)),
            })
            .collect(),
        never: Some(share(1.0 - by_end)),
        success: None,
        histogram: Histogram {
            edges: (0..=classes).map(edge).collect(),
            counts: (0..classes).map(|i| (n * (at(edge(i + 1)) - at(edge(i)))).round() as u64).collect(),
            below: 0,
            above: 0,
            never: (n * (1.0 - by_end)).round() as u64,
        },
        cumulative: (0..=200)
            .map(|i| (years * f64::from(i) / 200.0, at(years * f64::from(i) / 200.0)))
            .collect(),
        cumulative_within: WITHIN,
    }
}

pub(crate) fn pays_back(by_end: f64) -> Summary {
    Summary {
        name: "pays_back".into(),
        label: "Pays back".into(),
        unit: String::new(),
        kind: ResultKind::YesNo,
        base: Figure::Number(1.0),
        base_rank: None,
        runs: RUNS,
        without_value: 0,
        mean: None,
        sd: None,
        percentiles: Vec::new(),
        never: None,
        success: Some(Success {
            rule: "yes".into(),
            threshold: None,
            good_above: true,
            share: share(by_end),
        }),
        histogram: Histogram { edges: Vec::new(), counts: Vec::new(), below: 0, above: 0, never: 0 },
        cumulative: Vec::new(),
        cumulative_within: WITHIN,
    }
}

fn bands(years: usize, by_end: f64) -> PaybackBands {
    let p = [0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95];
    let z = [-1.6449, -1.2816, -0.6745, 0.0, 0.6745, 1.2816, 1.6449];
    let middle = |t: f64| -580.0 + 48.0 * t - 0.6 * t * t;
    let sd = |t: f64| (95.0 * 95.0 + 27.0 * 27.0 * t * t).sqrt();
    let cash = (0..=years)
        .map(|year| {
            let t = year as f64;
            CashBand {
                year,
                base: middle(t) - 2.0 * t,
                mean: about(middle(t) + 3.0, 2.0),
                percentiles: p
                    .iter()
                    .zip(z)
                    .map(|(&p, z)| Percentile { p, estimate: about(middle(t) + z * sd(t), 5.0) })
                    .collect(),
            }
        })
        .collect();
    let run = |k: f64| {
        (0..=years)
            .map(|t| {
                let t = t as f64;
                let replaced = if t > 10.0 - k { 160.0 } else { 0.0 };
                -580.0 + 95.0 * k / 3.0 + (48.0 + 16.0 * k) * t - 0.6 * t * t - replaced * (1.0 - k / 4.0)
            })
            .collect()
    };
    PaybackBands {
        result: "payback".into(),
        unit: "EUR".into(),
        paid_back: (1..=years).map(|t| share(paid_back(t as f64, years as f64, by_end))).collect(),
        never: share(1.0 - by_end),
        cash,
        some_runs: [-2.0, -1.0, 0.3, 1.2, 2.0].into_iter().map(run).collect(),
    }
}

fn row(label: &str, unit: &str, inputs: (&str, &str), ends: (f64, f64)) -> TornadoRow {
    TornadoRow {
        name: label.to_lowercase().replace(' ', "_"),
        label: label.into(),
        unit: unit.into(),
        low_input: format!("{} {unit}", inputs.0).trim().into(),
        high_input: format!("{} {unit}", inputs.1).trim().into(),
        low: Figure::of(ends.0),
        high: Figure::of(ends.1),
        quartiles: None,
        span: (ends.1 - ends.0).abs(),
        span_is_lower_bound: false,
    }
}

fn tornado() -> Tornado {
    let mut rows = vec![
        row("Export price", "EUR/kWh", ("0.052", "0.104"), (322.0, -241.0)),
        row("Life of the controller", "yr", ("5.3", "18.1"), (-310.0, 214.0)),
        row("Hot water drawn by each person", "L/person/day", ("23", "52"), (-172.0, 205.0)),
        row("Gas price", "EUR/kWh", ("0.098", "0.129"), (-131.0, 177.0)),
        row("Heat displaced per kWh diverted", "", ("0.76", "0.90"), (-104.0, 136.0)),
        row("People living here", "person", ("2", "4"), (-120.0, 98.0)),
        row("Price of the controller", "EUR", ("268", "398"), (62.0, -68.0)),
        row("Fitting", "EUR", ("176", "318"), (51.0, -91.0)),
        row("Yield of the panels", "kWh/kWp", ("767", "933"), (-48.0, 66.0)),
        row("Boiler efficiency in summer", "", ("0.65", "0.79"), (88.0, -29.0)),
        row("Share of export taken by the water", "", ("0.50", "0.74"), (-42.0, 25.0)),
        row("Stored temperature", "degC", ("59", "63"), (-30.0, -12.0)),
        row("Standby draw", "W", ("1.3", "3.5"), (22.0, -4.0)),
        row("Upkeep", "EUR/yr", ("3", "10"), (21.0, -8.0)),
        row("Doorbell", "", ("1", "2"), (9.0, 9.0)),
    ];
    rows[11].quartiles = Some((Figure::Number(14.0), Figure::Number(20.0)));
    Tornado {
        result: "npv".into(),
        label: "Net present value".into(),
        unit: "EUR".into(),
        base: Figure::Number(9.0),
        threshold: Some(0.0),
        rows,
        notes: vec![
            "Linked inputs stay at their base values.".into(),
            "One input at a time misses what inputs do together.".into(),
        ],
    }
}

/// The same for payback, where an input alone can make it never.
pub(crate) fn payback_tornado() -> Tornado {
    let mut rows = vec![
        row("Export price", "EUR/kWh", ("0.052", "0.104"), (6.9, f64::INFINITY)),
        row("Life of the controller", "yr", ("5.3", "18.1"), (f64::INFINITY, 10.4)),
        row("Hot water drawn by each person", "L/person/day", ("23", "52"), (14.8, 8.1)),
        row("Gas price", "EUR/kWh", ("0.098", "0.129"), (12.9, 8.8)),
        row("Fitting", "EUR", ("176", "318"), (9.6, 12.0)),
    ];
    for row in &mut rows[..2] {
        row.span = 3.5;
        row.span_is_lower_bound = true;
    }
    Tornado {
        result: "payback".into(),
        label: "Payback".into(),
        unit: "yr".into(),
        base: Figure::Number(10.4),
        threshold: None,
        rows,
        notes: vec!["Linked inputs stay at their base values.".into()],
    }
}

fn about_lever(x: f64, half: f64) -> LeverEstimate {
    LeverEstimate { lever: Lever::At(x), low: Some(Lever::At(x - half)), high: Some(Lever::At(x + half)) }
}

fn no_lever() -> LeverEstimate {
    LeverEstimate { lever: Lever::Never, low: Some(Lever::Never), high: Some(Lever::Never) }
}

fn break_even() -> BreakEven {
    let points = (0..=20)
        .map(|i| {
            let people = 1.0 + f64::from(i) * 0.25;
            let middle = 0.135 * people / (people + 2.2);
            let spread = 0.016 + 0.002 * people;
            // With one person there is too little hot water in the worse runs, whatever the price.
            let low =
                if people < 1.6 { no_lever() } else { about_lever(middle - spread * 1.6, 0.1 * spread) };
            CurvePoint {
                at: people,
                p10: low,
                p50: about_lever(middle, 0.06 * spread),
                p90: about_lever(middle + spread * 1.3, 0.1 * spread),
                always: share(0.0),
                never: share(if people < 1.6 { 0.14 } else { 0.04 }),
            }
        })
        .collect();
    let p = [0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95];
    let at = [-0.004, 0.022, 0.052, 0.078, 0.101, 0.124, 0.139];
    BreakEven {
        of: "export_price".into(),
        of_label: "Export price".into(),
        of_unit: "EUR/kWh".into(),
        of_base: 0.075,
        of_drawn: [0.052, 0.078, 0.104],
        result: "npv".into(),
        result_label: "Net present value".into(),
        rule: "at least 0 EUR".into(),
        good_above: Some(false),
        exact: true,
        runs: 2048,
        range: (0.02, 0.14),
        base: Lever::At(0.0763),
        windows: vec![LeverWindow { from: None, to: Some(0.0763) }],
        percentiles: p
            .into_iter()
            .zip(at)
            .map(|(p, x)| LeverPercentile { p, estimate: about_lever(x, 0.003) })
            .collect(),
        for_chance: vec![
            ForChance {
                chance: 0.5,
                lever: Lever::At(0.078),
                low: Some(Lever::At(0.076)),
                high: Some(Lever::At(0.080)),
            },
            ForChance {
                chance: 0.8,
                lever: Lever::At(0.045),
                low: Some(Lever::At(0.043)),
                high: Some(Lever::At(0.048)),
            },
            ForChance { chance: 0.95, lever: Lever::Never, low: None, high: None },
        ],
        levers_for_chance: vec![
            for_chance(0.5, Some((0.078, 0.002))),
            for_chance(0.8, Some((0.045, 0.0025))),
            for_chance(0.95, None),
        ],
        best: chance_curve().first().copied(),
        chance_curve: chance_curve(),
        interval: Interval::OrderStatistics,
        always: share(0.0),
        never: share(0.043),
        several: share(0.0),
        crossings: vec![share(0.957)],
        below_range: Some(share(0.094)),
        above_range: Some(share(0.047)),
        note: None,
        curve: Some(BreakEvenCurve {
            against: "people".into(),
            against_label: "People living here".into(),
            against_unit: "person".into(),
            against_base: 3.0,
            held: "People living here is held at each value".into(),
            points,
        }),
        map: None,
        by_default: false,
    }
}

fn for_chance(chance: f64, at: Option<(f64, f64)>) -> LeversForChance {
    let lever = |(x, half): (f64, f64)| ChanceLever {
        lever: x,
        low: Some(Lever::At(x - half)),
        high: Some(Lever::At(x + half)),
        rises: false,
    };
    LeversForChance { chance, reached: at.is_some(), levers: at.map(lever).into_iter().collect() }
}

/// Falls from 0.9 to 0.02 over the range.
fn chance_curve() -> Vec<ChancePoint> {
    let point = |k: u32| {
        let x = 0.02 + 0.003 * f64::from(k);
        ChancePoint { lever: x, share: share(0.93 / (1.0 + libm::exp((x - 0.078) / 0.018))) }
    };
    (0..=40).map(point).collect()
}

/// The lever is good only between two values, 3 and 7 in the base case.
pub(crate) fn in_a_window() -> Answers {
    let mut answers = answers();
    let lever = |x: f64, rises: bool| ChanceLever {
        lever: x,
        low: Some(Lever::At(x - 0.1)),
        high: Some(Lever::At(x + 0.1)),
        rises,
    };
    let found = |chance: f64, levers: Vec<ChanceLever>| LeversForChance {
        chance,
        reached: !levers.is_empty(),
        levers,
    };
    let point = |k: u32| {
        let x = 0.25 * f64::from(k);
        ChancePoint { lever: x, share: share(phi((4.0 - (x - 5.0) * (x - 5.0)) / 1.86)) }
    };
    let question = &mut answers.break_even[0];
    (question.of, question.of_label, question.of_unit) =
        ("litres".into(), "Size of the cylinder".into(), "L".into());
    (question.of_base, question.of_drawn) = (5.0, [4.0, 5.0, 6.0]);
    (question.exact, question.good_above, question.range) = (false, None, (0.0, 10.0));
    question.base = Lever::At(3.0);
    question.windows = vec![LeverWindow { from: Some(3.0), to: Some(7.0) }];
    question.for_chance.clear();
    question.levers_for_chance = vec![
        found(0.5, vec![lever(3.0, true), lever(7.0, false)]),
        found(0.8, vec![lever(3.34, true), lever(6.66, false)]),
        found(0.99, Vec::new()),
    ];
    question.chance_curve = (0..=40).map(point).collect();
    question.best = question.chance_curve.get(20).copied();
    (question.never, question.several) = (share(0.016), share(0.984));
    question.crossings = vec![share(0.0), share(0.984)];
    (question.below_range, question.above_range) = (None, None);
    for (percentile, x) in question.percentiles.iter_mut().zip([2.2, 2.3, 2.6, 3.0, 3.4, 3.8, 4.1]) {
        percentile.estimate = about_lever(x, 0.05);
    }
    question.curve = None;
    answers
}

/// Break-even against the price of gas (`across` values) and people (`up` values).
pub(crate) fn with_map(across: usize, up: usize) -> Answers {
    let mut answers = answers();
    let axis = |name: &str, label: &str, unit: &str, base: f64, (low, high): (f64, f64), n: usize| MapAxis {
        name: name.into(),
        label: label.into(),
        unit: unit.into(),
        base,
        values: (0..n).map(|k| low + (high - low) * k as f64 / (n.max(2) - 1) as f64).collect(),
    };
    let across = axis("gas_price", "Price of gas", "EUR/kWh", 0.11, (0.06, 0.16), across);
    let up = axis("people", "People living here", "person", 3.0, (1.0, up as f64), up);
    let cell = |gas: f64, people: f64| {
        let middle = gas * people / (people + 0.8);
        // At the corners there is nothing to flip.
        let sure = match (gas < 0.075 && people < 1.5, gas > 0.145 && people > 3.5) {
            (true, _) => Some(Lever::Never),
            (_, true) => Some(Lever::Always),
            _ => None,
        };
        let at = |x: f64| {
            sure.map_or_else(|| about_lever(x, 0.002), |lever| LeverEstimate { lever, low: None, high: None })
        };
        MapCell {
            across: gas,
            up: people,
            p10: at(middle - 0.03),
            p50: at(middle),
            p90: at(middle + 0.03),
            always: share(if sure == Some(Lever::Always) { 0.7 } else { 0.0 }),
            never: share(if sure == Some(Lever::Never) { 0.6 } else { 0.02 }),
        }
    };
    let cells = up.values.iter().flat_map(|&u| across.values.iter().map(move |&a| (a, u)));
    let map = BreakEvenMap {
        cells: cells.map(|(a, u)| cell(a, u)).collect(),
        held: "Price of gas and people living here are held".into(),
        runs: 512,
        refined: across.values.len() > 11,
        across,
        up,
    };
    (answers.break_even[0].curve, answers.break_even[0].map) = (None, Some(map));
    answers
}

/// A price that falls by a fifth, or by half in a third of the runs from the sixth year on.
pub(crate) fn fan(name: &str, label: &str, years: usize) -> PathFan {
    let p = [0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95];
    let z = [-1.6449, -1.2816, -0.6745, 0.0, 0.6745, 1.2816, 1.6449];
    let base = |t: f64| 0.075 * libm::pow(0.99, t);
    let value = |t: f64, z: f64| base(t) * libm::exp(z * 0.06 * (4.0 + t).sqrt());
    let year = |t: usize| {
        let (at, later) = (t as f64, t >= 5);
        PathYear {
            year: 2027 + t as i64,
            base: Figure::Number(base(at)),
            mean: about(base(at) * if later { 0.86 } else { 1.01 }, 0.0006),
            percentiles: p
                .iter()
                .zip(z)
                .map(|(&p, z)| Percentile {
                    p,
                    estimate: about(value(at, z) * if later { 0.9 } else { 1.0 }, 0.001),
                })
                .collect(),
        }
    };
    let run =
        |k: f64| (0..years).map(|t| value(t as f64, 0.8 * libm::sin(1.3 * t as f64 + k) + 0.3 * k)).collect();
    PathFan {
        name: name.into(),
        label: label.into(),
        unit: "EUR/kWh".into(),
        runs: 4096,
        years: (0..years).map(year).collect(),
        some_runs: [-2.0, -1.0, 0.0, 1.0, 2.0].into_iter().map(run).collect(),
    }
}

fn choice(name: &str, label: &str, value: &str, is_base: bool, results: Vec<Summary>) -> ChoiceAnswer {
    ChoiceAnswer {
        choice: name.into(),
        label: label.into(),
        value: value.into(),
        is_base,
        results,
        ..ChoiceAnswer::default()
    }
}

/// Under one discount rate: everything differs.
fn discounted(value: &str, npv: Summary, by_end: f64) -> ChoiceAnswer {
    let shift = by_end - 0.65;
    let mut tornado = tornado();
    tornado.base = Figure::Number(9.0 + 600.0 * shift);
    for row in &mut tornado.rows {
        let moved = |f: Figure| f.number().map_or(f, |x| Figure::Number(x * (1.0 + shift) + 600.0 * shift));
        (row.low, row.high) = (moved(row.low), moved(row.high));
        row.span *= 1.0 + shift;
    }
    let mut break_even = break_even();
    break_even.base = Lever::At(0.0763 + 0.1 * shift);
    let mut bands = bands(20, by_end);
    for band in &mut bands.cash {
        let earned = 90.0 * shift * band.year as f64;
        band.base += earned;
        for q in &mut band.percentiles {
            q.estimate = about(q.estimate.value.number().unwrap_or(0.0) + earned, 5.0);
        }
    }
    ChoiceAnswer {
        bands: Some(bands),
        tornado: Some(tornado),
        break_even: vec![break_even],
        ..choice("discount", "Discount rate", value, by_end == 0.65, vec![npv])
    }
}

/// A surplus controller in a home: 20 years, 35 % never paid back.
pub(crate) fn answers() -> Answers {
    let npv = |mean| normal("npv", "Net present value", "EUR", mean, 330.0, Some(0.0));
    let carbon = |mean| normal("carbon_change", "Carbon change", "kg", mean, 260.0, None);
    Answers {
        format: 2,
        study: StudyFacts {
            title: "Harbour Row: put spare sunshine into the hot water?".into(),
            question: Some("Does the surplus controller pay for itself before it wears out?".into()),
            currency: "EUR".into(),
            prices: "real".into(),
            first_year: 2027,
            years: 20,
            headline: "npv".into(),
            payback: Some("payback".into()),
            unsourced: vec!["upkeep".into()],
        },
        sampling: SamplingFacts {
            method: "sobol".into(),
            runs_asked: RUNS,
            runs: RUNS,
            replicates: 8,
            seed: 4711,
            engine: 1,
            dimensions: vec!["people".into(), "gas_price.start".into()],
            linking: "gaussian copula".into(),
        },
        results: vec![npv(75.0), payback(20.0, 0.65), pays_back(0.65), carbon(-420.0)],
        choices: vec![
            discounted("0.02 1/yr", npv(168.0), 0.74),
            discounted("0.04 1/yr", npv(75.0), 0.65),
            discounted("0.07 1/yr", npv(-22.0), 0.48),
            choice("grid_carbon", "Carbon of the grid", "average", true, vec![carbon(-420.0)]),
            choice("grid_carbon", "Carbon of the grid", "marginal", false, vec![carbon(1310.0)]),
        ],
        bands: Some(bands(20, 0.65)),
        tornado: Some(tornado()),
        break_even: vec![break_even()],
        links: vec![Link {
            first: "gas_price".into(),
            second: "export_price".into(),
            asked: 0.5,
            reached: 0.497,
            used: 0.5,
            low: Some(0.479),
            high: Some(0.515),
            runs: 8192,
            levels: Some(0.45),
        }],
        convergence: None,
        remarks: vec!["The controller's life outlasts the horizon in 3 % of runs.".into()],
        paths: vec![fan("export_price", "Export price", 20), fan("gas_price", "Gas price", 20)],
        inputs: Vec::new(),
        repairs: Vec::new(),
        drivers: None,
        groups: Vec::new(),
        alternatives: None,
        knowing: None,
        failing: None,
        claim: None,
        indices: None,
        homes: Vec::new(),
    }
}

/// A mean looked at four times: half-widths 3.9 times 2^-0.1, 2^-0.7 and less.
pub(crate) fn convergence() -> Convergence {
    let look = |runs, value, half| Look { runs, estimate: about(value, half), half_width: Some(half) };
    Convergence {
        result: "npv".into(),
        label: "Net present value".into(),
        unit: "EUR".into(),
        statistic: "mean".into(),
        rule: None,
        within: 3.0,
        reached: true,
        most_runs: 1 << 20,
        runs_needed: None,
        looks: vec![
            look(2048, 81.0, 13.0),
            look(4096, 73.0, 8.1),
            look(8192, 76.0, 4.6),
            look(RUNS, 75.0, 2.9),
        ],
    }
}

/// Answers of a study with a horizon of `years`, a share `by_end` of whose runs pay back.
pub(crate) fn answers_of(years: usize, by_end: f64) -> Answers {
    let mut answers = answers();
    answers.study.years = years;
    answers.results[1] = payback(years as f64, by_end);
    answers.results[2] = pays_back(by_end);
    answers.bands = Some(bands(years, by_end));
    answers.paths = vec![fan("export_price", "Export price", years)];
    answers
}

/// Every label as long as a user can be tiresome, with markup and control characters in it.
pub(crate) fn tiresome() -> Answers {
    let mut answers = answers();
    let long = format!(
        "<script>alert(\"x & 'y'\")</script>\u{1b}[31m {}",
        "Schornsteinfeger-Nebenkosten und ".repeat(6)
    );
    answers.study.title = long.clone();
    answers.study.question = Some(long.clone());
    for result in &mut answers.results {
        result.label.clone_from(&long);
        result.unit = "kWh/home/person/yr".into();
    }
    for choice in &mut answers.choices {
        choice.label.clone_from(&long);
        choice.value.clone_from(&long);
        for row in choice.tornado.iter_mut().flat_map(|tornado| &mut tornado.rows) {
            row.label.clone_from(&long);
        }
    }
    if let Some(tornado) = &mut answers.tornado {
        tornado.label.clone_from(&long);
        for row in &mut tornado.rows {
            row.label.clone_from(&long);
            row.low_input.clone_from(&long);
            row.high_input.clone_from(&long);
        }
    }
    for break_even in &mut answers.break_even {
        break_even.of_label.clone_from(&long);
        break_even.result_label.clone_from(&long);
        if let Some(curve) = &mut break_even.curve {
            curve.against_label.clone_from(&long);
        }
    }
    for path in &mut answers.paths {
        path.label.clone_from(&long);
        path.unit = "kWh/home/person/yr".into();
    }
    answers.remarks.push(long);
    answers
}

/// One run only, all figures equal, nothing known about intervals.
pub(crate) fn all_equal() -> Answers {
    let mut answers = answers_of(1, 1.0);
    let point = |x: f64| Estimate::alone(Figure::Number(x));
    for result in &mut answers.results {
        for percentile in &mut result.percentiles {
            percentile.estimate = point(5.0);
        }
        result.mean = Some(point(5.0));
        result.sd = Some(point(0.0));
        result.histogram = Histogram { edges: vec![5.0, 5.0], counts: vec![1], below: 0, above: 0, never: 0 };
        result.cumulative = vec![(5.0, 1.0)];
    }
    if let Some(bands) = &mut answers.bands {
        for band in &mut bands.cash {
            band.base = 0.0;
            band.mean = point(0.0);
            for percentile in &mut band.percentiles {
                percentile.estimate = point(0.0);
            }
        }
        bands.some_runs = vec![vec![0.0, 0.0]];
    }
    if let Some(tornado) = &mut answers.tornado {
        for row in &mut tornado.rows {
            (row.low, row.high, row.span) = (tornado.base, tornado.base, 0.0);
        }
    }
    for break_even in &mut answers.break_even {
        break_even.of_base = 0.0;
        break_even.of_drawn = [0.0; 3];
        if let Some(curve) = &mut break_even.curve {
            curve.points.truncate(1);
        }
    }
    answers
}

/// Nothing but never: no run pays back, no break-even exists, every end of the tornado is never.
pub(crate) fn all_never() -> Answers {
    let mut answers = answers_of(20, 0.0);
    answers.study.headline = "payback".into();
    answers.results.swap(0, 1);
    answers.results[0].base = Figure::Never;
    answers.results[0].cumulative.clear();
    let mut tornado = payback_tornado();
    tornado.base = Figure::Never;
    for row in &mut tornado.rows {
        (row.low, row.high) = (Figure::Never, Figure::Never);
    }
    answers.tornado = Some(tornado);
    for break_even in &mut answers.break_even {
        break_even.base = Lever::Never;
        for percentile in &mut break_even.percentiles {
            percentile.estimate = no_lever();
        }
        for point in break_even.curve.iter_mut().flat_map(|curve| &mut curve.points) {
            (point.p10, point.p50, point.p90, point.never) = (no_lever(), no_lever(), no_lever(), share(1.0));
        }
    }
    answers
}

/// Payback as the headline, with a tornado in which two inputs alone can make it never.
pub(crate) fn about_payback() -> Answers {
    let mut answers = answers();
    answers.study.headline = "payback".into();
    answers.results.swap(0, 1);
    answers.tornado = Some(payback_tornado());
    answers
}

/// The house's own studies, appraised with 1,024 runs.
pub(crate) fn studies() -> Vec<(&'static str, Answers)> {
    static STUDIES: std::sync::OnceLock<Vec<(&'static str, Answers)>> = std::sync::OnceLock::new();
    let appraised = |name: &'static str| {
        let file =
            std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("studies").join(format!("{name}.toml"));
        let (_, study) = crate::study::load(&file).unwrap();
        let model = crate::model::check(&study).0.unwrap();
        let mut options = Options::of(&model);
        let design = options.design;
        options.design = crate::sampling::Design::new(design.seed, design.method, design.replicates, 1024);
        (name, appraise(&model, options, &crate::engine::run::Control::default()).unwrap())
    };
    STUDIES.get_or_init(|| ["first-look", "harbour-row", "reference-home"].map(appraised).to_vec()).clone()
}

/// Adds what single runs say: payback as what drivers are of, with never among its runs; three courses by net present
/// value, the controller best above a price of 0.0625 EUR/kWh; labels with commas, quotes and signs of formulas.
pub(crate) fn single_runs(answers: &mut Answers) {
    answers.drivers = Some(drivers());
    answers.groups = vec![by_people(), by_price()];
    let courses = courses();
    let knowing = knowing();
    let failing = failing();
    for choice in answers.choices.iter_mut().filter(|choice| choice.choice == "discount") {
        choice.alternatives = Some(courses.clone());
        choice.knowing = Some(knowing.clone());
        choice.failing = Some(failing.clone());
    }
    answers.alternatives = Some(courses);
    answers.knowing = Some(knowing);
    answers.claim = Some(claimed(failing.conditions.clone()));
    answers.failing = Some(failing);
}

/// A label that a spreadsheet would take for a formula.
pub(crate) const RISKY: &str = "=Heater, \"the big one\"";

fn no_estimate() -> Estimate {
    Estimate::alone(Figure::None)
}

/// Known downwards only: above it every value may be, and never too.
fn open(value: f64, low: f64) -> Estimate {
    Estimate {
        value: Figure::Number(value),
        low: Some(Figure::Number(low)),
        high: Some(Figure::Never),
        interval: Interval::OrderStatistics,
    }
}

fn drivers() -> Drivers {
    use sensitivity::{
        End, Floor, Sensitivity, SensitivityOf, SensitivityRow, TenthStatistic, Tenths, TenthsRow, Whole,
    };
    let whole = |value| Some(Whole { value, corrected: None });
    let row = |name: &str, label: &str, first_order, spearman| SensitivityRow {
        name: name.into(),
        label: label.into(),
        first_order,
        classes: 64,
        kolmogorov: whole(0.312_345),
        delta: whole(0.201_234),
        spearman,
        src: Some(-0.641_234),
        srrc: Some(-0.655_555),
        prcc: Some(-0.712_345),
        linked: false,
    };
    let price = SensitivityRow {
        linked: true,
        kolmogorov: Some(Whole { value: 0.312_345, corrected: Some(0.291_234) }),
        ..row(
            "export_price",
            "Export price, mean of all years",
            about(0.412_345, 0.0123),
            about(-0.634_2, 0.0112),
        )
    };
    let heater = SensitivityRow {
        classes: 2,
        src: None,
        srrc: None,
        prcc: None,
        ..row("heater", RISKY, about(0.052, 0.004), no_estimate())
    };
    let doorbell = row("doorbell", "Doorbell", about(-0.003_1, 0.004), about(0.004, 0.0153));
    let unknown = SensitivityRow {
        classes: 0,
        kolmogorov: None,
        delta: None,
        ..row("fuse", "Fuse", no_estimate(), no_estimate())
    };
    let end = |from, to, word: Option<&str>, result| End {
        from,
        to,
        word: word.map(Into::into),
        runs: 1638,
        result,
    };
    let tenths = |name: &str, label: &str, unit: &str, low, high, difference| TenthsRow {
        name: name.into(),
        label: label.into(),
        unit: unit.into(),
        low,
        high,
        difference,
        linked: name == "export_price",
    };
    Drivers {
        result: "payback".into(),
        label: "Payback".into(),
        unit: "yr".into(),
        sensitivity: Sensitivity {
            runs: RUNS,
            without_value: 3,
            never: 5734,
            of: SensitivityOf::Never,
            rows: vec![price, heater, doorbell, unknown],
            floor: Floor {
                first_order: Some(0.002_345),
                kolmogorov: Some(0.023_456),
                delta: Some(0.031_234),
                spearman: Some(0.018_765),
                kolmogorov_corrected: None,
                delta_corrected: None,
            },
            r_squared: Some(0.512_345),
            rank_r_squared: Some(0.812_345),
            condition_number: Some(3.123_456),
            withheld: true,
            rank_withheld: false,
            notes: Vec::new(),
        },
        tenths: Tenths {
            runs: RUNS,
            without_value: 3,
            statistic: TenthStatistic::Median,
            all: open(13.46, 13.2),
            rows: vec![
                tenths(
                    "export_price",
                    "Export price, mean of all years",
                    "EUR/kWh",
                    end(0.031_234_56, 0.052_345_67, None, about(7.123, 0.11)),
                    end(0.104_321_98, 0.131, None, never()),
                    None,
                ),
                tenths(
                    "heater",
                    RISKY,
                    "",
                    end(1.0, 1.0, Some("+large, \"old\""), about(11.04, 0.12)),
                    end(0.0, 0.0, Some("-5"), about(15.26, 0.31)),
                    Some(4.22),
                ),
            ],
            notes: Vec::new(),
        },
    }
}

/// Payback by a count; with one person never in most runs.
fn by_people() -> ResultByGroup {
    let group = |people: f64, part: f64, q: [Estimate; 3], paid: f64| sensitivity::Group {
        label: format!("{people}"),
        from: people,
        to: people,
        runs: (RUNS as f64 * part) as u64,
        share: part,
        mean: None,
        percentiles: [0.1, 0.5, 0.9]
            .into_iter()
            .zip(q)
            .map(|(p, estimate)| Percentile { p, estimate })
            .collect(),
        success: Some(share(paid)),
        never: Some(share(1.0 - paid)),
    };
    ResultByGroup {
        result: "payback".into(),
        label: "Payback".into(),
        unit: "yr".into(),
        rule: Some("at most 20 yr".into()),
        asked: true,
        by: sensitivity::Groups {
            name: "people".into(),
            label: "People living here".into(),
            unit: "person".into(),
            thirds: false,
            groups: vec![
                group(-1.0, 0.25, [open(15.2, 14.1), never(), never()], 0.31),
                group(2.0, 0.5, [about(8.31, 0.12), about(12.4, 0.2), never()], 0.65),
                group(4.0, 0.25, [about(5.62, 0.07), about(8.9, 0.1), about(16.4, 1.1)], 0.93),
            ],
            without_value: 0,
        },
    }
}

/// A mean and no never, by thirds of a price.
fn by_price() -> ResultByGroup {
    let group = |label: &str, from, to, mean: f64| sensitivity::Group {
        label: label.into(),
        from,
        to,
        runs: 5461,
        share: 5461.0 / RUNS as f64,
        mean: Some(about(mean, 8.2)),
        percentiles: vec![
            Percentile { p: 0.1, estimate: about(mean - 380.0, 16.0) },
            Percentile { p: 0.5, estimate: about(mean - 4.0, 11.0) },
            Percentile { p: 0.9, estimate: about(mean + 390.0, 17.0) },
        ],
        success: None,
        never: None,
    };
    ResultByGroup {
        result: "carbon_change".into(),
        label: "Carbon change, \"all\" of it".into(),
        unit: "kg".into(),
        rule: None,
        asked: false,
        by: sensitivity::Groups {
            name: "export_price".into(),
            label: "Export price, mean of all years".into(),
            unit: "EUR/kWh".into(),
            thirds: true,
            groups: vec![
                group("lowest third", 0.03, 0.067_123_45, 262.4),
                group("middle third", 0.067_123_45, 0.086, 81.3),
                group("highest third", 0.086, 0.131, -118.7),
            ],
            without_value: 0,
        },
    }
}

/// Controller, heater and doing nothing.
fn courses() -> Alternatives {
    use choosing::{Comparison, CourseRow, Dominance, PairRow, Verdict};
    let course = |name: &str, label: &str, mean, best, regret, largest_regret| CourseRow {
        name: name.into(),
        label: label.into(),
        mean,
        best_share: share(best),
        regret,
        largest_regret,
    };
    let nothing = Estimate { high: Some(Figure::Number(0.0)), ..about(0.0, 0.0) };
    let order = |first_order, second_order| Dominance { first_order, second_order };
    let pair = |first: &str, second: &str, mean: f64, better: f64, [a, b]: [Dominance; 2]| PairRow {
        first: first.into(),
        second: second.into(),
        mean: about(mean, 5.3),
        standard_error: Some(2.241_6),
        percentiles: [0.05, 0.10, 0.50, 0.90, 0.95]
            .into_iter()
            .zip([-1.6449, -1.2816, 0.0, 1.2816, 1.6449])
            .map(|(p, z)| Percentile { p, estimate: about(mean + 330.0 * z, 8.0) })
            .collect(),
        first_better: share(better),
        second_better: share(1.0 - better),
        first_dominates: a,
        second_dominates: b,
    };
    let neither = order(Verdict::No, Verdict::No);
    let point = |at, controller: f64, best| AlongPoint {
        at,
        means: vec![about(controller, 15.2), about(60.0, 22.3), nothing.clone()],
        best,
    };
    Alternatives {
        result: "npv".into(),
        label: "Net present value".into(),
        higher: true,
        nothing: Some("nothing".into()),
        base: vec![Figure::Number(9.25), Figure::None, Figure::Number(0.0)],
        comparison: Comparison {
            unit: "EUR".into(),
            runs: 16_381,
            left_out: 3,
            best: "study".into(),
            rows: vec![
                course(
                    "study",
                    "Surplus controller, \"as offered\"",
                    about(75.4, 5.05),
                    0.52,
                    about(61.23, 2.1),
                    712.345,
                ),
                course("heater", RISKY, about(48.2, 7.1), 0.31, about(88.4, 2.9), 1234.567),
                course("nothing", "Nothing changed", nothing.clone(), 0.17, about(136.6, 3.2), 1391.2),
            ],
            pairs: vec![
                pair(
                    "study",
                    "heater",
                    27.2,
                    0.6,
                    [order(Verdict::WithinSamplingError, Verdict::Yes), neither],
                ),
                pair("study", "nothing", 75.4, 0.59, [neither, neither]),
                pair(
                    "heater",
                    "nothing",
                    48.2,
                    0.56,
                    [neither, order(Verdict::No, Verdict::WithinSamplingError)],
                ),
            ],
        },
        along: vec![Along {
            of: "export_price".into(),
            label: "Export price, in the first year".into(),
            unit: "EUR/kWh".into(),
            base: 0.075,
            runs: 2048,
            points: vec![
                point(0.05, 20.0, Some(1)),
                point(0.062_512_34, 61.0, Some(0)),
                point(0.1, 150.0, None),
            ],
            flips: vec![CourseFlip { at: 0.062_209_87, from: 1, to: 0 }],
            level: false,
        }],
    }
}

fn knowing() -> Knowing {
    use choosing::{Information, InformationRow, SamplingValue};
    let row = |name: &str, label: &str, value: Estimate, raw, part| InformationRow {
        name: name.into(),
        label: label.into(),
        unit: "EUR/kWh".into(),
        value,
        raw,
        standard_error: Some(1.234_5),
        share_of_evpi: part,
        about_zero: false,
        is_group: false,
        can_be_found_out: true,
        changes_decision: share(0.21),
    };
    let cut = Estimate { low: Some(Figure::Number(0.0)), ..about(0.0, 1.3) };
    Knowing {
        result: "npv".into(),
        label: "Net present value".into(),
        information: Information {
            unit: "EUR".into(),
            runs: 16_381,
            left_out: 3,
            best: "study".into(),
            best_label: "Surplus controller, \"as offered\"".into(),
            evpi: about(61.23, 2.1),
            rows: vec![
                InformationRow {
                    can_be_found_out: false,
                    ..row("export_price", "Export price", about(24.56, 2.4), 24.563_21, 24.56 / 61.23)
                },
                InformationRow {
                    is_group: true,
                    unit: String::new(),
                    ..row("@prices", "@prices", about(26.1, 2.6), 26.1, 26.1 / 61.23)
                },
                InformationRow {
                    about_zero: true,
                    changes_decision: share(0.0),
                    ..row("heater", RISKY, cut, -0.412_3, 0.0)
                },
                InformationRow {
                    standard_error: None,
                    changes_decision: Share::unknown(),
                    ..row("life", "Life, if it ends", no_estimate(), f64::NAN, 0.0)
                },
            ],
            floor: 0.412_34,
            floor_of_several: 1.234_5,
            notes: Vec::new(),
        },
        measurements: vec![Measurement {
            label: "A week of hot water, \"by meter\"".into(),
            unit: "L/person/day".into(),
            worth: SamplingValue {
                name: "draw".into(),
                observations: 7,
                observation_sd: 12.5,
                value: about(6.78, 1.1),
                raw: 6.781_23,
                standard_error: Some(0.561),
                changes_decision: share(0.12),
            },
            cost: Some(15.5),
        }],
    }
}

/// A box of three conditions, one upon labels and one upon never, and an input that goes along.
fn failing() -> Failing {
    use conditions::{Adds, ConditionBox, Conditions, HeldOut, Neighbour, Of, Restriction, TrajectoryPoint};
    let restriction = |name: &str, label: &str, unit: &str, quasi_p, coverage, density| Restriction {
        name: name.into(),
        label: label.into(),
        unit: unit.into(),
        from: None,
        to: None,
        labels: None,
        whole_values: false,
        quasi_p,
        adds: Adds { coverage_without: coverage, density_without: density },
    };
    let point = |coverage, density, mass, restricted| TrajectoryPoint { coverage, density, mass, restricted };
    Failing {
        result: "npv".into(),
        label: "Net present value".into(),
        rule: "at least 0 EUR".into(),
        conditions: Conditions {
            runs: RUNS,
            failures: 6717,
            share_failing: share(0.41),
            of: Of::Failures,
            boxes: vec![ConditionBox {
                restrictions: vec![
                    Restriction {
                        from: Some(Figure::Number(0.074)),
                        ..restriction(
                            "export_price",
                            "Export price",
                            "EUR/kWh",
                            3.14e-42,
                            0.912_345,
                            Some(0.523_456),
                        )
                    },
                    Restriction {
                        labels: Some(vec!["=large, \"old\"".into(), "small".into()]),
                        ..restriction("heater", RISKY, "", 0.012_34, 0.801_234, None)
                    },
                    Restriction {
                        from: Some(Figure::Never),
                        ..restriction("rule", "Year of the new rule", "yr", 0.0, 0.75, Some(0.7))
                    },
                ],
                coverage: share(0.71),
                density: share(0.82),
                mass: 0.355_012_3,
                held_out: HeldOut {
                    coverage: share(0.7),
                    density: share(0.81),
                    mass: 0.354_321,
                    runs: 2902,
                    failures: 2351,
                },
                words: "Of the failures, 70 % lie where the export price is at least 0.074 EUR/kWh.".into(),
                adds: Vec::new(),
                neighbours: vec![Neighbour {
                    of: "export_price".into(),
                    name: "gas_price".into(),
                    label: "Gas price".into(),
                    rank_correlation: 0.512_345,
                    words: "The gas price goes along with the export price.".into(),
                }],
            }],
            trajectory: vec![
                point(1.0, 0.41, 1.0, 0),
                point(0.952_345_6, 0.452_345_6, 0.863, 1),
                point(0.71, 0.82, 0.355, 3),
            ],
            notes: vec!["+ Only half of the runs find a box.".into()],
        },
    }
}

/// A saving, and a payback that is never in some runs.
fn claimed(conditions: conditions::Conditions) -> Claim {
    let promise = |what: &str, value, unit: &str, better_above, kept, of_ten, below| PromiseKept {
        what: what.into(),
        value,
        unit: unit.into(),
        better_above,
        runs: RUNS,
        kept: share(kept),
        of_ten,
        below: share(below),
        words: format!("{what}: so in about {of_ten} in 10 of the futures tried."),
    };
    Claim {
        runs: RUNS,
        promises: vec![
            promise("-Saving in a year, \"guaranteed\"", 120.5, "EUR", true, 0.22, 2, 0.78),
            promise("Payback", 7.0, "yr", false, 0.18, 2, 0.18),
        ],
        all: share(0.11),
        all_of_ten: 1,
        conditions,
        words: "All 2 promises are kept together in about 1 in 10 of the futures tried.".into(),
    }
}
