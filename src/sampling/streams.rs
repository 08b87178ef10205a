//! Uniforms of one component of a sample under the design's method.

use super::design::{Design, Method};
use super::hypercube::{Cells, Permutation};
use super::maths::Vectors;
use super::philox::{Key, Purpose, mix};
use super::sobol::{Directions, Scramble, Walk};

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
            parts,
            name,
        }
    }

    pub(crate) fn set_coordinates(&mut self, coordinates: Vec<Option<Coordinate>>) {
        self.coordinates = coordinates;
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
            Method::LatinHypercube => {
                plain(&self.keys, vectors, part, first, out, scratch);
                self.stratify(design, part, first, out);
            }
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

    /// Moves each uniform into its run's cell.
    fn stratify(&self, design: &Design, part: u32, first: u64, out: &mut [f64]) {
        let n = design.runs_per_replicate();
        let cells = Cells::new(n);
        for (replicate, key) in self.strata_keys.iter().enumerate() {
            let Some((start, index)) = share(first, self.strata_keys.len(), replicate) else { continue };
            let mut order = Permutation::new(key.part(part), n);
            let mut epoch = index / n;
            let mut index = index % n;
            if epoch > 0 {
                order = Permutation::new(Key(mix(key.part(part).0 ^ epoch)), n);
            }
            for value in out.iter_mut().skip(start).step_by(self.strata_keys.len()) {
                if index == n {
                    // Past the hypercube's runs another one begins.
                    epoch += 1;
                    index = 0;
                    order = Permutation::new(Key(mix(key.part(part).0 ^ epoch)), n);
                }
                *value = cells.place(order.at(index), *value);
                index += 1;
            }
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
    if let [key] = keys {
        vectors.uniform_fill(*key, part, first, out);
        return;
    }
    let each = out.len() / keys.len().max(1) + 1;
    if scratch.len() < each {
        scratch.resize(each, 0.0);
    }
    for (replicate, key) in keys.iter().enumerate() {
        let Some((start, index)) = share(first, keys.len(), replicate) else { continue };
        let count = out.len().saturating_sub(start).div_ceil(keys.len());
        let own = &mut scratch[..count];
        vectors.uniform_fill(*key, part, index, own);
        for (value, u) in out.iter_mut().skip(start).step_by(keys.len()).zip(own.iter()) {
            *value = *u;
        }
    }
}
