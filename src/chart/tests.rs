//! Tests over all charts and all awkward answers.

use resvg::usvg;

use super::checks::words;
use super::*;
use crate::analysis::{Figure, Lever};

/// Every kind of answers that a chart may meet.
fn cases() -> Vec<(&'static str, Answers)> {
    let mut bare = fixture::answers();
    (bare.bands, bare.tornado, bare.paths) = (None, None, Vec::new());
    bare.break_even.clear();
    bare.study.payback = None;
    let mut empty = bare.clone();
    empty.results.clear();
    let mut upside = fixture::answers();
    for b in &mut upside.break_even {
        b.good_above = Some(true);
        for point in b.curve.iter_mut().flat_map(|curve| &mut curve.points) {
            if point.at < 2.0 {
                (point.p10.lever, point.p50.lever, point.p90.lever) =
                    (Lever::Always, Lever::At(0.05), Lever::Never);
            }
        }
    }
    let mut large = fixture::answers();
    for result in &mut large.results {
        *result = fixture::normal(&result.name, &result.label, "EUR", 4.2e7, 3e7, Some(0.0));
    }
    // Eleven values of one choice, and payback as the result that it changes.
    let mut many = fixture::about_payback();
    many.choices = (0..11)
        .map(|k| {
            let mut value = many.choices[k % 3].clone();
            value.value = format!("{k} %");
            value.is_base = k == 4;
            value.results = vec![fixture::payback(20.0, 0.3 + 0.06 * k as f64)];
            value.tornado = Some(fixture::payback_tornado());
            value
        })
        .collect();
    let mut nowhere = fixture::all_never();
    for choice in &mut nowhere.choices {
        choice.results = vec![fixture::all_never().results[0].clone()];
        choice.break_even.clone_from(&nowhere.break_even);
        choice.tornado.clone_from(&nowhere.tornado);
        choice.bands.clone_from(&nowhere.bands);
    }
    // Lines that go far beyond what the lever is drawn at, up and down.
    let mut far = fixture::answers();
    for point in
        far.break_even.iter_mut().filter_map(|b| b.curve.as_mut()).flat_map(|curve| &mut curve.points)
    {
        point.p10.lever = Lever::At(0.02 - 0.3 * (point.at - 1.0));
        point.p90.lever = Lever::At(0.2 + 0.4 * (6.0 - point.at));
    }
    let mut moved = fixture::answers();
    for (choice, years) in moved.choices.iter_mut().zip([20, 20, 20]) {
        choice.paths = vec![fixture::fan("gas_price", "Gas price", years)];
    }
    let mut until = fixture::answers();
    until.convergence = Some(fixture::convergence());
    let mut share = until.clone();
    if let Some(convergence) = &mut share.convergence {
        (convergence.rule, convergence.reached) = (Some("at least 0 EUR".into()), false);
        convergence.looks.truncate(1);
        convergence.within = 0.01;
        convergence.looks[0].half_width = Some(0.02);
        convergence.looks[0].estimate.value = Figure::Number(0.59);
        (convergence.looks[0].estimate.low, convergence.looks[0].estimate.high) =
            (Some(Figure::Number(0.57)), Some(Figure::Number(0.61)));
    }
    let made_up = vec![
        ("moved", moved),
        ("many", many),
        ("nowhere", nowhere),
        ("plain", fixture::answers()),
        ("far", far),
        ("until", until),
        ("until-share", share),
        ("payback", fixture::about_payback()),
        ("tiresome", fixture::tiresome()),
        ("equal", fixture::all_equal()),
        ("never", fixture::all_never()),
        ("short", fixture::answers_of(1, 0.4)),
        ("long", fixture::answers_of(100, 0.97)),
        ("sure", fixture::answers_of(20, 1.0)),
        ("bare", bare),
        ("empty", empty),
        ("upside", upside),
        ("large", large),
        ("broken", broken()),
        ("window", fixture::in_a_window()),
        ("map", fixture::with_map(11, 6)),
        ("map-square", fixture::with_map(11, 11)),
        ("map-refined", fixture::with_map(21, 21)),
        ("map-line", fixture::with_map(11, 1)),
        ("map-tiresome", tiresome_map()),
        ("map-nowhere", nowhere_map()),
    ];
    made_up.into_iter().chain(fixture::studies()).collect()
}

/// Long labels, large numbers, mixed sides.
fn tiresome_map() -> Answers {
    let (mut answers, tiresome) = (fixture::with_map(11, 11), fixture::tiresome());
    let question = &mut answers.break_even[0];
    question.of_label.clone_from(&tiresome.break_even[0].of_label);
    question.result_label.clone_from(&tiresome.break_even[0].of_label);
    question.good_above = None;
    if let Some(map) = &mut question.map {
        map.across.label.clone_from(&tiresome.break_even[0].of_label);
        map.up.label.clone_from(&tiresome.break_even[0].of_label);
        for cell in &mut map.cells {
            if let Lever::At(x) = &mut cell.p50.lever {
                *x *= -1e7;
            }
            (cell.p50.low, cell.p50.high) = (None, None);
        }
    }
    answers
}

/// No lever is good anywhere.
fn nowhere_map() -> Answers {
    let mut answers = fixture::with_map(11, 6);
    for cell in answers.break_even[0].map.iter_mut().flat_map(|map| &mut map.cells) {
        cell.p50.lever = Lever::Never;
    }
    answers
}

/// Figures that no analysis should return, to be survived all the same.
fn broken() -> Answers {
    let mut answers = fixture::answers();
    for result in &mut answers.results {
        result.base = Figure::Number(f64::NAN);
        result.histogram.edges.truncate(3);
        result.histogram.edges.push(f64::INFINITY);
        result.cumulative.push((f64::NAN, f64::INFINITY));
        result.percentiles.clear();
    }
    if let Some(bands) = &mut answers.bands {
        bands.some_runs.push(vec![f64::NAN, f64::NEG_INFINITY, 1e300]);
        bands.cash[3].percentiles.clear();
        bands.cash[4].base = f64::NAN;
    }
    if let Some(tornado) = &mut answers.tornado {
        tornado.rows[0].low = Figure::None;
        tornado.rows[1].high = Figure::Number(1e300);
        tornado.threshold = Some(f64::NAN);
    }
    for b in &mut answers.break_even {
        b.of_drawn = [f64::NAN, 0.0, f64::INFINITY];
        b.good_above = None;
    }
    answers
}

/// With PAYSPREAD_LOOK=FOLDER, writes every chart there, for human eyes.
#[test]
fn pictures_for_the_eye() {
    let Some(folder) = std::env::var_os("PAYSPREAD_LOOK") else { return };
    let folder = std::path::PathBuf::from(folder);
    for (set, answers) in cases() {
        for chart in charts(&answers).unwrap().into_iter().chain(slides(&answers).unwrap()) {
            let write = |name: String, bytes: &[u8]| std::fs::write(folder.join(name), bytes).unwrap();
            write(format!("{set}-{}.png", chart.name), &png(&chart).unwrap());
            write(format!("{set}-{}-half.png", chart.name), &png_of_svg(&chart.svg, 1.0).unwrap());
            write(format!("{set}-{}.svg", chart.name), standalone(&chart).as_bytes());
        }
    }
}

/// One chart by its name.
fn named(answers: &Answers, name: &str) -> Chart {
    charts(answers).unwrap().into_iter().find(|chart| chart.name == name).unwrap()
}

#[test]
fn all_charts_of_a_full_study_in_order() {
    let names: Vec<String> = charts(&fixture::answers()).unwrap().into_iter().map(|c| c.name).collect();
    assert_eq!(
        names,
        [
            "hundred",
            "payback",
            "cash",
            "result",
            "tornado",
            "break-even",
            "result-by-discount",
            "payback-by-discount",
            "cash-by-discount",
            "tornado-by-discount",
            "break-even-by-discount",
            "result-by-grid-carbon",
            "path-export-price",
            "path-gas-price"
        ]
    );
}

#[test]
fn every_chart_is_sound_xml_without_bad_numbers() {
    for (set, answers) in cases() {
        for chart in charts(&answers).unwrap() {
            checks::is_sound(&chart, &format!("{set}/{}", chart.name));
        }
    }
}

#[test]
fn nothing_lies_outside_the_sheet() {
    for (set, answers) in cases() {
        for chart in charts(&answers).unwrap() {
            checks::lies_on_its_sheet(&chart, &format!("{set}/{}", chart.name));
        }
    }
}

#[test]
fn no_text_lies_on_another() {
    for (set, answers) in cases() {
        // Sums beyond all measure squeeze a tornado to a point: survived, not pretty.
        if set == "broken" {
            continue;
        }
        for chart in charts(&answers).unwrap() {
            checks::texts_lie_apart(&chart, &format!("{set}/{}", chart.name));
        }
    }
}

/// Whether a slide is the page's picture under a large heading, whose places are those of the page.
fn is_mounted(slide: &Chart) -> bool {
    slide.svg.contains("<svg x=")
}

#[test]
fn slides_are_as_sound_as_pages() {
    for (set, answers) in cases() {
        for slide in slides(&answers).unwrap() {
            let place = format!("{set}/{}", slide.name);
            checks::is_sound(&slide, &place);
            if !is_mounted(&slide) {
                checks::lies_on_its_sheet(&slide, &place);
            }
            if !is_mounted(&slide) && set != "broken" {
                checks::texts_lie_apart(&slide, &place);
            }
        }
    }
}

#[test]
fn each_chart_is_a_slide_of_its_own_with_large_type() {
    for (set, answers) in cases() {
        let (pages, slides) = (charts(&answers).unwrap(), slides(&answers).unwrap());
        let names: Vec<String> = pages.iter().map(|page| format!("slide-{}", page.name)).collect();
        assert_eq!(slides.iter().map(|slide| slide.name.clone()).collect::<Vec<_>>(), names, "{set}");
        for (page, slide) in pages.iter().zip(&slides) {
            assert_eq!((&page.title, &page.finding), (&slide.title, &slide.finding));
            let document = usvg::roxmltree::Document::parse(&slide.svg).unwrap();
            let root = document.root_element();
            assert_eq!((root.attribute("width"), root.attribute("height")), (Some("960pt"), Some("540pt")));
            if is_mounted(slide) {
                continue;
            }
            // The least type of a page is 9.5 points on 640; 1.6 times that on the slide's 4,000 units is 95.
            let sizes = document.descendants().filter_map(|node| node.attribute("font-size"));
            for size in sizes.map(|size| size.parse::<f64>().unwrap()) {
                assert!(size / 4000.0 >= 1.6 * 9.5 / 640.0 - 1e-9, "{set}/{}: {size}", slide.name);
            }
        }
    }
}

#[test]
fn user_text_stays_text() {
    let tiresome = fixture::tiresome();
    for chart in charts(&tiresome).unwrap().into_iter().chain(slides(&tiresome).unwrap()) {
        assert!(!chart.svg.contains("<script"), "{}", chart.name);
        assert!(!chart.svg.contains('\u{1b}'));
        let document = usvg::roxmltree::Document::parse(&chart.svg).unwrap();
        assert!(!document.descendants().any(|node| node.has_tag_name("script")));
    }
    let quoted = finish(Format::PAGE, "x", "a \"b\" <c>", "d & e", 10.0, "<svg>\n</svg>\n");
    assert!(quoted.svg.contains("<title>a &quot;b&quot; &lt;c&gt;</title>\n<desc>d &amp; e</desc>"));
}

#[test]
fn headings_stand_in_the_file_for_those_who_cannot_see_it() {
    for chart in charts(&fixture::answers()).unwrap() {
        let document = usvg::roxmltree::Document::parse(&chart.svg).unwrap();
        let root = document.root_element();
        assert_eq!(root.attribute("role"), Some("img"));
        assert!(root.attribute("width").unwrap().ends_with("pt"));
        let text = |tag: &str| root.children().find(|n| n.has_tag_name(tag)).unwrap().text().unwrap();
        assert_eq!(text("title"), chart.title);
        assert_eq!(text("desc"), chart.finding);
    }
}

#[test]
fn findings_say_what_the_figures_say() {
    let findings: Vec<String> = charts(&fixture::answers()).unwrap().into_iter().map(|c| c.finding).collect();
    assert_eq!(findings[1], "Paid back within 20 years in 65 % of runs; half of those by year 8");
    // Year 20: -580 + 960 - 240 = 140, sd sqrt(95^2 + 540^2) = 548.3, 1.6449 sd = 901.9, known to 5.
    assert_eq!(
        findings[2],
        "After 20 years the cash adds up to between -760 and 1,040 EUR in 9 of 10 runs; half of all end above 140 EUR"
    );
    assert_eq!(
        findings[3],
        "Net present value: at least 0 EUR in 59 % of runs; between -350 and 500 EUR in 8 of 10"
    );
    assert!(findings[4].starts_with(
        "Net present value hangs most on export price, then on life of the controller; each of"
    ));
    // 0.135 p / (p + 2.2) at 1 and 6: 0.0422 and 0.0988.
    assert_eq!(
        findings[5],
        "Export price: half of the runs flip below 0.042 EUR/kWh with 1 person, \
         below 0.099 EUR/kWh with 6 people"
    );
    let never: Vec<String> = charts(&fixture::all_never()).unwrap().into_iter().map(|c| c.finding).collect();
    assert_eq!(never[1], "Paid back in none of the runs within 20 years");
}

#[test]
fn one_png_has_two_pixels_a_point() {
    let chart = &named(&fixture::answers(), "payback");
    let bytes = png(chart).unwrap();
    // The header chunk of a PNG holds width and height, big-endian, from byte 16.
    let number = |at: usize| u32::from_be_bytes(bytes[at..at + 4].try_into().unwrap());
    assert_eq!((number(16), number(20)), (1280, 800));
    // Text is drawn: without a font the sheet would hold only a few colours of lines and areas.
    let bare = Chart { svg: chart.svg.replace("<text", "<g").replace("</text", "</g"), ..chart.clone() };
    assert_ne!(png(&bare).unwrap(), bytes);
    assert!(png(&Chart { svg: "no picture".into(), ..chart.clone() }).is_err());
}

#[test]
fn the_same_answers_give_the_same_bytes() {
    for (set, answers) in cases() {
        assert_eq!(charts(&answers).unwrap(), charts(&answers).unwrap(), "{set}");
        assert_eq!(slides(&answers).unwrap(), slides(&answers).unwrap(), "{set}");
    }
    for (name, answers) in fixture::studies() {
        let pictures =
            || charts(&answers).unwrap().iter().map(|chart| png(chart).unwrap()).collect::<Vec<_>>();
        assert!(pictures() == pictures(), "{name}");
    }
}

#[test]
fn the_studies_own_charts_cut_no_word() {
    for (name, answers) in fixture::studies() {
        let charts = charts(&answers).unwrap();
        assert!(charts.len() >= 4, "{name}");
        for chart in charts.into_iter().chain(slides(&answers).unwrap()) {
            assert!(!chart.svg.contains('…') && !chart.finding.contains('…'), "{name}/{}", chart.name);
        }
    }
}

#[test]
fn a_flat_curve_is_said_to_be_flat() {
    let mut answers = fixture::answers();
    for point in answers.break_even[0].curve.iter_mut().flat_map(|curve| &mut curve.points) {
        point.p50.lever = Lever::At(0.07 + 0.0004 * point.at);
    }
    let finding = named(&answers, "break-even").finding;
    assert_eq!(
        finding,
        "Export price: where it flips hardly depends on people living here; \
         half of the runs flip below 0.070 to 0.072 EUR/kWh"
    );
}

#[test]
fn a_map_tells_its_cells_in_numbers_and_words() {
    let map = named(&fixture::with_map(11, 6), "break-even-map");
    // 0.06 x 2/2.8 = 0.0429 (with one person no value is good) and 0.16 x 3/3.8 = 0.1263 (from four on all are).
    assert_eq!(
        map.finding,
        "Export price: half of the runs flip below 0.043 to 0.126 EUR/kWh, by price of gas and people living here"
    );
    let document = usvg::roxmltree::Document::parse(&map.svg).unwrap();
    let texts: Vec<String> = words(&document).into_iter().map(|w| w.text).collect();
    let count = |word: &str| texts.iter().filter(|text| text.as_str() == word).count();
    assert_eq!((count("never"), count("always")), (2, 6));
    // Every other cell has its number: 66 cells.
    let numbers = texts.iter().filter(|text| text.starts_with("0.0") || text.starts_with("0.1")).count();
    assert!(numbers >= 58 + 11, "{numbers}");
    let nowhere = named(&nowhere_map(), "break-even-map");
    assert!(nowhere.finding.contains("no value is good in half of the runs"), "{}", nowhere.finding);
}

#[test]
fn a_line_that_leaves_the_sheet_says_how_far_it_goes() {
    let (_, far) = cases().into_iter().find(|(set, _)| *set == "far").unwrap();
    let svg = named(&far, "break-even").svg;
    // 0.2 + 0.4 x 5 and 0.02 - 0.3 x 5.
    assert!(svg.contains("\u{2191} up to 2.20 EUR/kWh"));
    assert!(svg.contains("\u{2193} down to \u{2212}1.48 EUR/kWh"));
}
