use super::*;
use proptest::prelude::*;

#[test]
fn shares_are_in_proportion_and_checked() {
    let phases = Phases::new([2.0, 1.0, 1.0], [3.0, 0.0, 0.0], Netting::EachPhase).unwrap();
    assert_eq!(phases.demand(), [0.5, 0.25, 0.25]);
    assert_eq!(phases.generation(), [1.0, 0.0, 0.0]);
    for bad in [[0.0; 3], [-1.0, 1.0, 1.0], [f64::NAN, 1.0, 1.0], [f64::INFINITY, 1.0, 1.0], [f64::MAX; 3]] {
        assert_eq!(Phases::new(bad, [1.0; 3], Netting::EachPhase), Err(PhasesError));
        assert_eq!(Phases::new([1.0; 3], bad, Netting::AllPhases), Err(PhasesError));
    }
}

/// Three kilowatts on one phase, one used on each.
#[test]
fn a_worked_case() {
    let share = [1.0; 3];
    let each = Phases::new(share, share, Netting::EachPhase).unwrap();
    let all = Phases::new(share, share, Netting::AllPhases).unwrap();
    assert_eq!(each.settle([3.0, 0.0, 0.0], [1.0; 3]), (2.0, 2.0));
    assert_eq!(all.settle([3.0, 0.0, 0.0], [1.0; 3]), (0.0, 0.0));
    assert_eq!(all.settle([6.0, 0.0, 0.0], [1.0; 3]), (3.0, 0.0));
}

proptest! {
    /// Rules differ by what flows out on one phase while it flows in on another: the same amount on both sides.
    #[test]
    fn rules_differ_by_what_flows_through(
        g in prop::array::uniform3(0.0..10.0_f64),
        d in prop::array::uniform3(0.0..10.0_f64),
    ) {
        let share = [1.0; 3];
        let each = Phases::new(share, share, Netting::EachPhase).unwrap().settle(g, d);
        let all = Phases::new(share, share, Netting::AllPhases).unwrap().settle(g, d);
        let net: f64 = g.iter().sum::<f64>() - d.iter().sum::<f64>();
        prop_assert!((each.0 - each.1 - net).abs() < 1e-12);
        prop_assert!((all.0 - all.1 - net).abs() < 1e-12);
        prop_assert!(each.0 >= all.0 - 1e-12 && each.1 >= all.1 - 1e-12);
        let through = each.0.min(each.1);
        prop_assert!((each.0 - all.0 - through).abs() < 1e-12 && (each.1 - all.1 - through).abs() < 1e-12);
    }
}
