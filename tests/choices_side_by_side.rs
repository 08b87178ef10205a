//! What is answered for another value of a choice is what a study answers whose base is that value: the same runs, the
//! same bits, nothing pooled.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on has failed")]

use payspread::analysis::{Answers, BreakEven, Options, appraise};
use payspread::engine::run::Control;
use payspread::model;
use payspread::sampling::Design;

fn answers(text: &str) -> Answers {
    let (made, found) = model::read(text);
    let model = made.unwrap_or_else(|| panic!("{found:?}")).1;
    let mut options = Options::of(&model);
    let design = options.design;
    options.design = Design::new(design.seed, design.method, design.replicates, 1024);
    appraise(&model, options, &Control::default()).unwrap()
}

/// A question without its curve, which has fewer points beside the base, and its map, which only the base has.
fn without_curve(b: &BreakEven) -> BreakEven {
    BreakEven { curve: None, map: None, ..b.clone() }
}

#[test]
fn another_value_answers_as_if_it_were_the_base() {
    let text = include_str!("../studies/harbour-row.toml");
    let told = answers(text);
    let cases = [
        ("discount", "7 % a year", "base   = 0.04", "base   = 0.07"),
        ("discount", "2 % a year", "base   = 0.04", "base   = 0.02"),
        ("backup", "off-peak electricity", "base   = \"gas\"", "base   = \"off-peak electricity\""),
        ("grid_carbon", "marginal", "base   = \"average\"", "base   = \"marginal\""),
    ];
    for (name, value, base, other) in cases {
        assert_eq!(text.matches(base).count(), 1, "{base}");
        let alone = answers(&text.replace(base, other));
        let choice = told.choices.iter().find(|c| c.choice == name && c.value == value).unwrap();
        assert!(!choice.is_base && !choice.results.is_empty());
        for result in &alone.results {
            let here = choice.results.iter().find(|r| r.name == result.name);
            let at_base = told.results.iter().find(|r| r.name == result.name);
            assert_eq!(here.or(at_base), Some(result), "{name} {value}: {}", result.name);
        }
        assert_eq!(choice.bands.as_ref().or(told.bands.as_ref()), alone.bands.as_ref(), "{name} {value}");
        assert_eq!(
            choice.tornado.as_ref().or(told.tornado.as_ref()),
            alone.tornado.as_ref(),
            "{name} {value}"
        );
        for (k, question) in alone.break_even.iter().enumerate() {
            let same = |b: &&BreakEven| {
                let against = |b: &BreakEven| b.curve.as_ref().map(|c| c.against.clone());
                (&b.of, &b.result, against(b)) == (&question.of, &question.result, against(question))
            };
            let here = choice.break_even.iter().find(same).unwrap_or(&told.break_even[k]);
            assert_eq!(without_curve(here), without_curve(question), "{name} {value}");
            // Each point of the shorter curve is one of the longer.
            let points = |b: &BreakEven| b.curve.clone().map_or_else(Vec::new, |c| c.points);
            assert!(points(here).iter().all(|p| points(question).contains(p)), "{name} {value}");
            assert!(points(here).len() >= 2 || points(question).is_empty());
        }
        for fan in &alone.paths {
            let here = choice.paths.iter().find(|f| f.name == fan.name);
            let at_base = told.paths.iter().find(|f| f.name == fan.name);
            assert_eq!(here.or(at_base), Some(fan), "{name} {value}: {}", fan.name);
        }
    }
    // What a choice does not touch is not told again.
    let carbon = told.choices.iter().find(|c| c.choice == "grid_carbon").unwrap();
    assert!(carbon.bands.is_none() && carbon.tornado.is_none() && carbon.break_even.is_empty());
    let discount: Vec<_> = told.choices.iter().filter(|c| c.choice == "discount").collect();
    assert!(discount.iter().all(|c| c.tornado.is_some() && !c.break_even.is_empty()));
    let base = discount.iter().find(|c| c.is_base).unwrap();
    assert_eq!((base.tornado.as_ref(), &base.break_even), (told.tornado.as_ref(), &told.break_even));
}
