//! How something spreads over the day: shares of equal parts of it, resampled to the steps of a simulation.

use std::fmt;

/// Shares of the water drawn by hour, from midnight: a working household with a morning and an evening peak. Peaks at
/// 06-08 and 17-19 as in the UK study of 115,000 homes (DESNZ 2024); the shares themselves are our own.
pub const WORKING_HOUSEHOLD: [f64; 24] = [
    0.009, 0.005, 0.003, 0.003, 0.009, 0.028, 0.093, 0.121, 0.084, 0.051, 0.037, 0.033, 0.037, 0.033, 0.028,
    0.033, 0.047, 0.070, 0.079, 0.065, 0.047, 0.042, 0.028, 0.015,
];

/// Heat of a day of the European test pattern M in kWh.
pub const PATTERN_M_KWH: f64 = 5.845;

/// Draws of the European test pattern M (EU 814/2013, EN 16147): hour, minute, kWh. The times are from memory.
pub const PATTERN_M: [(usize, usize, f64); 23] = [
    (7, 0, 0.105),
    (7, 5, 1.4),
    (7, 30, 0.105),
    (8, 1, 0.105),
    (8, 15, 0.105),
    (8, 30, 0.105),
    (8, 45, 0.105),
    (9, 0, 0.105),
    (9, 30, 0.105),
    (10, 30, 0.105),
    (11, 30, 0.105),
    (11, 45, 0.105),
    (12, 45, 0.315),
    (14, 30, 0.105),
    (15, 30, 0.105),
    (16, 30, 0.105),
    (18, 0, 0.105),
    (18, 15, 0.105),
    (18, 30, 0.105),
    (19, 0, 0.105),
    (20, 30, 0.735),
    (21, 15, 0.105),
    (21, 30, 1.4),
];

/// Most parts that a profile may have: minutes.
const MOST_PARTS: usize = 1440;

/// Why values are no profile.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ProfileError {
    /// No values, or more than minutes in a day.
    Count(usize),
    /// The value at this place is negative or not finite.
    Value(usize),
    /// All are zero.
    AllZero,
}

impl fmt::Display for ProfileError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            ProfileError::Count(n) => {
                write!(f, "a profile over the day has 1 to {MOST_PARTS} values, not {n}")
            }
            ProfileError::Value(at) => {
                write!(f, "value {} of the profile is negative or not finite", at + 1)
            }
            ProfileError::AllZero => write!(f, "all values of the profile are zero"),
        }
    }
}

impl std::error::Error for ProfileError {}

/// Shares of equal parts of the day; they sum to 1.
#[derive(Debug, Clone, PartialEq)]
pub struct Profile {
    shares: Vec<f64>,
}

impl Profile {
    /// From values in proportion to what falls into each part of the day: 24 for hours, or any number up to 1,440.
    pub fn new(values: &[f64]) -> Result<Profile, ProfileError> {
        if values.is_empty() || values.len() > MOST_PARTS {
            return Err(ProfileError::Count(values.len()));
        }
        if let Some(at) = values.iter().position(|v| !(v.is_finite() && *v >= 0.0)) {
            return Err(ProfileError::Value(at));
        }
        let largest = values.iter().fold(0.0_f64, |a, &b| a.max(b));
        if largest <= 0.0 {
            return Err(ProfileError::AllZero);
        }
        Ok(Profile::scaled(values.iter().map(|v| v / largest).collect()))
    }

    fn scaled(mut values: Vec<f64>) -> Profile {
        let sum: f64 = values.iter().sum();
        for value in &mut values {
            *value /= sum;
        }
        Profile { shares: values }
    }

    /// The default for hot water: [`WORKING_HOUSEHOLD`].
    pub fn working_household() -> Profile {
        Profile::scaled(WORKING_HOUSEHOLD.to_vec())
    }

    /// [`PATTERN_M`], each draw within its five minutes.
    pub fn pattern_m() -> Profile {
        let mut parts = vec![0.0; 288];
        for (hour, minute, kwh) in PATTERN_M {
            parts[hour * 12 + minute / 5] += kwh;
        }
        Profile::scaled(parts)
    }

    /// Its shares, as many as it was made of.
    pub fn parts(&self) -> &[f64] {
        &self.shares
    }

    /// Share of each of `steps` equal steps of the day: what is within a part is spread evenly over it.
    pub fn shares(&self, steps: usize) -> Vec<f64> {
        let mut out = vec![0.0; steps];
        overlaps(self.shares.len(), steps, |part, step, overlap| out[step] += overlap * self.shares[part]);
        for share in &mut out {
            *share /= steps as f64;
        }
        out
    }
}

/// Means over `steps` equal steps of what is constant on each of the equal parts `values`.
pub(crate) fn means(values: &[f64], steps: usize) -> Vec<f64> {
    let mut out = vec![0.0; steps];
    overlaps(values.len(), steps, |part, step, overlap| out[step] += overlap * values[part]);
    for mean in &mut out {
        *mean /= values.len() as f64;
    }
    out
}

/// Calls `each` with a part, a step that overlaps it, and the overlap in units of 1 / (parts * steps) of the day: a whole
/// number, of which a part has `steps` and a step `parts`.
fn overlaps(parts: usize, steps: usize, mut each: impl FnMut(usize, usize, f64)) {
    let (mut part, mut step) = (0, 0);
    while part < parts && step < steps {
        let from = (part * steps).max(step * parts);
        let (part_end, step_end) = ((part + 1) * steps, (step + 1) * parts);
        let to = part_end.min(step_end);
        each(part, step, (to - from) as f64);
        part += usize::from(to == part_end);
        step += usize::from(to == step_end);
    }
}

/// Draws moments of the day with the density of a profile, each from one uniform (Walker 1977, tables by Vose 1991).
#[derive(Debug, Clone)]
pub(crate) struct Moments {
    columns: Vec<Column>,
}

/// A column of the table: that of a part, which may give some of it to another.
#[derive(Debug, Clone, Copy)]
struct Column {
    /// Share of the column that the part keeps.
    keep: f64,
    /// 1 over it, and over the rest.
    stretch: [f64; 2],
    /// The part that has the rest.
    other: u32,
}

impl Moments {
    /// The tables of a profile.
    pub(crate) fn new(profile: &Profile) -> Moments {
        let n = profile.shares.len();
        let mut left: Vec<f64> = profile.shares.iter().map(|p| p * n as f64).collect();
        let mut columns: Vec<(f64, usize)> = (0..n).map(|i| (1.0, i)).collect();
        let (mut small, mut large): (Vec<usize>, Vec<usize>) = (0..n).partition(|&i| left[i] < 1.0);
        while let (Some(s), Some(&l)) = (small.pop(), large.last()) {
            columns[s] = (left[s], l);
            left[l] -= 1.0 - left[s];
            if left[l] < 1.0 {
                large.pop();
                small.push(l);
            }
        }
        // Columns left over are full but for rounding.
        let column = |(keep, other): (f64, usize)| {
            let rest = if keep < 1.0 { 1.0 / (1.0 - keep) } else { 0.0 };
            Column { keep, stretch: [if keep > 0.0 { 1.0 / keep } else { 0.0 }, rest], other: other as u32 }
        };
        Moments { columns: columns.into_iter().map(column).collect() }
    }

    /// Moment as a share of the day, and a second uniform from the lower bits of the first.
    #[inline(always)]
    pub(crate) fn at(&self, uniform: f64) -> (f64, f64) {
        let n = self.columns.len();
        let x = uniform * n as f64;
        let at = (x as usize).min(n - 1);
        let place = x - at as f64;
        let column = &self.columns[at];
        let (part, within) = if place < column.keep {
            (at, place * column.stretch[0])
        } else {
            (column.other as usize, (place - column.keep) * column.stretch[1])
        };
        let fine = within * 1_048_576.0; // 2^20: what is below is of no account for the moment
        ((part as f64 + within) / n as f64, fine - (fine as u32) as f64)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn resampling_keeps_the_sum_and_the_place() {
        let hours = Profile::working_household();
        assert!((WORKING_HOUSEHOLD.iter().sum::<f64>() - 1.0).abs() < 1e-12);
        for steps in [1, 5, 24, 48, 96, 100, 288, 1440] {
            assert!((hours.shares(steps).iter().sum::<f64>() - 1.0).abs() < 1e-12, "{steps}");
        }
        let half = hours.shares(48);
        for hour in 0..24 {
            assert!((half[2 * hour] - WORKING_HOUSEHOLD[hour] / 2.0).abs() < 1e-15);
            assert_eq!(half[2 * hour], half[2 * hour + 1]);
        }
        // Three parts on two steps: the middle one is shared.
        let thirds = Profile::new(&[1.0, 2.0, 3.0]).unwrap().shares(2);
        assert!((thirds[0] - 2.0 / 6.0).abs() < 1e-15 && (thirds[1] - 4.0 / 6.0).abs() < 1e-15);
        assert_eq!(means(&[1.0, 2.0, 3.0], 2), [(1.0 + 0.5 * 2.0) / 1.5, (0.5 * 2.0 + 3.0) / 1.5]);
    }

    #[test]
    fn pattern_m_closes() {
        let sum: f64 = PATTERN_M.iter().map(|draw| draw.2).sum();
        assert!((sum - PATTERN_M_KWH).abs() < 1e-12);
        let shares = Profile::pattern_m().shares(48);
        // 07:00 to 07:30: 0.105 + 1.4; 21:30 to 22:00: 1.4; nothing before seven.
        assert!((shares[14] - 1.505 / 5.845).abs() < 1e-12);
        assert!((shares[43] - 1.4 / 5.845).abs() < 1e-12);
        assert_eq!(shares[..14].iter().sum::<f64>(), 0.0);
    }

    #[test]
    fn what_is_no_profile_is_refused() {
        assert_eq!(Profile::new(&[]), Err(ProfileError::Count(0)));
        assert_eq!(Profile::new(&[1.0; 1441]), Err(ProfileError::Count(1441)));
        assert_eq!(Profile::new(&[1.0, -1.0]), Err(ProfileError::Value(1)));
        assert_eq!(Profile::new(&[1.0, f64::NAN]), Err(ProfileError::Value(1)));
        assert_eq!(Profile::new(&[0.0, 0.0]), Err(ProfileError::AllZero));
        assert!((Profile::new(&[f64::MAX; 3]).unwrap().shares(3)[1] - 1.0 / 3.0).abs() < 1e-15);
    }

    /// On a fine grid of uniforms each part gets exactly its share, and the moments fill it evenly.
    #[test]
    fn moments_have_the_density_of_the_profile() {
        let profile = Profile::new(&[0.0, 1.0, 5.0, 0.0, 2.0, 2.0]).unwrap();
        let moments = Moments::new(&profile);
        let n = 600_000;
        let mut counts = [0.0; 12];
        let mut second = 0.0;
        for k in 0..n {
            let (moment, other) = moments.at((f64::from(k) + 0.5) / f64::from(n));
            counts[(moment * 12.0) as usize] += 1.0 / f64::from(n);
            second += other / f64::from(n);
        }
        for (count, share) in counts.iter().zip(profile.shares(12)) {
            assert!((count - share).abs() < 1e-4, "{count} {share}");
        }
        assert!((second - 0.5).abs() < 0.01, "{second}");
    }
}
