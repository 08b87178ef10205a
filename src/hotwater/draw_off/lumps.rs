//! A day's litres in lumps. Taps are small and many: their part follows the profile. Showers and baths are few and
//! large: each falls into one moment, drawn from the profile. The day's total is kept, and given it the expected share of
//! every step is that of the profile.
//!
//! The UK calculation method for three people has 131 L a day, of which 87 L in 2.6 showers and baths (BREDEM 2012,
//! section 2): two thirds, 34 L each. A day with more litres has more of them.

use crate::hotwater::chance::{Chance, Stream};
use crate::hotwater::profile::Moments;

/// Share of a day's litres that comes in lumps.
pub(crate) const LUMP_SHARE: f64 = 2.0 / 3.0;

/// Litres of a usual lump.
pub(crate) const LUMP_LITRES: f64 = 34.0;

/// Most lumps of a day; above 2,400 L a day they grow instead.
pub(crate) const MOST_LUMPS: usize = 48;

/// Part of a day's numbers that settles how many lumps there are; those before it are for the lumps.
const HOW_MANY: u32 = 63;

/// Spreads days of a batch of runs.
#[derive(Debug)]
pub(crate) struct Lumps {
    stream: Stream,
    lanes: usize,
    uniforms: Vec<f64>,
    counts: Vec<usize>,
    /// Litres that follow the profile.
    smooth: Vec<f64>,
    /// Sum of the weights of a lane's lumps, then litres for each unit of weight.
    weights: Vec<f64>,
    /// Step and weight of lump k at `[k * lanes + lane]`.
    lumps: Vec<(usize, f64)>,
}

impl Lumps {
    pub(crate) fn new(chance: &Chance<'_>) -> Lumps {
        let zeros = vec![0.0; chance.lanes];
        Lumps {
            stream: chance.stream("draws"),
            lanes: chance.lanes,
            uniforms: zeros.clone(),
            counts: vec![0; chance.lanes],
            smooth: zeros.clone(),
            weights: zeros,
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
        let most = self.count(part, litres);
        for k in 0..most {
            self.place(part, k, moments, shares.len());
        }
        for (weight, litres) in self.weights.iter_mut().zip(litres) {
            *weight = if *weight > 0.0 { LUMP_SHARE * litres / *weight } else { 0.0 };
        }
        super::follow(shares, &self.smooth, out);
        for k in 0..most {
            for lane in 0..self.lanes {
                if k < self.counts[lane] {
                    let (step, weight) = self.lumps[k * self.lanes + lane];
                    out[step * self.lanes + lane] += self.weights[lane] * weight;
                }
            }
        }
    }

    /// How many lumps each lane has today; the largest of these.
    fn count(&mut self, part: u32, litres: &[f64]) -> usize {
        self.stream.uniforms(part + HOW_MANY, &mut self.uniforms);
        let mut most = 0;
        for (lane, &litres) in litres.iter().enumerate() {
            let wanted = (litres * (LUMP_SHARE / LUMP_LITRES)).min(MOST_LUMPS as f64 - 1.0);
            let count = (wanted + self.uniforms[lane]) as usize;
            self.counts[lane] = count;
            self.smooth[lane] = if count > 0 { litres * (1.0 - LUMP_SHARE) } else { litres };
            self.weights[lane] = 0.0;
            most = most.max(count);
        }
        self.lumps.resize((most * self.lanes).max(self.lumps.len()), (0, 0.0));
        most
    }

    /// Moment and size of lump `k` of each lane that has so many.
    fn place(&mut self, part: u32, k: usize, moments: &Moments, steps: usize) {
        let open = self.counts.iter().filter(|&&count| k < count).count();
        // A whole column is cheaper than a few single numbers; the bits are the same.
        let fill = open * 8 > self.lanes;
        if fill {
            self.stream.uniforms(part + k as u32, &mut self.uniforms);
        }
        for lane in 0..self.lanes {
            if k < self.counts[lane] {
                let u =
                    if fill { self.uniforms[lane] } else { self.stream.uniform_of(part + k as u32, lane) };
                let (moment, other) = moments.at(u);
                let step = ((moment * steps as f64) as usize).min(steps - 1);
                self.lumps[k * self.lanes + lane] = (step, 0.5 + other);
                self.weights[lane] += 0.5 + other;
            }
        }
    }
}
