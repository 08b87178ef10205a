//! A day's litres in lumps. Taps are small and many: their part follows the profile. Showers and baths are few and
//! large: each falls into one moment, drawn from the profile. The day's total is kept, and given it the expected share of
//! every step is that of the profile.
//!
//! The UK calculation method for three people has 131 L a day, of which 87 L in 2.6 showers and baths (BREDEM 2012,
//! section 2): two thirds, 34 L each. A day with more litres has more of them.

use crate::hotwater::chance::{Chance, Stream};
use crate::hotwater::profile::Moments;
use crate::sampling::Vectors;

/// Share of a day's litres that comes in lumps.
pub(crate) const LUMP_SHARE: f64 = 2.0 / 3.0;

/// Litres of a usual lump.
pub(crate) const LUMP_LITRES: f64 = 34.0;

/// Most lumps of a day; above 2,400 L a day they grow instead.
pub(crate) const MOST_LUMPS: usize = 48;

/// Part of a day's numbers that settles how many lumps there are; those before it are for the lumps.
const HOW_MANY: u32 = 63;

/// A lump: its place in the day's litres, its lane, its weight among the lumps of the lane.
type Lump = (u32, u32, f64);

/// Spreads days of a batch of runs.
#[derive(Debug)]
pub(crate) struct Lumps {
    stream: Stream,
    vectors: Vectors,
    lanes: usize,
    uniforms: Vec<f64>,
    pub(super) counts: Vec<u32>,
    /// Litres that follow the profile.
    smooth: Vec<f64>,
    /// Sum of the weights of a lane's lumps, then litres for each unit of weight.
    weights: Vec<f64>,
    /// Lanes that have more lumps than placed so far.
    open: Vec<u32>,
    lumps: Vec<Lump>,
}

impl Lumps {
    pub(crate) fn new(chance: &Chance<'_>) -> Lumps {
        let zeros = vec![0.0; chance.lanes];
        Lumps {
            stream: chance.stream("draws"),
            vectors: chance.vectors,
            lanes: chance.lanes,
            uniforms: zeros.clone(),
            counts: vec![0; chance.lanes],
            smooth: zeros.clone(),
            weights: zeros,
            open: Vec::with_capacity(chance.lanes),
            lumps: Vec::new(),
        }
    }

    /// Spreads each lane's `litres` over the steps of `out`.
    pub(crate) fn spread(
        &mut self,
        day: usize,
        litres: &[f64],
        moments: &Moments,
        shares: &[f64],
        out: &mut [f64],
    ) {
        let part = day as u32 * 64;
        self.count(part, litres);
        let mut k = 0;
        while !self.open.is_empty() {
            self.place(part + k, moments, shares.len());
            k += 1;
            let counts = &self.counts;
            self.open.retain(|&lane| counts[lane as usize] > k);
        }
        for (weight, litres) in self.weights.iter_mut().zip(litres) {
            *weight = if *weight > 0.0 { LUMP_SHARE * litres / *weight } else { 0.0 };
        }
        self.vectors.follow_shares(shares, &self.smooth, out);
        for &(at, lane, weight) in &self.lumps {
            out[at as usize] += self.weights[lane as usize] * weight;
        }
    }

    /// How many lumps each lane has today.
    fn count(&mut self, part: u32, litres: &[f64]) {
        self.stream.uniforms(part + HOW_MANY, &mut self.uniforms);
        self.lumps.clear();
        self.open.clear();
        for (lane, &litres) in litres.iter().enumerate() {
            let wanted = (litres * (LUMP_SHARE / LUMP_LITRES)).min(MOST_LUMPS as f64 - 1.0);
            let count = (wanted + self.uniforms[lane]) as u32;
            self.counts[lane] = count;
            self.smooth[lane] = if count > 0 { litres * (1.0 - LUMP_SHARE) } else { litres };
            self.weights[lane] = 0.0;
            if count > 0 {
                self.open.push(lane as u32);
            }
        }
    }

    /// Moment and size of one more lump of each open lane.
    fn place(&mut self, part: u32, moments: &Moments, steps: usize) {
        // A whole column is cheaper than many single numbers; the bits are the same.
        let fill = self.open.len() * 32 > self.lanes;
        if fill {
            self.stream.uniforms(part, &mut self.uniforms);
        }
        for &lane in &self.open {
            let at = lane as usize;
            let u = if fill { self.uniforms[at] } else { self.stream.uniform_of(part, at) };
            let (moment, other) = moments.at(u);
            let step = ((moment * steps as f64) as usize).min(steps - 1);
            let weight = 0.5 + other;
            self.weights[at] += weight;
            self.lumps.push(((step * self.lanes + at) as u32, lane, weight));
        }
    }
}
