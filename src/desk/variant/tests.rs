use super::*;
use crate::check;
use crate::desk::sample::scene;
use crate::desk::understand::Understood;
use crate::motion::Serial;
use crate::signal::Jet;

fn plan(understood: &Understood, variant: &Variant) -> Plan {
    assert!(!understood.has_errors(), "{:?}", understood.mistakes);
    let (scenario, rig) = (understood.scenario.as_ref().unwrap(), understood.rig.as_ref().unwrap());
    variant.plan(scenario, rig, SampleRate::new(1000).unwrap()).unwrap()
}

fn pitch(plan: &Plan, t_s: f64) -> [f64; 4] {
    let mut platform = vec![Jet::default(); plan.rig().axes.len()];
    plan.platform_at(t_s, &mut platform);
    platform[0].0
}

#[test]
fn half_speed_is_the_same_poses_with_slower_derivatives() {
    let understood = scene("at 1 s  pitch pulse(2 deg, 1 s)\nat 3 s roll pulse(1 deg, 1 s)");
    let full = plan(&understood, &Variant::default());
    let half = plan(&understood, &Variant { tempo: 0.5, ..Variant::default() });
    assert_eq!((full.length_s(), half.length_s()), (4.0, 8.0));
    let (a, b) = (pitch(&full, 1.3), pitch(&half, 2.6));
    for (order, factor) in [1.0, 0.5, 0.25, 0.125].into_iter().enumerate() {
        assert!(
            (a[order] * factor - b[order]).abs() < 1e-12 * (1.0 + a[order].abs()),
            "{order}: {a:?} {b:?}"
        );
    }
    // Rendered blocks are the same motion as single instants.
    let mut frames = half.frames();
    half.render(2_600 / 256, &mut frames);
    let jet = frames.platform[0].at(2_600 % 256).0;
    assert!((0..4).all(|order| (jet[order] - b[order]).abs() < 1e-9 * (1.0 + b[order].abs())), "{jet:?}");
}

#[test]
fn half_speed_can_bring_a_buffet_into_the_band_to_avoid() {
    let understood = scene("roll sine(0.05 deg, 24 Hz) for 10 s rise 1 s fall 1 s");
    let rules = |tempo| {
        let plan = plan(&understood, &Variant { tempo, ..Variant::default() });
        let report = check::run(&plan, &understood.sources, &Serial, &|_| {});
        report.findings.iter().map(|finding| finding.diagnostic.rule).collect::<Vec<_>>()
    };
    assert!(!rules(1.0).contains(&"avoided-band"), "{:?}", rules(1.0));
    assert!(rules(0.5).contains(&"avoided-band"), "{:?}", rules(0.5));
}

#[test]
fn muting_one_of_two_that_cancel_leaves_more_than_both() {
    let understood = scene(
        "at 1 s  pitch hold(11 deg, ease: 2 s) for 8 s as up\nat 1 s pitch hold(-10 deg, ease: 2 s) for 8 s as down",
    );
    let used = |variant: &Variant| {
        let report = check::run(&plan(&understood, variant), &understood.sources, &Serial, &|_| {});
        let pitch = |margin: &&check::Margin| {
            margin.quantity == check::Quantity::JointAngle && margin.part == "pitch"
        };
        report.margins.iter().find(pitch).unwrap().used
    };
    let whole = used(&Variant::default());
    let muted = BTreeSet::from([Part::Placement("down".to_string())]);
    let alone = used(&Variant { muted, ..Variant::default() });
    assert!(whole < 0.2 && alone > 1.05, "{whole} {alone}");
    let solo = BTreeSet::from([Part::Placement("up".to_string())]);
    assert_eq!(used(&Variant { alone: solo, ..Variant::default() }), alone);
    let channel = BTreeSet::from([Part::Channel("pitch".to_string())]);
    assert_eq!(used(&Variant { muted: channel, ..Variant::default() }), 0.0);
}

#[test]
fn a_stretch_goes_from_rest_to_rest_and_is_whole_inside() {
    let understood =
        scene("pitch sine(3 deg, 0.3 Hz) for 30 s rise 2 s fall 2 s\nexpect peak pitch >= 1 deg");
    let variant = Variant { stretch: Some((10.0, 14.0)), ..Variant::default() };
    let scenario = understood.scenario.as_ref().unwrap();
    assert_eq!(variant.played_s(scenario), (8.0, 16.0));
    let (whole, part) = (plan(&understood, &Variant::default()), plan(&understood, &variant));
    assert_eq!(part.length_s(), 16.0);
    assert!(part.scenario().expectations.is_empty());
    for t_s in [10.0, 11.7, 13.999] {
        assert_eq!(pitch(&whole, t_s), pitch(&part, t_s));
    }
    for t_s in [7.9, 8.0, 16.0] {
        assert_eq!(pitch(&part, t_s), [0.0; 4], "{t_s}");
    }
    assert!(pitch(&part, 9.0)[0].abs() < pitch(&whole, 9.0)[0].abs());
    // A stretch from the start, or to the end, keeps the scene's own edge.
    let variant = Variant { stretch: Some((1.0, 29.0)), ..Variant::default() };
    assert_eq!(variant.played_s(scenario), (0.0, 30.0));
    let report = check::run(&part, &understood.sources, &Serial, &|_| {});
    assert!(report.clear().is_some(), "{:?}", report.findings);
}

#[test]
fn a_variant_says_what_it_is() {
    let variant = Variant {
        gain: 0.5,
        tempo: 0.25,
        muted: BTreeSet::from([Part::Channel("sound".to_string())]),
        stretch: Some((61.0, 62.5)),
        ..Variant::default()
    };
    assert_eq!(variant.words(), "gain 50 %, quarter speed, without sound, 1:01 to 1:02.5");
    assert_eq!(Variant::default().words(), "");
}
