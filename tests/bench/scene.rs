//! A scene with one rig, ready to be checked: what several tests of the check stand on.

use cueloom::check::{self, Report};
use cueloom::diag::{SourceText, Sources};
use cueloom::motion::{Plan, Serial};
use cueloom::scenario::{NoFiles, resolve};
use cueloom::time::SampleRate;
use std::sync::Arc;

/// The demo rig's file.
pub(crate) const RIG: &str = include_str!("../../profiles/rigs/club-two-axis.toml");

/// A scene planned on a rig, at gain 1 and 1 kHz.
pub(crate) struct Bench {
    pub(crate) sources: Sources,
    pub(crate) plan: Plan,
}

impl Bench {
    /// A scene with this body on this rig.
    pub(crate) fn on(rig: &str, body: &str) -> Self {
        let text = format!("scene \"bench\" {{\n{body}\n}}\n");
        let mut sources = Sources::new();
        let source = sources.add(SourceText::new("bench.cues", text.as_str()));
        let parsed = cueloom::lang::parse(source, &text);
        assert!(parsed.errors.is_empty(), "{:?}\n{text}", parsed.errors);
        let resolved = resolve(&parsed.file, source, None, &mut sources, &NoFiles);
        assert!(resolved.diagnostics.is_empty(), "{:?}\n{text}", resolved.diagnostics);
        let rig_source = sources.add(SourceText::new("rig.toml", rig));
        let rig = cueloom::rig::load(rig_source, rig);
        let rig = rig.rig.unwrap_or_else(|| panic!("{:?}", rig.diagnostics));
        let scenario = Arc::new(resolved.scenario.expect("a scene"));
        let plan = Plan::new(scenario, Arc::new(rig), 1.0, SampleRate::new(1000).unwrap()).expect("a plan");
        Self { sources, plan }
    }

    /// What the check says of it at this gain.
    pub(crate) fn check_at(&self, gain: f64) -> Report {
        check::run(&self.plan.at_gain(gain), &self.sources, &Serial, &|_| {})
    }
}
