//! Draws of yearly paths: scalar parts first, then year by year the courses.

use super::groups::Group;
use super::maths::{self, kernels};
use super::path_plan::{ChangePlan, Part, PathPlan};
use super::plan::{Plan, Scratch};

/// Columns to work in.
#[derive(Debug, Default)]
pub(crate) struct PathScratch {
    /// Shocks of each member of a group, all years when they go through the bridge.
    shocks: Vec<f64>,
    scores: Vec<f64>,
    walk: Vec<f64>,
    /// Deviations, growth powers and growth of each member.
    state: Vec<f64>,
    mixed: Vec<f64>,
}

fn room(buffer: &mut Vec<f64>, n: usize) -> &mut [f64] {
    if buffer.len() < n {
        buffer.resize(n, 0.0);
    }
    &mut buffer[..n]
}

#[inline(always)]
fn add_scaled(weight: f64, from: &[f64], to: &mut [f64]) {
    for (t, f) in to.iter_mut().zip(from) {
        *t += weight * *f;
    }
}

#[inline(always)]
fn step(law: (f64, f64), shift: f64, scale: f64, z: &[f64], d: &mut [f64], out: &mut [f64]) {
    let (phi, s) = law;
    for ((o, d), z) in out.iter_mut().zip(d).zip(z) {
        *d = phi * *d + s * *z;
        *o = scale * maths::exp(*d + shift);
    }
}

#[inline(always)]
fn grow(growth: &[f64], power: &mut [f64], out: &mut [f64]) {
    for ((o, p), g) in out.iter_mut().zip(power).zip(growth) {
        *p *= 1.0 + *g;
        *o *= *p;
    }
}

#[inline(always)]
fn pull(share: f64, ln_level: f64, start: &[f64], out: &mut [f64]) {
    for (o, x) in out.iter_mut().zip(start) {
        *o *= maths::exp(share * (ln_level - maths::ln(*x)));
    }
}

#[inline(always)]
fn change(now: f64, year: &[f64], scale: &[f64], out: &mut [f64]) {
    for ((o, y), s) in out.iter_mut().zip(year).zip(scale) {
        *o = if *y <= now { *o * *s } else { *o };
    }
}

kernels! {
    /// Adds a multiple of one column to another.
    pub(crate) fn add_scaled(weight: f64, from: &[f64], to: &mut [f64]) = add_scaled;
    /// A year of deviations (phi, s), and what they make of a known scale.
    pub(crate) fn path_step(law: (f64, f64), shift: f64, scale: f64, z: &[f64], d: &mut [f64], out: &mut [f64]) = step;
    /// A year of growth.
    pub(crate) fn path_grow(growth: &[f64], power: &mut [f64], out: &mut [f64]) = grow;
    /// The pull of a level from a drawn start.
    pub(crate) fn path_pull(share: f64, ln_level: f64, start: &[f64], out: &mut [f64]) = pull;
    /// A change, where its year has come.
    pub(crate) fn path_change(now: f64, year: &[f64], scale: &[f64], out: &mut [f64]) = change;
}

impl PathPlan {
    /// Start, growth and the parts of changes, into their columns.
    pub(crate) fn draw_scalars(
        &self,
        plan: &Plan,
        first_run: u64,
        n: usize,
        out: &mut [f64],
        stride: usize,
        scratch: &mut Scratch,
    ) {
        for (part, column) in [(self.start, self.start_column), (self.growth, self.growth_column)] {
            if let (Part::Drawn(idx), Some(c)) = (part, column) {
                plan.scalar(idx, first_run, &mut out[c * stride..c * stride + n], scratch);
            }
        }
        for change in &self.changes {
            change.draw(plan, first_run, n, &mut out[change.column * stride..], stride, scratch);
        }
    }
}

impl ChangePlan {
    /// The year (infinity if it does not come) and the scale; `out` begins at the year's column.
    fn draw(
        &self,
        plan: &Plan,
        first_run: u64,
        n: usize,
        out: &mut [f64],
        stride: usize,
        scratch: &mut Scratch,
    ) {
        let (years, scales) = out.split_at_mut(stride);
        let (years, scales) = (&mut years[..n], &mut scales[..n]);
        fill_part(plan, self.scale, first_run, scales, scratch);
        fill_part(plan, self.year, first_run, years, scratch);
        let mut comes = std::mem::take(&mut scratch.paths.mixed);
        let flags = room(&mut comes, n);
        fill_part(plan, self.comes, first_run, flags, scratch);
        for (year, flag) in years.iter_mut().zip(flags.iter()) {
            *year = if *flag > 0.0 { year.floor() } else { f64::INFINITY };
        }
        scratch.paths.mixed = comes;
    }
}

fn fill_part(plan: &Plan, part: Part, first_run: u64, out: &mut [f64], scratch: &mut Scratch) {
    match part {
        Part::Known(x) => out.fill(x),
        Part::Drawn(idx) => plan.scalar(idx, first_run, out, scratch),
    }
}

/// Courses of all wanted paths.
pub(crate) fn draw_courses(
    plan: &Plan,
    wanted: &dyn Fn(usize) -> bool,
    first_run: u64,
    n: usize,
    out: &mut [f64],
    stride: usize,
    scratch: &mut Scratch,
) {
    let mut block = Block { plan, first_run, n, stride };
    for group in &plan.shock_groups {
        block.bundle(&group.members, Some(group), wanted, out, scratch);
    }
    for k in 0..plan.paths.len() {
        if !plan.shock_groups.iter().any(|g| g.members.contains(&k)) {
            block.bundle(&[k], None, wanted, out, scratch);
        }
    }
}

/// Runs `first_run` to `first_run + n - 1` of a plan.
struct Block<'a> {
    plan: &'a Plan,
    first_run: u64,
    n: usize,
    stride: usize,
}

impl Block<'_> {
    /// Courses of paths whose shocks are linked, or of one path.
    fn bundle(
        &mut self,
        members: &[usize],
        group: Option<&Group>,
        wanted: &dyn Fn(usize) -> bool,
        out: &mut [f64],
        scratch: &mut Scratch,
    ) {
        let reach = |place: usize| group.map_or(place, |group| group.reach(place));
        let shown = (0..members.len()).filter(|&place| wanted(members[place]));
        let Some(last) = shown.map(reach).max() else { return };
        let needed: Vec<&PathPlan> = members[..=last].iter().filter_map(|&m| self.plan.path(m)).collect();
        let n = self.n;
        let mut work = std::mem::take(&mut scratch.paths);
        let years = needed.iter().map(|p| p.years()).max().unwrap_or(0);
        let bridged = needed.iter().any(|p| p.bridge.is_some());
        let per_member = if bridged { years * n } else { n };
        let shocks = room(&mut work.shocks, needed.len() * per_member);
        let mixed = room(&mut work.mixed, n);
        let state = room(&mut work.state, needed.len() * 2 * n);
        for member in state.chunks_exact_mut(2 * n) {
            let (deviation, power) = member.split_at_mut(n);
            deviation.fill(0.0);
            power.fill(1.0);
        }
        if bridged {
            for (path, own) in needed.iter().zip(shocks.chunks_exact_mut(per_member)) {
                self.bridged_shocks(path, own, &mut work.scores, &mut work.walk, scratch);
            }
        }
        for t in 0..years {
            if !bridged {
                for (path, own) in needed.iter().zip(shocks.chunks_exact_mut(per_member)) {
                    self.shock(path, t, own, scratch);
                }
            }
            for (place, path) in needed.iter().enumerate() {
                let is_out = members.get(place).is_some_and(|m| wanted(*m));
                if !is_out || t >= path.years() {
                    continue;
                }
                let at = if bridged { t * n } else { 0 };
                let own = |m: usize| m * per_member + at..m * per_member + at + n;
                let weights = group.map(|g| if t == 0 { start_row(g, place) } else { g.row(place) });
                let z: &[f64] = match weights {
                    Some(weights) if !weights.is_empty() => {
                        mixed.fill(0.0);
                        for (m, &w) in weights.iter().enumerate().take(needed.len()) {
                            if w != 0.0 {
                                self.plan.vectors.add_scaled(w, &shocks[own(m)], mixed);
                            }
                        }
                        mixed
                    }
                    _ => &shocks[own(place)],
                };
                let member = &mut state[place * 2 * n..(place + 1) * 2 * n];
                self.year(path, t, z, member, out);
            }
        }
        scratch.paths = work;
    }

    /// One year's shocks of a path, straight from its stream.
    fn shock(&self, path: &PathPlan, t: usize, out: &mut [f64], scratch: &mut Scratch) {
        let Some((component, part)) = path.shock.as_ref().zip(part_of(path, t)) else { return };
        let Plan { design, vectors, .. } = self.plan;
        component.uniforms(design, *vectors, part as u32, self.first_run, out, &mut scratch.replicate);
        vectors.normal_quantile(out);
    }

    /// All years' shocks of a path, through the bridge; year t at t * n.
    fn bridged_shocks(
        &self,
        path: &PathPlan,
        out: &mut [f64],
        scores: &mut Vec<f64>,
        walk: &mut Vec<f64>,
        scratch: &mut Scratch,
    ) {
        let Some((component, bridge)) = path.shock.as_ref().zip(path.bridge.as_ref()) else { return };
        let n = self.n;
        let scores = room(scores, component.parts * n);
        for (part, column) in scores.chunks_exact_mut(n).enumerate() {
            let Plan { design, vectors, .. } = self.plan;
            component.uniforms(design, *vectors, part as u32, self.first_run, column, &mut scratch.replicate);
            vectors.normal_quantile(column);
        }
        let first = if path.deviations.from_start { 0 } else { n };
        bridge.shocks(n, scores, room(walk, component.parts * n), &mut out[first..]);
    }

    /// One year of a path's course, from its shocks `z`.
    fn year(&self, path: &PathPlan, t: usize, z: &[f64], state: &mut [f64], out: &mut [f64]) {
        let (n, stride, vectors) = (self.n, self.stride, self.plan.vectors);
        let (deviation, power) = state.split_at_mut(n);
        let at = |c: usize| c * stride..c * stride + n;
        let (scale, shift) = (path.scales[t], path.shifts[t]);
        // The course's columns stand between growth and changes.
        let (before, rest) = out.split_at_mut((path.course + t) * stride);
        let (course, after) = rest.split_at_mut(n);
        if path.shock.is_some() && part_of(path, t).is_some() {
            let law = (path.deviations.phi, path.deviations.s);
            vectors.path_step(law, shift, scale, z, deviation, course);
        } else {
            course.fill(scale);
        }
        if let (Some(c), true) = (path.growth_column, t > 0) {
            vectors.path_grow(&before[at(c)], power, course);
        }
        if let (Some((shares, ln_level)), Some(c)) = (&path.pull, path.start_column) {
            vectors.path_pull(shares[t], *ln_level, &before[at(c)], course);
        }
        let now = path.first_year + t as f64;
        for change in &path.changes {
            // `after` begins n values into the column of this year.
            let year = (change.column - path.course - t) * stride - n;
            let scale = year + stride;
            vectors.path_change(now, &after[year..year + n], &after[scale..scale + n], course);
        }
    }
}

/// Weights in year 0; a path without a shock there has none.
fn start_row(group: &Group, place: usize) -> &[f64] {
    group.in_start_year.get(place).map_or(&[], Vec::as_slice)
}

/// Which of a path's shocks acts in year t.
fn part_of(path: &PathPlan, t: usize) -> Option<usize> {
    if path.deviations.from_start { Some(t) } else { t.checked_sub(1) }
}
