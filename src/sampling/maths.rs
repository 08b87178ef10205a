//! Elementary functions that give the same bits on every processor.
//!
//! Only `+ - * / sqrt` and integer operations are used, never a fused
//! multiply-add, and the loops over slices are the scalar functions compiled
//! again for wider vectors: so neither the processor nor the width of
//! its vectors can change a bit.
//!
//! [`Vectors`] chooses between the widest code that the processor has and the
//! baseline code. It is a plain argument, not a global switch, so that a test
//! (or a whole run) can be made with vector extensions off.

/// Which compiled form of a loop is used. Both give the same bits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Vectors {
    /// The widest vectors that this processor has.
    #[default]
    Widest,
    /// At most 256 bits (AVX2); the baseline where there is no such thing.
    Avx2,
    /// Those that every processor of the target has.
    Baseline,
}

/// Compiles a loop for each kind of vectors and lets [`Vectors`] choose.
macro_rules! kernels {
    ($($(#[$about:meta])* $vis:vis fn $name:ident($($arg:ident: $ty:ty),*) = $body:path;)*) => {
        impl $crate::sampling::maths::Vectors {
            $(
                $(#[$about])*
                $vis fn $name(self, $($arg: $ty),*) {
                    // Three compiled forms of the same plain operations, each made once: one that a
                    // processor cannot run hands on to the next. A fused multiply-add is never
                    // asked for, and the compiler does not make one of its own accord.
                    #[multiversion::multiversion(targets(
                        "x86_64+avx512f+avx512bw+avx512dq+avx512vl+avx512vbmi2",
                    ))]
                    fn widest($($arg: $ty),*) {
                        multiversion::target::match_target! {
                            "x86_64+avx512f+avx512bw+avx512dq+avx512vl+avx512vbmi2" => $body($($arg),*),
                            _ => avx2($($arg),*),
                        }
                    }
                    #[multiversion::multiversion(targets("x86_64+avx2"))]
                    fn avx2($($arg: $ty),*) {
                        multiversion::target::match_target! {
                            "x86_64+avx2" => $body($($arg),*),
                            _ => baseline($($arg),*),
                        }
                    }
                    #[inline(never)]
                    fn baseline($($arg: $ty),*) {
                        $body($($arg),*);
                    }
                    match self {
                        Self::Widest => widest($($arg),*),
                        Self::Avx2 => avx2($($arg),*),
                        Self::Baseline => baseline($($arg),*),
                    }
                }
            )*
        }
    };
}
pub(crate) use kernels;

kernels! {
    /// Replaces each value by its exponential.
    pub fn exp(x: &mut [f64]) = exp_all;
    /// Replaces each value by its natural logarithm.
    pub fn ln(x: &mut [f64]) = ln_all;
    /// Replaces each value p in (0, 1) by the standard normal quantile of (p, 1 - p).
    pub fn normal_quantile(p: &mut [f64]) = normal_quantile_all;
}

/// The loops in their widest form, for callers that need no choice.
pub mod slices {
    use super::Vectors;

    /// Replaces each value by its exponential.
    pub fn exp(x: &mut [f64]) {
        Vectors::Widest.exp(x);
    }

    /// Replaces each value by its natural logarithm.
    pub fn ln(x: &mut [f64]) {
        Vectors::Widest.ln(x);
    }

    /// Replaces each value p in (0, 1) by the standard normal quantile of (p, 1 - p).
    pub fn normal_quantile(p: &mut [f64]) {
        Vectors::Widest.normal_quantile(p);
    }
}

/// ln 2 in two parts; the first has so few bits that its product with an exponent is exact.
const LN2_HI: f64 = 6.93147180369123816490e-01;
const LN2_LO: f64 = 1.90821492927058770002e-10;
const LOG2_E: f64 = core::f64::consts::LOG2_E;

/// Adding it rounds to a whole number, whose bits then stand at the low end.
const ROUND: f64 = 6_755_399_441_055_744.0; // 1.5 * 2^52

/// 2^k for the whole number k that stands in the low bits of `rounded` (k + ROUND).
#[inline(always)]
fn power_of_two(rounded: f64) -> f64 {
    f64::from_bits(rounded.to_bits().wrapping_add(1023) << 52)
}

/// Natural exponential, within 0.6 units in the last place.
///
/// Overflows to infinity, underflows through the denormals to 0, keeps NaN.
#[inline(always)]
pub fn exp(x: f64) -> f64 {
    // Comparisons that are false for NaN let it through.
    let x = if x > 710.0 { 710.0 } else { x };
    let x = if x < -746.0 { -746.0 } else { x };
    let rounded = x * LOG2_E + ROUND;
    let k = rounded - ROUND;
    // |r| <= ln 2 / 2; `low` is what the rounding of r lost.
    let high = x - k * LN2_HI;
    let rest = k * LN2_LO;
    let r = high - rest;
    let low = (high - r) - rest;
    let r2 = r * r;
    let y = 1.0 + (r + (r2 * exp_tail(r, r2) + low));
    // Two steps, since 2^1024 and 2^-1074 are out of reach of one factor.
    let half = k * 0.5 + ROUND;
    let other = (k - (half - ROUND)) + ROUND;
    y * power_of_two(half) * power_of_two(other)
}

/// (e^r - 1 - r) / r^2: the Taylor series, in pairs so that the additions do not wait for each other.
#[inline(always)]
fn exp_tail(r: f64, r2: f64) -> f64 {
    const C: [f64; 12] = [
        1.0 / 2.0,
        1.0 / 6.0,
        1.0 / 24.0,
        1.0 / 120.0,
        1.0 / 720.0,
        1.0 / 5_040.0,
        1.0 / 40_320.0,
        1.0 / 362_880.0,
        1.0 / 3_628_800.0,
        1.0 / 39_916_800.0,
        1.0 / 479_001_600.0,
        1.0 / 6_227_020_800.0,
    ];
    let r4 = r2 * r2;
    let low = (C[0] + C[1] * r) + (C[2] + C[3] * r) * r2;
    let middle = (C[4] + C[5] * r) + (C[6] + C[7] * r) * r2;
    let high = (C[8] + C[9] * r) + (C[10] + C[11] * r) * r2;
    low + (middle + high * r4) * r4
}

/// Natural logarithm, within one unit in the last place.
///
/// -infinity for 0, NaN below 0, right for denormals.
#[inline(always)]
pub fn ln(x: f64) -> f64 {
    const SQRT_HALF: u64 = 0x3fe6_a09e_0000_0000;
    const ONE: u64 = 0x3ff0_0000_0000_0000;
    const MANTISSA: u64 = 0x000f_ffff_ffff_ffff;
    const TWO_52: u64 = 0x4330_0000_0000_0000;
    let tiny = x < f64::MIN_POSITIVE;
    let scaled = if tiny { x * 18_014_398_509_481_984.0 } else { x }; // 2^54
    let shift = if tiny { 1023.0 + 54.0 } else { 1023.0 };
    // x = 2^k m with m between sqrt(1/2) and sqrt(2).
    let bits = scaled.to_bits().wrapping_add(ONE - SQRT_HALF);
    let k = f64::from_bits((bits >> 52) | TWO_52) - 4_503_599_627_370_496.0 - shift;
    let m = f64::from_bits((bits & MANTISSA) + SQRT_HALF);
    let y = ln_near_one(m - 1.0, k);
    let y = if x < f64::INFINITY { y } else { x };
    let y = if x > 0.0 { y } else { f64::NAN };
    if x == 0.0 { f64::NEG_INFINITY } else { y }
}

/// k ln 2 + ln(1 + f): the rational form of ln((1+s)/(1-s)) with s = f/(2+f)
/// and the minimax coefficients of the freely distributable C library (Sun, 1993).
#[inline(always)]
fn ln_near_one(f: f64, k: f64) -> f64 {
    let half_square = 0.5 * f * f;
    let s = f / (2.0 + f);
    let z = s * s;
    let w = z * z;
    let even = w * (3.999999999940941908e-01 + w * (2.222219843214978396e-01 + w * 1.531383769920937332e-01));
    let odd = z
        * (6.666666666666735130e-01
            + w * (2.857142874366239149e-01 + w * (1.818357216161805012e-01 + w * 1.479819860511658591e-01)));
    s * (half_square + (odd + even)) + k * LN2_LO - half_square + f + k * LN2_HI
}

#[inline(always)]
fn exp_all(x: &mut [f64]) {
    for v in x {
        *v = exp(*v);
    }
}

#[inline(always)]
fn ln_all(x: &mut [f64]) {
    for v in x {
        *v = ln(*v);
    }
}

/// Standard normal distribution function: the probability below `z`. That above it is `normal_cdf(-z)`.
pub fn normal_cdf(z: f64) -> f64 {
    0.5 * libm::erfc(-z * core::f64::consts::FRAC_1_SQRT_2)
}

/// Standard normal density.
pub fn normal_density(z: f64) -> f64 {
    exp(-0.5 * z * z) * 0.398_942_280_401_432_677_94
}

/// Standard normal quantile from the probability below and that above, which
/// sum to one; each tail is computed from its own, so none is lost to rounding.
///
/// Wichura 1988, algorithm AS 241 (PPND16): about 1e-16.
pub fn normal_quantile(lower: f64, upper: f64) -> f64 {
    let q = if lower <= 0.5 { lower - 0.5 } else { 0.5 - upper };
    if q.abs() <= CENTRE {
        return normal_centre(q);
    }
    let tail = if lower <= 0.5 { lower } else { upper };
    let z = normal_tail((-ln(tail)).sqrt());
    if q < 0.0 { -z } else { z }
}

/// Half width of the probabilities that the middle polynomial serves.
const CENTRE: f64 = 0.425;

#[inline(always)]
fn normal_centre(q: f64) -> f64 {
    let r = 0.180_625 - q * q;
    let above = poly7(
        r,
        &[
            3.387_132_872_796_366_608,
            133.141_667_891_784_377_45,
            1_971.590_950_306_551_442_7,
            13_731.693_765_509_461_125,
            45_921.953_931_549_871_457,
            67_265.770_927_008_700_853,
            33_430.575_583_588_128_105,
            2_509.080_928_730_122_672_7,
        ],
    );
    let below = poly7(
        r,
        &[
            1.0,
            42.313_330_701_600_911_252,
            687.187_007_492_057_908_3,
            5_394.196_021_424_751_107_7,
            21_213.794_301_586_595_867,
            39_307.895_800_092_710_61,
            28_729.085_735_721_942_674,
            5_226.495_278_852_854_561,
        ],
    );
    q * above / below
}

/// |z| from sqrt(-ln p), p the smaller tail.
#[inline(always)]
fn normal_tail(s: f64) -> f64 {
    if s <= 5.0 { normal_near_tail(s) } else { normal_far_tail(s) }
}

#[inline(always)]
fn normal_near_tail(s: f64) -> f64 {
    let r = s - 1.6;
    let above = poly7(
        r,
        &[
            1.423_437_110_749_683_577_34,
            4.630_337_846_156_545_295_9,
            5.769_497_221_460_691_405_5,
            3.647_848_324_763_204_605_04,
            1.270_458_252_452_368_382_58,
            0.241_780_725_177_450_611_77,
            0.022_723_844_989_269_184_583_3,
            7.745_450_142_783_414_076_4e-4,
        ],
    );
    let below = poly7(
        r,
        &[
            1.0,
            2.053_191_626_637_758_821_87,
            1.676_384_830_183_803_849_4,
            0.689_767_334_985_100_004_55,
            0.148_103_976_427_480_074_59,
            0.015_198_666_563_616_457_196_6,
            5.475_938_084_995_344_946e-4,
            1.050_750_071_644_416_843_24e-9,
        ],
    );
    above / below
}

fn normal_far_tail(s: f64) -> f64 {
    if s == f64::INFINITY {
        return s;
    }
    let r = s - 5.0;
    let above = poly7(
        r,
        &[
            6.657_904_643_501_103_777_2,
            5.463_784_911_164_114_369_9,
            1.784_826_539_917_291_335_8,
            0.296_560_571_828_504_891_23,
            0.026_532_189_526_576_123_093,
            1.242_660_947_388_078_438_6e-3,
            2.711_555_568_743_487_578_15e-5,
            2.010_334_399_292_288_132_65e-7,
        ],
    );
    let below = poly7(
        r,
        &[
            1.0,
            0.599_832_206_555_887_937_69,
            0.136_929_880_922_735_805_31,
            0.014_875_361_290_850_614_852_5,
            7.868_691_311_456_132_591e-4,
            1.846_318_317_510_054_681_8e-5,
            1.421_511_758_316_445_888_7e-7,
            2.044_263_103_389_939_785_64e-15,
        ],
    );
    above / below
}

/// Polynomial of degree seven, halves apart so that the additions do not wait for each other.
#[inline(always)]
fn poly7(x: f64, c: &[f64; 8]) -> f64 {
    let x2 = x * x;
    let x4 = x2 * x2;
    let low = (c[0] + c[1] * x) + (c[2] + c[3] * x) * x2;
    let high = (c[4] + c[5] * x) + (c[6] + c[7] * x) * x2;
    low + high * x4
}

/// Values handled in one go: small enough for buffers on the stack.
const CHUNK: usize = 256;

#[inline(always)]
fn normal_quantile_all(p: &mut [f64]) {
    for chunk in p.chunks_mut(CHUNK) {
        normal_quantile_chunk(chunk);
    }
}

/// The middle polynomial for all, then the tails (15 %) gathered, done in a
/// loop of their own, and put back.
#[inline(always)]
fn normal_quantile_chunk(p: &mut [f64]) {
    let mut at = [0_u16; CHUNK];
    let mut count = 0;
    for (i, &v) in p.iter().enumerate() {
        at[count & (CHUNK - 1)] = i as u16;
        count += usize::from(!((v - 0.5).abs() <= CENTRE));
    }
    let count = count.min(CHUNK);
    let mut tail = [0.5_f64; CHUNK];
    for (t, &i) in tail.iter_mut().zip(&at[..count]) {
        *t = p[usize::from(i)];
    }
    for v in p.iter_mut() {
        *v = normal_centre(*v - 0.5);
    }
    // Whole vectors: the values past the end are computed and thrown away.
    let padded = (count + 7) & !7;
    let mut score = [0.0_f64; CHUNK];
    let mut far = false;
    for (z, &lower) in score[..padded].iter_mut().zip(&tail[..padded]) {
        let s = (-ln(if lower <= 0.5 { lower } else { 1.0 - lower })).sqrt();
        far |= !(s <= 5.0);
        let size = normal_near_tail(s);
        *z = if lower <= 0.5 { -size } else { size };
    }
    if far {
        // Below 1.4e-11: so rare that all tails of the chunk may be done again.
        for (z, &lower) in score[..count].iter_mut().zip(&tail[..count]) {
            *z = normal_quantile(lower, 1.0 - lower);
        }
    }
    for (&z, &i) in score.iter().zip(&at[..count]) {
        p[usize::from(i)] = z;
    }
}
