//! The library that comes with the program.

use super::desk::{page, signal};
use cueloom::diag::{SourceText, Sources};
use cueloom::lang::{parse, tree::Line};
use cueloom::scenario::{Layer, World, resolve};

#[test]
fn the_library_resolves_on_a_rig_with_pitch_and_roll() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/profiles/library");
    struct Shelf(&'static str);
    impl World for Shelf {
        fn library(&self, _: &str, name: &str) -> Result<(String, String), String> {
            let text = std::fs::read_to_string(format!("{}/{name}", self.0)).map_err(|e| e.to_string())?;
            Ok((name.to_string(), text))
        }
        fn recording(&self, _: &str, _: &str) -> Result<Vec<u8>, String> {
            Err("no recordings".to_string())
        }
        fn sound_length_s(&self, _: &str, _: &str) -> Result<f64, String> {
            Err("no sounds".to_string())
        }
    }
    let text = r#"use "all.cues"
        scene "all" {
            at 0 s   rumble(0 kt -> 60 kt, roughness: 0.5) for 14 s  rise 1 s  fall 1 s
            at 0 s   slabs(0 kt -> 60 kt) for 14 s
            at 16 s  bank(-4 deg) for 12 s
            at 30 s  buffet(stall: 48 kt, speed: 60 kt -> 46 kt) for 14 s  fall 1 s
            at 46 s  touchdown(1.4 m/s)
        }"#;
    let mut sources = Sources::new();
    let id = sources.add(SourceText::new("main.cues", text));
    let parsed = parse(id, text);
    let resolved = resolve(&parsed.file, id, None, &mut sources, &Shelf(folder));
    assert!(
        parsed.errors.is_empty() && resolved.diagnostics.is_empty(),
        "{}",
        page(&resolved.diagnostics, &sources)
    );
    let scenario = resolved.scenario.unwrap();
    // 60 kt over 14 s average 15.43 m/s: 216.07 m, joints of 7.62 m; 29 of the nose and 29 of the mains, 3 layers each.
    let joints = scenario.layers.iter().filter(|layer| layer.label.contains("joint")).count();
    assert_eq!(joints, (29 + 29) * 3);
    // The worst jerk at 0.7 m from the pivot stays below what the rig of the examples has, 200 m/s^3.
    let mut worst: f64 = 0.0;
    let mut speed: f64 = 0.0;
    for n in 0..60_000 {
        let t_s = f64::from(n) * 1e-3;
        let (mut jerk, mut rate) = (0.0, 0.0);
        for layer in scenario.layers.iter().filter(|layer| !matches!(word(layer), "sound" | "shaker")) {
            let signal = signal(layer);
            if t_s >= signal.start_s && t_s <= signal.start_s + signal.length_s {
                let jet = signal.jet(t_s).0;
                jerk += jet[3];
                rate += jet[1];
            }
        }
        worst = worst.max(jerk.abs() * 0.7);
        speed = speed.max(rate.abs() * 0.7);
    }
    assert!(worst > 20.0 && worst < 150.0, "{worst}");
    assert!(speed < 0.2, "{speed}");
}

fn word(layer: &Layer) -> &'static str {
    match layer.line {
        Line::Sound => "sound",
        Line::Shaker => "shaker",
        _ => "axis",
    }
}
