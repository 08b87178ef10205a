//! Tests over all charts and all awkward answers.

use super::*;

#[test]
fn pictures_for_the_eye() {
    let Some(folder) = std::env::var_os("PAYSPREAD_LOOK") else { return };
    let folder = std::path::PathBuf::from(folder);
    for (set, answers) in [
        ("plain", fixture::answers()),
        ("payback", fixture::about_payback()),
        ("tiresome", fixture::tiresome()),
        ("equal", fixture::all_equal()),
        ("never", fixture::all_never()),
    ] {
        for chart in charts(&answers).unwrap() {
            std::fs::write(folder.join(format!("{set}-{}.png", chart.name)), png(&chart).unwrap()).unwrap();
            std::fs::write(folder.join(format!("{set}-{}.svg", chart.name)), standalone(&chart)).unwrap();
        }
    }
}
