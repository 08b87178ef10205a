//! More runs than are kept: the answers of the accumulators are those of whole columns, means and shares to rounding,
//! percentiles to the stated error of their ranks; and no byte depends on threads or blocks.

#![allow(clippy::expect_used, clippy::panic, reason = "a test that cannot read its own study has failed")]

use payspread::analysis::{Answers, Figure, Options, Summary, appraise};
use payspread::engine::run::Control;
use payspread::model::{Model, read};
use payspread::sampling::{Design, Method};

fn model() -> Model {
    let (made, found) = read(include_str!("../studies/first-look.toml"));
    made.unwrap_or_else(|| panic!("{found:?}")).1
}

fn answers(model: &Model, method: Method, runs: u64, kept_at_most: u64, block: Option<usize>) -> Answers {
    let design = Design::new(11, method, 8, runs);
    let options = Options { design, kept_at_most, block, break_even: false, ..Options::of(model) };
    appraise(model, options, &Control::default()).expect("answers")
}

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-9 * (1.0 + a.abs().max(b.abs()))
}

fn near_figure(a: &payspread::analysis::Estimate, b: &payspread::analysis::Estimate) -> bool {
    match (a.value.number(), b.value.number()) {
        (Some(a), Some(b)) => near(a, b),
        (a, b) => a == b,
    }
}

/// Percentiles of both are within the other's interval: the streamed one is as wide or wider.
fn same_figures(kept: &Summary, streamed: &Summary) {
    let name = &kept.name;
    assert_eq!(
        (kept.runs, kept.without_value, kept.base),
        (streamed.runs, streamed.without_value, streamed.base),
        "{name}"
    );
    assert_eq!(kept.never, streamed.never, "{name}");
    assert_eq!(kept.success, streamed.success, "{name}");
    if let (Some(a), Some(b)) = (&kept.mean, &streamed.mean) {
        let of = |e: &payspread::analysis::Estimate| {
            [Some(e.value), e.low, e.high].map(|f| f.and_then(Figure::number).unwrap_or(f64::NAN))
        };
        for (x, y) in of(a).into_iter().zip(of(b)) {
            assert!(near(x, y), "{name}: {x} {y}");
        }
    }
    assert_eq!(kept.sd.is_some(), streamed.sd.is_some());
    // The ends of the standard deviation's interval come from a fourth moment, here to the error of the ranks.
    if let (Some(a), Some(b)) = (&kept.sd, &streamed.sd) {
        let ends = |e: &payspread::analysis::Estimate| {
            let number = |f: Option<Figure>| f.and_then(Figure::number).unwrap_or(f64::NAN);
            (number(Some(e.value)), number(e.high) - number(e.low))
        };
        let ((x, wide), (y, as_wide)) = (ends(a), ends(b));
        assert!(near(x, y) && (wide - as_wide).abs() <= 0.1 * wide, "{name}: {a:?} {b:?}");
    }
    assert_eq!(kept.percentiles.len(), streamed.percentiles.len());
    for (a, b) in kept.percentiles.iter().zip(&streamed.percentiles) {
        let (Some(x), Some(y)) = (a.estimate.value.number(), b.estimate.value.number()) else {
            assert_eq!(a.estimate.value, b.estimate.value, "{name}");
            continue;
        };
        let low = b.estimate.low.and_then(Figure::number).unwrap_or(f64::NEG_INFINITY);
        let high = b.estimate.high.and_then(Figure::number).unwrap_or(f64::INFINITY);
        assert!(low <= x && x <= high, "{name} P{}: {x} for {y} in {low} to {high}", a.p);
    }
    let rank = |s: &Summary| s.base_rank.map_or(0.0, |rank| rank.value);
    let (a, b) = (rank(kept), rank(streamed));
    assert!((a - b).abs() <= 1e-3, "{name}: {a} {b}");
}

#[test]
fn gathered_answers_are_those_of_whole_columns() {
    let model = model();
    for (method, runs) in
        [(Method::Random, 200_000), (Method::Sobol, 1 << 18), (Method::LatinHypercube, 100_000)]
    {
        let (kept, streamed) =
            (answers(&model, method, runs, u64::MAX, None), answers(&model, method, runs, 0, None));
        for (a, b) in kept.results.iter().zip(&streamed.results) {
            same_figures(a, b);
        }
        for (a, b) in kept.choices.iter().zip(&streamed.choices) {
            assert_eq!((&a.choice, &a.value), (&b.choice, &b.value));
            a.results.iter().zip(&b.results).for_each(|(a, b)| same_figures(a, b));
        }
        let (a, b) = (kept.bands.expect("bands"), streamed.bands.expect("bands"));
        assert_eq!(a.paid_back, b.paid_back);
        assert_eq!(a.never, b.never);
        assert_eq!(a.some_runs, b.some_runs);
        for (a, b) in a.cash.iter().zip(&b.cash) {
            assert!(
                near_figure(&a.mean, &b.mean)
                    && a.base == b.base
                    && a.percentiles.len() == b.percentiles.len()
            );
        }
        assert!(streamed.remarks.iter().any(|r| r.contains("more than are kept")));
        assert!(kept.remarks.is_empty(), "{:?}", kept.remarks);
    }
}

#[test]
fn no_byte_depends_on_threads_or_blocks() {
    let model = model();
    let bytes = |threads: usize, block: Option<usize>, method| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("a pool");
        let answers = pool.install(|| answers(&model, method, 50_000, 0, block));
        serde_json::to_string(&answers).expect("JSON")
    };
    for method in [Method::Random, Method::Sobol] {
        let one = bytes(1, None, method);
        assert!(one == bytes(2, Some(64), method));
        assert!(one == bytes(3, Some(1000), method));
    }
}
