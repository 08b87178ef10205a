//! The simulation agrees with the plain one, whatever the settings.

use super::made_up::{Numbers, any_day, any_make, any_settings, any_tariff};
use super::plain::{Brought, Plain};
use crate::hotwater::cylinder::{Cylinder, TariffDay};
use crate::hotwater::outputs::Output as O;
use crate::sampling::Vectors;

const LANES: usize = 19;

/// Outputs that are sums of kWh, hours or days of one home.
const COMPARED: [O; 27] = [
    O::HeatFromSun,
    O::HeatFromBackup,
    O::HeatFromGrid,
    O::HeatDrawn,
    O::HeatShort,
    O::StandingLoss,
    O::CirculationLoss,
    O::StoredChange,
    O::Diverted,
    O::ControllerLoss,
    O::Exported,
    O::Curtailed,
    O::Imported,
    O::FromGrid,
    O::StandbyUse,
    O::BatteryIn,
    O::BatteryOut,
    O::BatteryLoss,
    O::BatteryDrainedInto,
    O::BatteryChange,
    O::HoursBelowComfort,
    O::DaysBySun,
    O::BackupFreeDays,
    O::DivertedByTariff,
    O::ExportedByTariff,
    O::ImportedByTariff,
    O::BackupByTariff,
];

#[test]
fn a_plain_program_for_one_run_gives_the_same() {
    let mut seen = vec![0.0; O::ALL.len()];
    for seed in 5000..5040 {
        let mut n = Numbers::new(seed);
        let make = any_make(&mut n);
        let settings = any_settings(&mut n, LANES);
        let controller = n.chance(0.9);
        let mut all = Cylinder::new(&settings, make, controller, Vectors::Widest);
        let mut plain: Vec<Plain> =
            (0..LANES).map(|lane| Plain::new(&settings, lane, make, controller)).collect();
        for day in (0..365).step_by(11) {
            let (meter, litres) = any_day(&mut n, make.steps, LANES);
            let (export, import) = any_tariff(&mut n, make.steps);
            all.day(day, &meter, &litres, &TariffDay { export: &export, import: &import }, None);
            for (lane, plain) in plain.iter_mut().enumerate() {
                let brought = |step: usize| Brought {
                    export: meter.export[step * LANES + lane],
                    import: meter.import[step * LANES + lane],
                    litres: litres[step * LANES + lane],
                    export_factor: export[step],
                    import_factor: import[step],
                };
                plain.day(day, &(0..make.steps).map(brought).collect::<Vec<_>>());
            }
        }
        for (lane, plain) in plain.iter().enumerate() {
            for output in COMPARED {
                for month in 0..12 {
                    let (a, b) = (all.totals().at(output, month)[lane], plain.totals[output as usize][month]);
                    seen[output as usize] += b.abs();
                    let near = (a - b).abs() <= 1e-9 * b.abs().max(1.0);
                    assert!(
                        near,
                        "seed {seed}, lane {lane}, {output:?} in month {month}: {a} is not {b}; {make:?}"
                    );
                }
            }
        }
    }
    // No case passes because nothing happened.
    for output in COMPARED {
        assert!(seen[output as usize] > 1.0, "{output:?} was never seen");
    }
}
