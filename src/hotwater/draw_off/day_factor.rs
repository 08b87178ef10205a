//! A day's draw over its mean: gamma variables with mean 1 and a coefficient of variation that may differ by lane.
//!
//! Exact, by rejection (Marsaglia and Tsang 2000, *A simple method for generating gamma variables*): one normal and one
//! uniform are enough in all but a few percent of cases; further tries have numbers of their own, so that a run has the
//! same factor in any batch. Shapes below 1 (a coefficient above 1) by their boost with the power of a uniform.

use crate::hotwater::chance::{Chance, Stream};
use crate::sampling::Vectors;
use crate::sampling::maths::{self, kernels};

/// Draws numbers of the parts `day * 64 + ...`: of each try two, and the boost.
const BOOST: u32 = 62;
const TRIES: u32 = 31;

/// What a coefficient of variation comes to.
#[derive(Debug, Clone, Copy, Default)]
struct Shape {
    /// Of which the constants were made.
    cv: f64,
    /// The paper's d and c; d is 0 where there is no variation.
    d: f64,
    c: f64,
    /// Factor that makes the mean 1.
    scale: f64,
    /// 1 / shape where the shape is below 1, else 0.
    boost: f64,
}

impl Shape {
    fn new(cv: f64) -> Shape {
        // Below a thousandth nobody sees it.
        if cv.is_nan() || cv < 1e-3 {
            return Shape { cv, scale: 1.0, ..Shape::default() };
        }
        let shape = 1.0 / (cv * cv);
        let small = shape < 1.0;
        let d = (if small { shape + 1.0 } else { shape }) - 1.0 / 3.0;
        let c = 1.0 / (9.0 * d).sqrt();
        Shape { cv, d, c, scale: 1.0 / shape, boost: if small { cv * cv } else { 0.0 } }
    }
}

/// Factors of a batch of runs.
#[derive(Debug)]
pub(crate) struct DayFactor {
    stream: Stream,
    vectors: Vectors,
    shapes: Vec<Shape>,
    /// The paper's c and d times scale, for the loop.
    c: Vec<f64>,
    gain: Vec<f64>,
    normals: Vec<f64>,
    uniforms: Vec<f64>,
    out: Vec<f64>,
}

impl DayFactor {
    pub(crate) fn new(chance: &Chance<'_>) -> DayFactor {
        let zeros = vec![0.0; chance.lanes];
        DayFactor {
            stream: chance.stream("day to day"),
            vectors: chance.vectors,
            shapes: vec![Shape { cv: -1.0, ..Shape::default() }; chance.lanes],
            c: zeros.clone(),
            gain: zeros.clone(),
            normals: zeros.clone(),
            uniforms: zeros.clone(),
            out: zeros,
        }
    }

    /// Factors of a day, for coefficients of variation by lane.
    pub(crate) fn day(&mut self, day: usize, cv: &[f64]) -> &[f64] {
        self.prepare(cv);
        let part = day as u32 * 64;
        self.stream.normals(part, &mut self.normals);
        self.stream.uniforms(part + 1, &mut self.uniforms);
        self.vectors.first_try(&self.c, &self.gain, &self.normals, &self.uniforms, &mut self.out);
        for lane in 0..self.out.len() {
            if self.out[lane] < 0.0 {
                self.out[lane] = self.slowly(part, lane);
            }
            if self.shapes[lane].boost > 0.0 {
                let u = self.stream.uniform_of(part + BOOST, lane);
                self.out[lane] *= maths::exp(maths::ln(u) * self.shapes[lane].boost);
            }
        }
        &self.out
    }

    fn prepare(&mut self, cv: &[f64]) {
        for (lane, &cv) in cv.iter().enumerate() {
            if self.shapes[lane].cv.to_bits() != cv.to_bits() {
                let shape = Shape::new(cv);
                self.shapes[lane] = shape;
                self.c[lane] = shape.c;
                self.gain[lane] = if shape.d > 0.0 { shape.d * shape.scale } else { 1.0 };
            }
        }
    }

    /// The exact test, the numbers of the first try once more, then further tries.
    fn slowly(&self, part: u32, lane: usize) -> f64 {
        let Shape { d, c, scale, .. } = self.shapes[lane];
        for attempt in 0..TRIES {
            let u = self.stream.uniform_of(part + 2 * attempt + 1, lane);
            let lower = self.stream.uniform_of(part + 2 * attempt, lane);
            let x = maths::normal_quantile(lower, 1.0 - lower);
            let base = 1.0 + c * x;
            let v = base * base * base;
            if v > 0.0 && maths::ln(u) < 0.5 * x * x + d - d * v + d * maths::ln(v) {
                return d * v * scale;
            }
        }
        // One in 10^40.
        1.0
    }
}

/// The first try of all lanes: -1 where the quick test leaves it open.
#[inline(always)]
fn try_all(c: &[f64], gain: &[f64], normals: &[f64], uniforms: &[f64], out: &mut [f64]) {
    for ((((o, &c), &gain), &x), &u) in out.iter_mut().zip(c).zip(gain).zip(normals).zip(uniforms) {
        let base = 1.0 + c * x;
        let x2 = x * x;
        // Without variation c is 0: the value is 1 whatever the test says.
        let sure = (c == 0.0) | ((u < 1.0 - 0.0331 * (x2 * x2)) & (base > 0.0));
        let value = gain * (base * base * base);
        *o = if sure { value } else { -1.0 };
    }
}

kernels! {
    /// `out = gain (1 + c x)^3` where Marsaglia and Tsang's quick test accepts, else -1.
    fn first_try(c: &[f64], gain: &[f64], normals: &[f64], uniforms: &[f64], out: &mut [f64]) = try_all;
}
