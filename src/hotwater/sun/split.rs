//! The part of the light that is diffuse: Erbs, Klein and Duffie 1982, *Estimation of the diffuse radiation fraction
//! for hourly, daily and monthly-average global radiation*.

/// Diffuse share of the global irradiation of an hour, from its clearness index. Used for half and quarter hours too.
#[inline(always)]
pub fn diffuse_share(clearness: f64) -> f64 {
    let k = clearness;
    let k2 = k * k;
    let dull = 1.0 - 0.09 * k;
    let middle = (0.9511 - 0.1604 * k) + (4.388 - 16.638 * k) * k2 + 12.336 * (k2 * k2);
    let share = if k <= 0.22 { dull } else { middle };
    if k > 0.80 { 0.165 } else { share }
}

/// Diffuse share of the global irradiation of a day, from its clearness index and the hour angle of sunset in degrees
/// (below 81.4 it is winter).
pub fn diffuse_share_of_day(clearness: f64, sunset_deg: f64) -> f64 {
    let k = clearness;
    if sunset_deg <= 81.4 {
        if k >= 0.715 {
            return 0.143;
        }
        return 1.0 + (-0.2727 + (2.4495 + (-11.9514 + 9.3879 * k) * k) * k) * k;
    }
    if k >= 0.722 {
        return 0.175;
    }
    1.0 + (0.2832 + (-2.5557 + 0.8448 * k) * k) * k
}
