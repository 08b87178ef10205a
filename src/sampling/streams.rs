//! Uniforms of one component of a sample under the design's method.

use std::sync::Arc;

use super::design::{Design, Method};
use super::hypercube::{CHUNK, Cells, Permutation};
use super::maths::Vectors;
use super::philox::{Key, Purpose, mix};
use super::sobol::{Directions, Scramble, Walk};
use super::ties::{SecondTies, Tie};

/// One named thing that is drawn: an input, or a part of a path.
#[derive(Debug, Clone)]
pub(crate) struct Component {
    pub(crate) name: String,
    /// Key of each replicate.
    keys: Vec<Key>,
    renewal_keys: Vec<Key>,
    strata_keys: Vec<Key>,
    scramble_keys: Vec<Key>,
    /// Sobol dimension of each part; none beyond the table.
    coordinates: Vec<Option<Coordinate>>,
    /// Rearranged strata of each part, with the place in them; empty or none where it has its own order.
    ties: Vec<Option<(Arc<Tie>, usize)>>,
    pub(crate) parts: usize,
}

/// A dimension of the Sobol sequence.
#[derive(Debug, Clone)]
pub(crate) struct Coordinate {
    directions: Directions,
    changes: [u32; 33],
}

impl Coordinate {
    pub(crate) fn new(dimension: u16) -> Option<Coordinate> {
        let directions = Directions::new(dimension)?;
        let changes = directions.reversed_changes();
        Some(Coordinate { directions, changes })
    }
}

/// Parts of the second matrix's key below which the strata and the scrambles have theirs.
const STRATA: u32 = u32::MAX;
const SCRAMBLE: u32 = u32::MAX - 1;

impl Component {
    pub(crate) fn new(name: String, purpose: Purpose, parts: usize, design: &Design) -> Component {
        let keys =
            |purpose| (0..design.replicates).map(|r| Key::new(design.seed, &name, purpose, r)).collect();
        Component {
            keys: keys(purpose),
            renewal_keys: keys(Purpose::Renewal),
            strata_keys: keys(Purpose::Strata),
            scramble_keys: keys(Purpose::Scramble),
            coordinates: Vec::new(),
            ties: Vec::new(),
            parts,
            name,
        }
    }

    pub(crate) fn set_coordinates(&mut self, coordinates: Vec<Option<Coordinate>>) {
        self.coordinates = coordinates;
    }

    /// The same component in the second matrix of a variance design: other keys for its values, strata and scrambles.
    /// Its dimensions are still to be given; its renewals stay those of the first.
    pub(crate) fn second(&self, design: &Design, ties: &mut SecondTies) -> Component {
        let key = |r| Key::new(design.seed, &self.name, Purpose::SecondMatrix, r);
        let below = |part: u32| (0..design.replicates).map(|r| key(r).part(part)).collect();
        let tied = |own: &Option<(Arc<Tie>, usize)>| own.as_ref().map(|(tie, place)| (ties.of(tie), *place));
        Component {
            ties: self.ties.iter().map(tied).collect(),
            keys: (0..design.replicates).map(key).collect(),
            strata_keys: below(STRATA),
            scramble_keys: below(SCRAMBLE),
            coordinates: Vec::new(),
            ..self.clone()
        }
    }

    /// Dimensions of the Sobol sequence that it has or should have; 0 by other methods.
    pub(crate) fn dimensions(&self) -> usize {
        self.coordinates.len()
    }

    /// Those that lie beyond the table.
    pub(crate) fn beyond_table(&self) -> usize {
        self.coordinates.iter().filter(|c| c.is_none()).count()
    }

    /// Key of the order of the strata.
    pub(crate) fn strata_key(&self, replicate: usize, part: u32) -> Key {
        self.strata_keys.get(replicate).map_or(Key(0), |key| key.part(part))
    }

    /// Takes the strata of `part` from a tie.
    pub(crate) fn tie(&mut self, part: u32, tie: Arc<Tie>, place: usize) {
        self.ties.resize(self.parts, None);
        if let Some(own) = self.ties.get_mut(part as usize) {
            *own = Some((tie, place));
        }
    }

    /// Fills `out` with the uniforms of runs `first`, `first + 1`, ... for `part`.
    pub(crate) fn uniforms(
        &self,
        design: &Design,
        vectors: Vectors,
        part: u32,
        first: u64,
        out: &mut [f64],
        scratch: &mut Vec<f64>,
    ) {
        match design.method {
            Method::Random => plain(&self.keys, vectors, part, first, out, scratch),
            Method::LatinHypercube => self.hypercube(design, vectors, part, first, out, scratch),
            Method::Sobol => self.sobol(design, vectors, part, first, out),
        }
    }

    /// Fresh draws, independent of the method's points.
    pub(crate) fn renewals(
        &self,
        vectors: Vectors,
        part: u32,
        first: u64,
        out: &mut [f64],
        scratch: &mut Vec<f64>,
    ) {
        plain(&self.renewal_keys, vectors, part, first, out, scratch);
    }

    /// A uniform in each run's cell.
    fn hypercube(
        &self,
        design: &Design,
        vectors: Vectors,
        part: u32,
        first: u64,
        out: &mut [f64],
        scratch: &mut Vec<f64>,
    ) {
        let n = design.runs_per_replicate();
        taking_turns(self.keys.len(), first, out, scratch, |replicate, index, own| {
            let Some(key) = self.keys.get(replicate) else { return };
            vectors.uniform_fill(*key, part, index, own);
            self.stratify(vectors, n, replicate, part, index, own);
        });
    }

    /// Moves the uniforms of a replicate's indices into their cells.
    fn stratify(&self, vectors: Vectors, n: u64, replicate: usize, part: u32, first: u64, own: &mut [f64]) {
        let cells = Cells::new(n);
        let key = self.strata_key(replicate, part);
        let tie = self.ties.get(part as usize).and_then(Option::as_ref);
        let mut strata = [0_u64; CHUNK];
        let (mut index, mut rest) = (first, own);
        let mut order: Option<(u64, Permutation)> = None;
        while !rest.is_empty() {
            // Past the hypercube's runs another one begins.
            let (epoch, at) = (index / n, index % n);
            let count = rest.len().min(CHUNK).min(usize::try_from(n - at).unwrap_or(CHUNK));
            let (now, later) = rest.split_at_mut(count);
            let strata = &mut strata[..count];
            if let Some((tie, place)) = tie {
                tie.fill(replicate, *place, epoch, at, strata);
            } else {
                let own = order.filter(|(e, _)| *e == epoch).map(|(_, order)| order);
                let own = own.unwrap_or_else(|| Permutation::new(epoch_key(key, epoch), n));
                own.fill(vectors, at, strata);
                order = Some((epoch, own));
            }
            vectors.place_all(cells, strata, now);
            index += count as u64;
            rest = later;
        }
    }

    /// Scrambled Sobol points. All replicates share the points of an index, so
    /// those are made once for a few indices and scrambled for each replicate.
    fn sobol(&self, design: &Design, vectors: Vectors, part: u32, first: u64, out: &mut [f64]) {
        let coordinate = self.coordinates.get(part as usize).and_then(Option::as_ref);
        let r = u64::from(design.replicates);
        let end = first + out.len() as u64;
        let mut index = first / r;
        let mut walk = coordinate.map(|c| Walk::new(&c.directions, &c.changes, index as u32));
        let mut points = [0_u64; FEW];
        let mut values = [0.0_f64; FEW];
        while index * r < end {
            // Past 2^32 indices another scramble begins.
            let before_next = (1 << 32) - (index & 0xFFFF_FFFF);
            let count = (end - index * r).div_ceil(r).min(FEW as u64).min(before_next);
            if let Some(walk) = &mut walk {
                points[..count as usize].fill_with(|| walk.next_reversed());
            }
            for (replicate, key) in self.scramble_keys.iter().enumerate() {
                let run = index * r + replicate as u64;
                let (skip, start) = if run < first { (1, run + r) } else { (0, run) };
                if start >= end {
                    continue;
                }
                let key = key.part(part);
                if walk.is_none() {
                    beyond_table(key, index as u32, &mut points[..count as usize]);
                }
                let scramble = Scramble::new(epoch_key(key, index >> 32));
                let own = skip..count as usize;
                vectors.scramble_fill(scramble, &points[own.clone()], &mut values[own.clone()]);
                let places = out.iter_mut().skip((start - first) as usize).step_by(r as usize);
                for (place, value) in places.zip(&values[own]) {
                    *place = *value;
                }
            }
            index += count;
        }
    }
}

/// Indices done at a time.
const FEW: usize = 64;

/// Beyond the table: a one-dimensional sequence in an order of its own, kept in
/// blocks of powers of two (Burley 2020).
fn beyond_table(key: Key, index: u32, points: &mut [u64]) {
    let order = Scramble::new(key.part(u32::MAX));
    for (point, i) in points.iter_mut().zip(index..=u32::MAX) {
        // A van der Corput point with its bits reversed is the index itself.
        *point = u64::from(order.shuffle(i));
    }
}

fn epoch_key(key: Key, epoch: u64) -> Key {
    if epoch == 0 { key } else { Key(mix(key.0 ^ epoch)) }
}

/// First place of a replicate among runs `first`, `first + 1`, ..., and the index there.
fn share(first: u64, replicates: usize, replicate: usize) -> Option<(usize, u64)> {
    let r = replicates as u64;
    let skip = (replicate as u64 + r - first % r) % r;
    Some((usize::try_from(skip).ok()?, (first + skip) / r))
}

/// Uniforms of each replicate's own stream, runs taking turns.
fn plain(keys: &[Key], vectors: Vectors, part: u32, first: u64, out: &mut [f64], scratch: &mut Vec<f64>) {
    taking_turns(keys.len(), first, out, scratch, |replicate, index, own| {
        if let Some(key) = keys.get(replicate) {
            vectors.uniform_fill(*key, part, index, own);
        }
    });
}

/// Fills the places of each replicate in `out` by `fill(replicate, first index, its values)`, runs taking turns.
fn taking_turns(
    replicates: usize,
    first: u64,
    out: &mut [f64],
    scratch: &mut Vec<f64>,
    mut fill: impl FnMut(usize, u64, &mut [f64]),
) {
    if replicates == 1 {
        fill(0, first, out);
        return;
    }
    let each = out.len() / replicates.max(1) + 1;
    if scratch.len() < each {
        scratch.resize(each, 0.0);
    }
    for replicate in 0..replicates {
        let Some((start, index)) = share(first, replicates, replicate) else { continue };
        let count = out.len().saturating_sub(start).div_ceil(replicates);
        let own = &mut scratch[..count];
        fill(replicate, index, own);
        for (value, u) in out.iter_mut().skip(start).step_by(replicates).zip(own.iter()) {
            *value = *u;
        }
    }
}
