//! Charts of the answers, a file for each. One piece of code draws each chart
//! for every reader: plotters writes the SVG, resvg makes the PNG from it.
//!
//! Answers in, bytes out: nothing here computes statistics.

mod along;
mod bands;
mod break_even;
mod break_even_map;
mod by_choice;
mod canvas;
mod cash;
#[cfg(test)]
mod checks;
mod choice_lines;
mod choice_ranges;
mod choice_spans;
mod choosing;
mod conditions;
mod convergence;
mod day_course;
mod day_labels;
mod day_stack;
mod day_store;
mod driving;
mod fan;
#[cfg(test)]
pub(crate) mod fixture;
mod font;
mod histogram;
mod homes;
#[cfg(test)]
mod hotwater_tests;
mod hundred;
mod indices;
mod layout;
mod measures;
mod scale;
mod slides;
mod spread;
#[cfg(test)]
mod tests;
mod tornado;
mod year_cells;
mod year_map;

use resvg::{tiny_skia, usvg};

use crate::analysis::Answers;
use crate::report::numbers::clean;

use layout::Format;
use slides::mounted;

pub use canvas::ChartError;
pub use day_course::{DayWords, day_course};
pub use font::font_face_css;
pub(crate) use font::push_base64;
pub use hundred::hundred;
pub use slides::slides;
pub use spread::{alternative, spread};
pub use year_map::{MapWords, year_map};

/// Pixels of the PNG for each point of the SVG.
const PIXELS_A_POINT: f32 = 2.0;

/// A drawn chart.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Chart {
    /// File stem, such as "payback".
    pub name: String,
    /// What is drawn.
    pub title: String,
    /// What it shows, in words; it stands above the chart and in its description.
    pub finding: String,
    /// The picture. Its typeface is named, not carried: see [`standalone`].
    pub svg: String,
}

/// All charts that the answers have something for, in the order of the report.
///
/// # Errors
/// If the built-in font cannot be used; never because of what the answers hold.
pub fn charts(answers: &Answers) -> Result<Vec<Chart>, ChartError> {
    drawn(Format::PAGE, answers)
}

fn drawn(format: Format, answers: &Answers) -> Result<Vec<Chart>, ChartError> {
    let mut charts = Vec::new();
    charts.extend(hundred::draw(format, answers)?);
    charts.extend(bands::draw(format, answers)?);
    charts.extend(cash::draw(format, answers)?);
    charts.extend(histogram::draw(format, answers)?);
    charts.extend(tornado::draw(format, answers)?);
    charts.extend(driving::draw_all(format, answers)?);
    charts.extend(indices::draw_all(format, answers)?);
    charts.extend(break_even::draw_all(format, answers)?);
    charts.extend(mounted(format, break_even_map::draw_all(format.details(), answers)?)?);
    charts.extend(choosing::draw_all(format, answers)?);
    charts.extend(conditions::draw_all(format, answers)?);
    charts.extend(by_choice::draw_all(format, answers)?);
    charts.extend(fan::draw_all(format, answers)?);
    charts.extend(convergence::draw(format, answers)?);
    charts.extend(mounted(format, homes::draw_all(format.details(), answers)?)?);
    Ok(charts)
}

/// Small pictures of what the first page of a report tells, four to half a page; their names begin with "small-".
///
/// # Errors
/// If the built-in font cannot be used; never because of what the answers hold.
pub fn small(answers: &Answers) -> Result<Vec<Chart>, ChartError> {
    let format = Format::SMALL;
    let mut charts = Vec::new();
    charts.extend(hundred::draw(format, answers)?);
    charts.extend(bands::draw(format, answers)?);
    charts.extend(cash::draw(format, answers)?);
    charts.extend(histogram::draw(format, answers)?);
    charts.extend(tornado::draw(format, answers)?);
    charts.extend(break_even::draw_all(format, answers)?);
    charts.extend(choosing::draw_all(format, answers)?);
    for chart in &mut charts {
        chart.name.insert_str(0, "small-");
    }
    Ok(charts)
}

/// The SVG with its typeface inside (about 130 KB more), for a file that must
/// look the same where Inter is not installed.
pub fn standalone(chart: &Chart) -> String {
    let style = format!("<style>{}</style>", font_face_css());
    match chart.svg.find("<title>") {
        Some(place) => {
            let (head, tail) = chart.svg.split_at(place);
            format!("{head}{style}{tail}")
        }
        None => chart.svg.clone(),
    }
}

/// The chart as a PNG of two pixels a point.
///
/// # Errors
/// If the SVG is not one that resvg can read or the picture is too large.
pub fn png(chart: &Chart) -> Result<Vec<u8>, ChartError> {
    png_of_svg(&chart.svg, PIXELS_A_POINT).map_err(|e| ChartError(format!("{}: {}", chart.name, e.0)))
}

/// A picture drawn here, as a PNG of so many pixels a point.
///
/// # Errors
/// If the SVG is not one that resvg can read or the picture is too large.
pub fn png_of_svg(svg: &str, pixels_a_point: f32) -> Result<Vec<u8>, ChartError> {
    let error = |e: &dyn std::fmt::Display| ChartError(e.to_string());
    let options =
        usvg::Options { fontdb: font::database(), font_family: "Inter".into(), ..usvg::Options::default() };
    let tree = usvg::Tree::from_str(svg, &options).map_err(|e| error(&e))?;
    // usvg has 96 pixels an inch; a point is 1/72.
    let scale = pixels_a_point * 72.0 / 96.0;
    let (width, height) = (tree.size().width() * scale, tree.size().height() * scale);
    let mut pixmap = tiny_skia::Pixmap::new(width.round() as u32, height.round() as u32)
        .ok_or_else(|| error(&"no room for the picture"))?;
    resvg::render(&tree, tiny_skia::Transform::from_scale(scale, scale), &mut pixmap.as_mut());
    pixmap.encode_png().map_err(|e| error(&e))
}

/// Gives plotters' SVG its size in points, a role, a title and a description.
fn finish(format: Format, name: &str, title: &str, finding: &str, height: f64, svg: &str) -> Chart {
    let body = svg.split_once('>').map_or("", |(_, rest)| rest);
    let (width, shown) = (format.width, format.shown);
    let svg = format!(
        "<svg width=\"{}pt\" height=\"{}pt\" viewBox=\"0 0 {} {}\" \
         xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" stroke-linejoin=\"round\">\n\
         <title>{}</title>\n<desc>{}</desc>{body}",
        width * shown,
        height * shown,
        (width * 10.0) as u32,
        (height * 10.0) as u32,
        escaped(title),
        escaped(finding),
    );
    Chart { name: name.to_string(), title: clean(title), finding: clean(finding), svg }
}

fn escaped(text: &str) -> String {
    clean(text).replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}
