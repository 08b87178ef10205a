//! Random numbers of a batch of runs: weather, draw-off, appliances.
//!
//! A number is a pure function of the seed, the name of the stream, a part and the run: never of the batch. Runs of a
//! batch are lanes; lane `l` is run `first + l`.

use crate::sampling::Vectors;
use crate::sampling::philox::{Key, Purpose, uniform_at};

/// The streams of a batch of runs.
#[derive(Debug, Clone, Copy)]
pub struct Chance<'a> {
    /// Seed of the study.
    pub seed: u64,
    /// Name under which its streams are kept apart from others.
    pub name: &'a str,
    /// Run of the first lane.
    pub first: u64,
    /// Lanes.
    pub lanes: usize,
    /// Which compiled form of the loops is used.
    pub vectors: Vectors,
}

/// One stream.
#[derive(Debug, Clone, Copy)]
pub struct Stream {
    key: Key,
    first: u64,
    lanes: usize,
    vectors: Vectors,
}

impl Chance<'_> {
    /// The stream for `what`, such as "weather".
    pub fn stream(&self, what: &str) -> Stream {
        let name = format!("{}.{what}", self.name);
        let key = Key::new(self.seed, &name, Purpose::Simulated, 0);
        Stream { key, first: self.first, lanes: self.lanes, vectors: self.vectors }
    }
}

impl Stream {
    /// A uniform in (0, 1) for each lane: the draws of `part`, which may be a day, or a day and a step.
    pub fn uniforms(&self, part: u32, out: &mut [f64]) {
        self.vectors.uniform_fill(self.key, part, self.first, &mut out[..self.lanes]);
    }

    /// The uniform of one lane: the same bits as in a fill. For the few lanes that need one more draw than the others.
    pub fn uniform_of(&self, part: u32, lane: usize) -> f64 {
        uniform_at(self.key, part, self.first + lane as u64)
    }

    /// A standard normal for each lane.
    pub fn normals(&self, part: u32, out: &mut [f64]) {
        self.uniforms(part, out);
        self.vectors.normal_quantile(&mut out[..self.lanes]);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_run_has_its_numbers_whatever_the_batch() {
        let of = |first, lanes| Chance { seed: 7, name: "tank", first, lanes, vectors: Vectors::Widest };
        let (mut all, mut one) = (vec![0.0; 50], vec![0.0; 1]);
        of(100, 50).stream("weather").normals(3, &mut all);
        for (lane, normal) in all.iter().enumerate() {
            of(100 + lane as u64, 1).stream("weather").normals(3, &mut one);
            assert_eq!(one[0].to_bits(), normal.to_bits());
        }
        of(100, 50).stream("weather").uniforms(3, &mut all);
        for (lane, &uniform) in all.iter().enumerate() {
            assert_eq!(of(100, 50).stream("weather").uniform_of(3, lane), uniform);
        }
        of(100, 1).stream("draw_off").normals(3, &mut one);
        assert_ne!(one[0].to_bits(), all[0].to_bits());
    }
}
