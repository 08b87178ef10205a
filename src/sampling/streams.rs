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
        let changes = directions.changes();
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
            Method::Sobol => self.sobol(design, part, first, out),
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

    fn sobol(&self, design: &Design, part: u32, first: u64, out: &mut [f64]) {
        let coordinate = self.coordinates.get(part as usize).and_then(Option::as_ref);
        let replicates = design.replicates as usize;
        for (replicate, key) in self.scramble_keys.iter().enumerate() {
            let Some((start, index)) = share(first, replicates, replicate) else { continue };
            let places = out.iter_mut().skip(start).step_by(replicates);
            let key = key.part(part);
            match coordinate {
                Some(c) => along(c, key, index, places),
                None => beyond_table(key, index, places),
            }
        }
    }
}

/// Coordinates of consecutive indices; past 2^32 of them another scramble begins.
fn along<'a>(c: &Coordinate, key: Key, index: u64, places: impl Iterator<Item = &'a mut f64>) {
    let mut epoch = index >> 32;
    let mut scramble = Scramble::new(epoch_key(key, epoch));
    let mut walk = Walk::new(&c.directions, &c.changes, index as u32);
    for (index, value) in (index..).zip(places) {
        if index >> 32 != epoch {
            epoch = index >> 32;
            scramble = Scramble::new(epoch_key(key, epoch));
        }
        *value = scramble.uniform(walk.next_point());
    }
}

/// Beyond the table: a one-dimensional sequence in an order of its own, kept in
/// blocks of powers of two (Burley 2020).
fn beyond_table<'a>(key: Key, index: u64, places: impl Iterator<Item = &'a mut f64>) {
    let order = Scramble::new(key.part(u32::MAX));
    for (index, value) in (index..).zip(places) {
        let scramble = Scramble::new(epoch_key(key, index >> 32));
        *value = scramble.uniform(order.shuffle(index as u32).reverse_bits());
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
