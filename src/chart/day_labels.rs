//! Where the names of areas stand: inside where there is room, else in the free space beside the stack, with a line to
//! the area.

use super::canvas::{Align, Canvas, Drawn, Frame, Ink, colour};

/// Half the height of a label.
const HALF: f64 = 7.0;
/// Free space around a label.
const AIR: f64 = 3.0;

/// A text that belongs to an area or a line.
pub(super) struct Wanted {
    pub(super) text: String,
    /// Ink on white.
    pub(super) ink: Ink,
    /// Ink on the area; none for a line, which has no inside. With a pale ground where the area is hatched.
    pub(super) inside: Option<(Ink, bool)>,
    /// Upper and lower end of the area in each step, in points.
    pub(super) tops: Vec<f64>,
    pub(super) bottoms: Vec<f64>,
}

/// The free space that labels may stand in: the frame, less what lies between `tops` and `bottoms`.
pub(super) struct Space {
    pub(super) frame: Frame,
    /// Ends of the steps.
    pub(super) edges: Vec<f64>,
    /// Of all areas together, in each step.
    pub(super) tops: Vec<f64>,
    pub(super) bottoms: Vec<f64>,
}

/// A label and where it stands.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Placed {
    index: usize,
    x: f64,
    y: f64,
    half_width: f64,
    /// The place in the area that a line leads to.
    to: Option<(f64, f64)>,
}

impl Placed {
    fn frame(&self) -> Frame {
        Frame {
            left: self.x - self.half_width,
            right: self.x + self.half_width,
            top: self.y - HALF,
            bottom: self.y + HALF,
        }
    }
    /// Where the line leaves the label.
    fn from(&self, (x, y): (f64, f64)) -> (f64, f64) {
        let Frame { left, right, top, bottom } = self.frame();
        (x.clamp(left, right), if y > self.y { bottom } else { top })
    }
}

/// A place for every label, or none if there is no room for one of them.
pub(super) fn places(wanted: &[Wanted], space: &Space) -> Option<Vec<Placed>> {
    let mut placed: Vec<Placed> = Vec::new();
    for (index, label) in wanted.iter().enumerate() {
        placed.extend(inside(index, label, space));
    }
    for (index, label) in wanted.iter().enumerate() {
        if !placed.iter().any(|p| p.index == index) {
            let place = outside(index, label, space, &placed)?;
            placed.push(place);
        }
    }
    Some(placed)
}

/// In the thickest part of the area that is as wide as the text.
fn inside(index: usize, label: &Wanted, space: &Space) -> Option<Placed> {
    let (ink, _) = label.inside?;
    let width = ink.width(&label.text) + 10.0;
    let steps = label.tops.len();
    let mut best: Option<(f64, Placed)> = None;
    for start in 0..steps {
        let Some(end) = (start + 1..=steps).find(|&end| space.edges[end] - space.edges[start] >= width)
        else {
            break;
        };
        let top = label.tops[start..end].iter().copied().fold(f64::MIN, f64::max);
        let bottom = label.bottoms[start..end].iter().copied().fold(f64::MAX, f64::min);
        let room = bottom - top;
        if room >= 2.0 * HALF + 1.0 && best.as_ref().is_none_or(|(most, _)| room > *most) {
            let x = (space.edges[start] + space.edges[end]) / 2.0;
            let half_width = ink.width(&label.text) / 2.0;
            best = Some((room, Placed { index, x, y: (top + bottom) / 2.0, half_width, to: None }));
        }
    }
    best.map(|(_, placed)| placed)
}

/// The free place nearest to a thick part of the area.
fn outside(index: usize, label: &Wanted, space: &Space, placed: &[Placed]) -> Option<Placed> {
    let half_width = label.ink.width(&label.text) / 2.0;
    let targets = targets(label, space);
    let mut best: Option<(f64, Placed)> = None;
    let Frame { left, right, top, bottom } = space.frame;
    let mut y = top + HALF;
    while y <= bottom - HALF {
        let mut x = left + half_width + AIR;
        while x <= right - half_width - AIR {
            let mut place = Placed { index, x, y, half_width, to: None };
            if space.is_free(place.frame()) && !placed.iter().any(|other| touch(&place, other)) {
                for &to in &targets {
                    let from = place.from(to);
                    let far = distance(from, to);
                    // Of two lines as long the more upright one.
                    let cost = far + 0.4 * (from.0 - to.0).abs();
                    let crossed = placed.iter().any(|other| {
                        crosses(from, to, other.frame())
                            || other.to.is_some_and(|end| crosses(other.from(end), end, place.frame()))
                    });
                    if !crossed && best.as_ref().is_none_or(|(least, _)| cost < *least) {
                        place.to = Some(to);
                        best = Some((cost, place.clone()));
                    }
                }
            }
            x += 6.0;
        }
        y += 4.0;
    }
    best.map(|(_, placed)| placed)
}

/// Middles of the steps in which the area is thick; those of a line where it is high.
fn targets(label: &Wanted, space: &Space) -> Vec<(f64, f64)> {
    let thick: Vec<f64> = label.tops.iter().zip(&label.bottoms).map(|(top, bottom)| bottom - top).collect();
    let most = thick.iter().copied().fold(0.0, f64::max);
    let part = if label.inside.is_some() { 0.6 } else { 0.4 };
    let middles = space.edges.windows(2).map(|edge| (edge[0] + edge[1]) / 2.0);
    let ends = label.tops.iter().zip(&label.bottoms);
    let all = middles.zip(ends).zip(thick).filter(|(_, thick)| *thick >= part * most);
    let place = |top: f64, bottom: f64| if label.inside.is_some() { (top + bottom) / 2.0 } else { top };
    all.map(|((x, (&top, &bottom)), _)| (x, place(top, bottom))).collect()
}

impl Space {
    /// Whether a box, with some air, lies on none of the areas and not on the axis.
    fn is_free(&self, boxed: Frame) -> bool {
        let covered = self.edges.windows(2).zip(self.tops.iter().zip(&self.bottoms));
        covered
            .filter(|(edge, _)| edge[0] < boxed.right + AIR && edge[1] > boxed.left - AIR)
            .all(|(_, (&top, &bottom))| boxed.bottom + AIR <= top || boxed.top - AIR >= bottom)
    }
}

fn touch(a: &Placed, b: &Placed) -> bool {
    let (a, b) = (a.frame(), b.frame());
    a.left < b.right + 2.0 * AIR
        && b.left < a.right + 2.0 * AIR
        && a.top < b.bottom + 1.0
        && b.top < a.bottom + 1.0
}

fn distance(a: (f64, f64), b: (f64, f64)) -> f64 {
    let (dx, dy) = (a.0 - b.0, a.1 - b.1);
    (dx * dx + dy * dy).sqrt()
}

/// Whether a line passes through a box, looked at every few points.
fn crosses(from: (f64, f64), to: (f64, f64), boxed: Frame) -> bool {
    let pieces = (distance(from, to) / 3.0).ceil().clamp(1.0, 400.0) as usize;
    (0..=pieces).any(|k| {
        let t = k as f64 / pieces as f64;
        let (x, y) = (from.0 + (to.0 - from.0) * t, from.1 + (to.1 - from.1) * t);
        x > boxed.left - 2.0 && x < boxed.right + 2.0 && y > boxed.top && y < boxed.bottom
    })
}

pub(super) fn draw(canvas: &Canvas<'_>, wanted: &[Wanted], placed: &[Placed]) -> Drawn {
    for place in placed {
        let Some(label) = wanted.get(place.index) else { continue };
        match (place.to, label.inside) {
            (Some(to), inside) => {
                canvas.line(&[place.from(to), to], colour::INK, 1.0, 0.8)?;
                if inside.is_some() {
                    canvas.dot(to.0, to.1, 2.4, colour::WHITE)?;
                    canvas.dot(to.0, to.1, 1.6, colour::INK)?;
                }
                canvas.text(&label.text, place.x, place.y, Align::Middle, label.ink)?;
            }
            (None, Some((ink, true))) => {
                canvas.boxed_text(&label.text, place.x, place.y, Align::Middle, ink)?;
            }
            (None, Some((ink, false))) => {
                canvas.text(&label.text, place.x, place.y, Align::Middle, ink)?;
            }
            (None, None) => {}
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::font;
    use crate::chart::layout::LABEL;

    fn space() -> Space {
        // Ten steps of 20 points; areas from 60 to 100 in the middle four.
        let of = |k: usize, inner: f64| if (3..7).contains(&k) { inner } else { 100.0 };
        Space {
            frame: Frame { left: 0.0, top: 0.0, right: 200.0, bottom: 120.0 },
            edges: (0..=10).map(|k| 20.0 * f64::from(k)).collect(),
            tops: (0..10).map(|k| of(k, 60.0)).collect(),
            bottoms: vec![100.0; 10],
        }
    }

    fn label(text: &str, space: &Space) -> Wanted {
        Wanted {
            text: text.into(),
            ink: LABEL,
            inside: Some((LABEL, false)),
            tops: space.tops.clone(),
            bottoms: space.bottoms.clone(),
        }
    }

    #[test]
    fn a_short_name_stands_inside_and_a_long_one_outside() {
        font::register().unwrap();
        let space = space();
        let placed = places(&[label("water", &space)], &space).unwrap();
        assert_eq!((placed[0].x, placed[0].y, placed[0].to), (90.0, 80.0, None));
        let long = "water, 5.2 kWh until noon";
        let placed = places(&[label(long, &space), label(long, &space)], &space).unwrap();
        assert!(placed.iter().all(|p| p.to.is_some() && space.is_free(p.frame())));
        assert!(!touch(&placed[0], &placed[1]));
    }

    #[test]
    fn where_there_is_no_room_it_says_so() {
        font::register().unwrap();
        let mut space = space();
        space.tops = vec![10.0; 10];
        let mut thin = label("a name that is longer than the sheet is wide, by far", &space);
        thin.bottoms = vec![12.0; 10];
        assert_eq!(places(&[thin], &space), None);
    }

    #[test]
    fn a_line_through_a_box_is_seen() {
        let boxed = Frame { left: 10.0, top: 10.0, right: 20.0, bottom: 20.0 };
        assert!(crosses((0.0, 0.0), (30.0, 30.0), boxed));
        assert!(!crosses((0.0, 30.0), (9.0, 40.0), boxed));
    }
}
