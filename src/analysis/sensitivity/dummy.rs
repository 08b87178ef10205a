//! Factors without any effect, to see what the estimators make of noise.

/// Dummies: a factor without effect passes the largest of them in 1 case of 21, about 5 %.
pub const DUMMIES: u64 = 20;

/// A fixed permutation of 0..n, the same for every study: Durstenfeld 1964
/// (*Algorithm 235: random permutation*) on numbers of the splitmix generator
/// (Steele, Lea, Flood 2014, *Fast splittable pseudorandom number generators*).
pub fn permutation(n: usize, dummy: u64) -> Vec<u32> {
    let mut numbers = Numbers::new(0x5EED_D0A1 ^ (dummy << 40));
    let mut order: Vec<u32> = (0..n as u32).collect();
    for i in (1..n).rev() {
        order.swap(i, numbers.below(i as u64 + 1));
    }
    order
}

/// The splitmix generator: number i is a hash of the seed and i.
pub struct Numbers(u64);

impl Numbers {
    /// From a seed.
    pub fn new(seed: u64) -> Numbers {
        Numbers(seed)
    }

    /// A number below `n`, evenly to within n / 2^64.
    pub fn below(&mut self, n: u64) -> usize {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((u128::from(z ^ (z >> 31)) * u128::from(n)) >> 64) as usize
    }
}
