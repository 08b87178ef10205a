//! Charts as wide pictures with large type, for slides. Most are drawn for their smaller sheet by the code that draws
//! them for a page; pictures of many small things are the page's, set under a large heading.

use crate::analysis::Answers;

use super::layout::{self, Format};
use super::{Chart, ChartError, canvas, drawn, finish};

/// All charts as pictures of 960 x 540 points, in the order of the report; their names begin with "slide-".
///
/// # Errors
/// If the built-in font cannot be used; never because of what the answers hold.
pub fn slides(answers: &Answers) -> Result<Vec<Chart>, ChartError> {
    let mut slides = drawn(Format::SLIDE, answers)?;
    for slide in &mut slides {
        slide.name.insert_str(0, "slide-");
    }
    Ok(slides)
}

/// Charts that were drawn with [`Format::details`]: on a slide, each under its heading; on a page, as they are.
pub(super) fn mounted(format: Format, charts: Vec<Chart>) -> Result<Vec<Chart>, ChartError> {
    if !format.is_slide() {
        return Ok(charts);
    }
    charts.into_iter().map(|chart| mount(format, &chart)).collect()
}

fn mount(format: Format, part: &Chart) -> Result<Chart, ChartError> {
    // The picture below shrinks to what is left, so that the finding is never cut.
    let format = Format { lines: [5, 1, 1], ..format };
    let height = format.height(layout::HEIGHT);
    let mut top = 0.0;
    let svg = canvas::sheet(format, height, |canvas| {
        top = layout::headings(canvas, &part.finding, "")?;
        Ok(())
    })?;
    let (left, width, height_left) = (8.0, format.width - 16.0, height - top - 4.0);
    let units = [left, top, width, height_left].map(|points| (points * 10.0) as u32);
    let markup = format!(
        "<svg x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" viewBox=\"{}\">{}</svg>",
        units[0],
        units[1],
        units[2],
        units[3],
        view_box(&part.svg),
        drawing(&part.svg)
    );
    let svg = canvas::with_markup(&svg, &markup);
    Ok(finish(format, &part.name, &part.title, &part.finding, height, &svg))
}

fn view_box(svg: &str) -> &str {
    let value = svg.split_once("viewBox=\"").and_then(|(_, rest)| rest.split_once('"'));
    value.map_or("0 0 1 1", |(value, _)| value)
}

/// What stands between the description and the end.
fn drawing(svg: &str) -> &str {
    let after = svg.split_once("</desc>").map_or("", |(_, rest)| rest);
    after.rsplit_once("</svg>").map_or("", |(body, _)| body)
}
