//! What every chart must be, for the tests of all of them.

use resvg::usvg;

use super::{Chart, font, standalone};

/// Sound XML that resvg reads, without bad numbers, with a finding.
pub(super) fn is_sound(chart: &Chart, place: &str) {
    let options = usvg::Options { fontdb: font::database(), ..usvg::Options::default() };
    let svg = standalone(chart);
    usvg::roxmltree::Document::parse(&svg).unwrap_or_else(|e| panic!("{place}: {e}"));
    usvg::Tree::from_str(&svg, &options).unwrap_or_else(|e| panic!("{place}: {e}"));
    for word in ["NaN", "inf\"", "inf,", "inf ", "-inf"] {
        assert!(!chart.svg.contains(word), "{place}: {word}");
    }
    assert!(!chart.finding.is_empty() && !chart.finding.contains("NaN"), "{place}: {}", chart.finding);
}

/// Attributes of each element with this tag, as numbers.
fn numbers(document: &usvg::roxmltree::Document<'_>, tag: &str, names: &[&str]) -> Vec<Vec<f64>> {
    document
        .descendants()
        .filter(|node| node.has_tag_name(tag))
        .map(|node| names.iter().filter_map(|name| node.attribute(*name)?.parse().ok()).collect())
        .collect()
}

/// No rectangle and no text reaches beyond the sheet, and no text is too small.
pub(super) fn lies_on_its_sheet(chart: &Chart, place: &str) {
    let document = usvg::roxmltree::Document::parse(&chart.svg).unwrap();
    let view = document.root_element().attribute("viewBox").unwrap();
    let size: Vec<f64> = view.split(' ').skip(2).map(|v| v.parse().unwrap()).collect();
    let inside = |x: f64, y: f64| (0.0..=size[0]).contains(&x) && (0.0..=size[1]).contains(&y);
    for rect in numbers(&document, "rect", &["x", "y", "width", "height"]) {
        let &[x, y, w, h] = rect.as_slice() else { panic!("a rectangle lacks a side") };
        assert!(w >= 0.0 && h >= 0.0 && inside(x, y) && inside(x + w, y + h), "{place}");
    }
    for node in document.descendants().filter(|node| node.has_tag_name("text")) {
        let size: f64 = node.attribute("font-size").unwrap().parse().unwrap();
        assert!(size >= 90.0, "{place}: text too small");
    }
    for line in words(&document) {
        let fits = line.left >= -1.0 && line.right <= size[0] + 1.0 && inside(10.0, line.top);
        assert!(
            fits && inside(10.0, line.bottom),
            "{place}: {:?} from {} to {}",
            line.text,
            line.left,
            line.right
        );
    }
}

/// A line of text and the box that it fills, in units.
pub(super) struct Words {
    pub(super) text: String,
    left: f64,
    right: f64,
    top: f64,
    bottom: f64,
}

/// All level texts of a chart.
pub(super) fn words(document: &usvg::roxmltree::Document<'_>) -> Vec<Words> {
    let level = |node: &usvg::roxmltree::Node<'_, '_>| {
        node.has_tag_name("text") && node.attribute("transform").is_none()
    };
    document
        .descendants()
        .filter(level)
        .map(|node| {
            let number = |name: &str| node.attribute(name).unwrap().parse::<f64>().unwrap();
            let weight = if node.attribute("font-weight").is_some() {
                font::Weight::SemiBold
            } else {
                font::Weight::Regular
            };
            let text = node.text().unwrap_or("").trim().to_string();
            let (size, x, y) = (number("font-size"), number("x"), number("y"));
            let width = font::width(&text, size, weight);
            let left = match node.attribute("text-anchor").unwrap() {
                "start" => x,
                "middle" => x - width / 2.0,
                _ => x - width,
            };
            // Centred on half the height of an x: capitals and tails reach about half a size from there.
            Words { text, left, right: left + width, top: y - size * 0.45, bottom: y + size * 0.45 }
        })
        .collect()
}

/// No text lies on another.
pub(super) fn texts_lie_apart(chart: &Chart, place: &str) {
    let document = usvg::roxmltree::Document::parse(&chart.svg).unwrap();
    let words = words(&document);
    for (i, a) in words.iter().enumerate() {
        for b in &words[i + 1..] {
            let wide = a.right.min(b.right) - a.left.max(b.left);
            let high = a.bottom.min(b.bottom) - a.top.max(b.top);
            assert!(wide <= 10.0 || high <= 15.0, "{place}: {:?} lies on {:?}", a.text, b.text);
        }
    }
}
