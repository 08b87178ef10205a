//! Where the electricity of a day comes from and goes to, as layers on top of each other: uses of what the sun made
//! upwards from the axis, what was drawn from the grid and from a battery downwards.

use plotters::style::RGBColor;

use crate::hotwater::course::DayCourse;

use super::canvas::{Canvas, Drawn, Frame, Plot, colour};

/// What is less over the whole day is not drawn, in kWh.
pub(super) const LEAST_KWH: f64 = 0.02;
/// Distance between two strokes of a hatching, in points.
const STROKES: f64 = 5.0;

/// A mark that tells layers apart without their colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Hatch {
    None,
    Diagonal,
    Upright,
}

/// How a layer is filled.
#[derive(Debug, Clone, Copy)]
pub(super) struct Look {
    pub(super) colour: RGBColor,
    pub(super) alpha: f64,
    pub(super) hatch: Hatch,
}

const HOUSE: Look = Look { colour: colour::ORANGE, alpha: 0.38, hatch: Hatch::None };
const WATER: Look = Look { colour: colour::BLUE, alpha: 1.0, hatch: Hatch::None };
const BATTERY: Look = Look { colour: colour::GREEN, alpha: 0.30, hatch: Hatch::Upright };
const TO_GRID: Look = Look { colour: colour::GREY, alpha: 0.16, hatch: Hatch::Diagonal };
const FROM_GRID: Look = Look { colour: colour::VERMILION, alpha: 0.38, hatch: Hatch::None };

/// One use or source, in kW of each step, from the end nearer to the axis to the other.
#[derive(Debug, Clone)]
pub(super) struct Layer {
    pub(super) name: &'static str,
    pub(super) kwh: f64,
    pub(super) near: Vec<f64>,
    pub(super) far: Vec<f64>,
    pub(super) look: Look,
}

/// Layers of a day.
#[derive(Debug, Clone)]
pub(super) struct Stack {
    /// Above the axis, from it outwards.
    pub(super) up: Vec<Layer>,
    /// Below the axis, with values below 0.
    pub(super) down: Vec<Layer>,
    /// What the sun made, else what would have been exported, in kW.
    pub(super) outline: Vec<f64>,
    pub(super) outline_kwh: f64,
    pub(super) outline_name: &'static str,
    /// Steps of which something is not known.
    pub(super) unknown: Vec<bool>,
}

/// The value of a step; nothing where it is not known.
fn known(list: &[f64], step: usize) -> f64 {
    list.get(step).copied().filter(|x| x.is_finite()).unwrap_or(0.0)
}

/// Steps of the day, a minute at the least.
fn steps(course: &DayCourse) -> usize {
    course.steps.min(1440)
}

impl Stack {
    pub(super) fn of(course: &DayCourse) -> Self {
        let steps = steps(course);
        let unknown: Vec<bool> = (0..steps).map(|s| is_unknown(course, s)).collect();
        // Of a step that is known in part nothing is drawn: the rest would be put down to the house.
        let list = |of: &dyn Fn(usize) -> f64| -> Vec<f64> {
            unknown
                .iter()
                .enumerate()
                .map(|(s, &unknown)| if unknown { 0.0 } else { of(s).max(0.0) })
                .collect()
        };
        let water = list(&|s| known(&course.diverted, s));
        let charge = list(&|s| known(&course.battery, s));
        let export = list(&|s| known(&course.export, s));
        let made = list(&|s| known(&course.generation, s));
        let has_sun = !course.generation.is_empty();
        let house = list(&|s| if has_sun { made[s] - water[s] - charge[s] - export[s] } else { 0.0 });
        let up = [
            ("house", house, HOUSE),
            ("water", water, WATER),
            ("battery", charge, BATTERY),
            ("to the grid", export, TO_GRID),
        ];
        let down = [
            ("from the battery", list(&|s| -known(&course.battery, s)), BATTERY),
            ("from the grid", list(&|s| known(&course.import, s)), FROM_GRID),
        ];
        let before = list(&|s| known(&course.export_before, s));
        let (outline, outline_name) =
            if has_sun { (made, "made by the sun") } else { (before, "would have been exported") };
        Stack {
            up: piled(up, 1.0),
            down: piled(down, -1.0),
            outline_kwh: outline.iter().sum(),
            outline: outline.iter().map(|x| x * kw_per_kwh(steps)).collect(),
            outline_name,
            unknown,
        }
    }

    /// Whether there is nothing to draw.
    pub(super) fn is_empty(&self) -> bool {
        self.up.is_empty() && self.down.is_empty() && self.outline_kwh < LEAST_KWH
    }

    /// Greatest power above and below the axis.
    pub(super) fn reach(&self) -> (f64, f64) {
        let most = |layers: &[Layer]| {
            layers.last().map_or(0.0, |layer| layer.far.iter().fold(0.0, |most, x| x.abs().max(most)))
        };
        let outline = self.outline.iter().copied().fold(0.0, f64::max);
        (most(&self.up).max(outline), most(&self.down))
    }
}

fn is_unknown(course: &DayCourse, step: usize) -> bool {
    let lists = [&course.generation, &course.diverted, &course.battery, &course.export, &course.import];
    course.export.get(step).is_none()
        || lists.iter().any(|list| list.get(step).is_some_and(|x| !x.is_finite()))
}

/// Mean power of a step per energy of the step.
fn kw_per_kwh(steps: usize) -> f64 {
    steps as f64 / 24.0
}

/// On top of each other, those with anything in them.
fn piled<const N: usize>(parts: [(&'static str, Vec<f64>, Look); N], sign: f64) -> Vec<Layer> {
    let mut layers: Vec<Layer> = Vec::new();
    for (name, kwh, look) in parts {
        let total: f64 = kwh.iter().sum();
        if total < LEAST_KWH {
            continue;
        }
        let near = layers.last().map_or_else(|| vec![0.0; kwh.len()], |layer| layer.far.clone());
        let scale = sign * kw_per_kwh(kwh.len());
        let far = near.iter().zip(&kwh).map(|(near, kwh)| near + kwh * scale).collect();
        layers.push(Layer { name, kwh: total, near, far, look });
    }
    layers
}

/// The ends of the steps on the sheet.
pub(super) fn edges(plot: &Plot, steps: usize) -> Vec<f64> {
    (0..=steps).map(|s| plot.px(24.0 * s as f64 / steps.max(1) as f64)).collect()
}

/// Level in each step, upright between them; runs of nothing are left out.
fn stairs(edges: &[f64], heights: &[f64]) -> Vec<(f64, f64)> {
    let pairs = edges.windows(2).zip(heights);
    pairs.flat_map(|(edge, &y)| [(edge[0], y), (edge[1], y)]).collect()
}

/// A layer: its area, its hatching, the line at its far side.
pub(super) fn draw_layer(canvas: &Canvas<'_>, plot: &Plot, layer: &Layer) -> Drawn {
    let edges = edges(plot, layer.far.len());
    let on_sheet = |list: &[f64]| -> Vec<f64> { list.iter().map(|&kw| plot.py(kw)).collect() };
    let (near, far) = (on_sheet(&layer.near), on_sheet(&layer.far));
    for run in runs_of(layer) {
        let steps = &edges[run.start..=run.end];
        let rim = stairs(steps, &far[run.clone()]);
        let mut area = rim.clone();
        area.extend(stairs(steps, &near[run.clone()]).into_iter().rev());
        canvas.polygon(&area, layer.look.colour, layer.look.alpha)?;
        for s in run {
            let (top, bottom) = (near[s].min(far[s]), near[s].max(far[s]));
            let frame = Frame { left: edges[s], right: edges[s + 1], top, bottom };
            strokes(canvas, frame, layer.look)?;
        }
        canvas.line(&area, layer.look.colour, 0.9, 0.7)?;
    }
    Ok(())
}

/// Runs of steps in which a layer is not empty.
fn runs_of(layer: &Layer) -> Vec<std::ops::Range<usize>> {
    let mut runs: Vec<std::ops::Range<usize>> = Vec::new();
    for (s, (near, far)) in layer.near.iter().zip(&layer.far).enumerate() {
        if (far - near).abs() < 1e-6 {
            continue;
        }
        match runs.last_mut() {
            Some(run) if run.end == s => run.end = s + 1,
            _ => runs.push(s..s + 1),
        }
    }
    runs
}

/// Hatching in step with that of the neighbours, whatever their heights.
fn strokes(canvas: &Canvas<'_>, frame: Frame, look: Look) -> Drawn {
    let Frame { left, right, top, bottom } = frame;
    let from = match look.hatch {
        Hatch::None => return Ok(()),
        Hatch::Upright => left,
        Hatch::Diagonal => left + top,
    };
    let to = if look.hatch == Hatch::Upright { right } else { right + bottom };
    let mut at = (from / STROKES).ceil() * STROKES;
    while at < to {
        let ends = match look.hatch {
            Hatch::Diagonal => {
                let (a, b) = ((at - bottom).max(left), (at - top).min(right));
                [(a, at - a), (b, at - b)]
            }
            _ => [(at, top), (at, bottom)],
        };
        canvas.line(&ends, look.colour, 0.75, 0.7)?;
        at += STROKES;
    }
    Ok(())
}

/// The line around all that the sun made.
pub(super) fn draw_outline(canvas: &Canvas<'_>, plot: &Plot, stack: &Stack) -> Drawn {
    if stack.outline_kwh < LEAST_KWH {
        return Ok(());
    }
    let heights: Vec<f64> = stack.outline.iter().map(|&kw| plot.py(kw)).collect();
    canvas.line(&stairs(&edges(plot, heights.len()), &heights), colour::INK, 1.0, 1.3)
}

/// Steps of which something is not known, hatched over the whole height.
pub(super) fn draw_unknown(canvas: &Canvas<'_>, plot: &Plot, stack: &Stack) -> Drawn {
    let edges = edges(plot, stack.unknown.len());
    for (edge, _) in edges.windows(2).zip(&stack.unknown).filter(|(_, unknown)| **unknown) {
        let frame = Frame { left: edge[0], right: edge[1], ..plot.frame };
        canvas.rect(frame, colour::GREY, 0.25)?;
        canvas.hatch(frame, colour::GREY, 0.8, STROKES)?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn course() -> DayCourse {
        DayCourse {
            steps: 4,
            generation: vec![0.0, 6.0, 12.0, 3.0],
            diverted: vec![0.0, 3.0, 6.0, 0.0],
            battery: vec![0.0, 1.0, 0.0, -2.0],
            export: vec![0.0, 0.0, 4.5, 0.0],
            import: vec![3.0, 0.0, 0.0, 1.0],
            ..DayCourse::default()
        }
    }

    #[test]
    fn layers_add_up_to_what_the_sun_made() {
        let stack = Stack::of(&course());
        // Six hours a step: 12 kWh are 2 kW. The house is left 6 - 3 - 1, 12 - 6 - 4.5 and 3.
        assert_eq!(stack.up[0].far, [0.0, 2.0 / 6.0, 1.5 / 6.0, 0.5]);
        let last = stack.up.last().unwrap();
        assert!(last.far.iter().zip(&stack.outline).all(|(a, b)| (a - b).abs() < 1e-12));
        let sums: Vec<(&str, f64)> = stack.up.iter().map(|layer| (layer.name, layer.kwh)).collect();
        assert_eq!(sums, [("house", 6.5), ("water", 9.0), ("battery", 1.0), ("to the grid", 4.5)]);
        assert_eq!(stack.down.len(), 2);
        assert_eq!(stack.down[1].far, [-0.5, 0.0, 0.0, -0.5]);
        assert_eq!(stack.reach(), (2.0, 0.5));
    }

    #[test]
    fn without_generation_the_outline_is_what_would_be_exported() {
        let mut course = course();
        course.generation.clear();
        course.export_before = vec![0.0, 4.0, f64::NAN, 0.0];
        course.import[0] = f64::NAN;
        let stack = Stack::of(&course);
        assert_eq!((stack.up[0].name, stack.outline_kwh), ("water", 4.0));
        assert_eq!(stack.unknown, [true, false, false, false]);
    }

    #[test]
    fn a_layer_is_drawn_where_it_is() {
        let stack = Stack::of(&course());
        assert_eq!(runs_of(&stack.down[1]), [0..1, 3..4]);
    }
}
