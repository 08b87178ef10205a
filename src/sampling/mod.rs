//! (stub until merge)
pub mod maths {
    pub fn exp(x: f64) -> f64 { libm::exp(x) }
    pub fn ln(x: f64) -> f64 { libm::log(x) }
}
pub struct Column { pub name: String, pub lane: usize, pub source: usize }
pub struct Plan;
#[derive(Default)]
pub struct Scratch;
impl Plan {
    pub fn columns(&self) -> &[Column] { &[] }
    pub fn draw(&self, _w: &[bool], _f: u64, _n: usize, _o: &mut [f64], _s: usize, _x: &mut Scratch) {}
}
