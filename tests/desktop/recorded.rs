//! A run of the scene that is open, on simulated drives and as fast as it goes: let go of once on the way, and gone on with.

use super::desk::Desk;
use cueloom::audition::motion_hash;
use cueloom::check;
use cueloom::drives::{Carrier, Head, open};
use cueloom::link::{SimAct, SimInput};
use cueloom::player::{DrivePlan, Options, Order, Progress, Record, Shell, connect, drive};
use cueloom::safety::operation::{Input, Permit, Phase, State};
use cueloom::threads::Threads;
use std::path::Path;
use std::sync::mpsc::channel;

/// Plays at -12 dB with the seat vacant, lets go at `let_go_s` of the scene, and leaves the record at `to`.
pub(crate) fn play(desk: &Desk, let_go_s: f64, to: &Path) {
    let motion = desk.app().studio().motion().unwrap();
    let (full, sources) = (&motion.plan, &motion.understood.sources);
    let plan = full.at_part(0.251_188_643);
    let cleared = check::run(&plan, sources, &Threads::all(), &|_| {}).clear().unwrap();
    let rig = plan.rig().clone();
    let mut opened = open(Carrier::Sim, "", &rig).unwrap();
    let mut hand = opened.hand.take().unwrap();
    let connected = connect(opened.link, &rig, true).unwrap();
    let (orders, heard) = channel();
    let permit = Permit { commissioned: true, audition: true, vacant: true };
    let shell = Shell { permit, orders: &heard, hand: None, by_word: false };
    let profile = desk.app().studio().document().path().display().to_string();
    let head = Head { profile: &profile, scene: &plan.scenario().title, gain: plan.gain(), sources };
    let mut entries = head.entries("sim");
    for (key, value) in [("level_db", "-12"), ("seat", "vacant"), ("motion", &motion_hash(full))] {
        entries.push((key.to_string(), value.to_string()));
    }
    let options =
        Options { check: cueloom::record::CheckNotes::default(), fast: true, park_at_end: true, entries };
    let (mut held, mut let_go, mut gone_on) = (false, false, false);
    let mut progress = |now: &Progress| {
        let run = now.run.unwrap();
        if now.on_scene && now.path_s > let_go_s && !let_go {
            (let_go, held) = (true, false);
        } else if let_go && !gone_on && run.state() == State::Holding && run.phase() == Phase::Rest {
            gone_on = orders.send(Order::Resume).is_ok();
        } else if !let_go || gone_on {
            // Held through every act, let go and held anew for the next.
            held = run.state().is_act() || (now.wanted.is_some() && !held);
        }
        hand.act(SimAct::Input(SimInput::Presence, if held { Input::Closed } else { Input::Open }));
    };
    std::fs::create_dir_all(to.parent().unwrap()).unwrap();
    let record = Record::Mcap(Box::new(std::fs::File::create(to).unwrap()));
    let played =
        drive(&DrivePlan::of(&cleared).unwrap(), connected, &options, &shell, record, &mut progress).unwrap();
    assert!(played.played_out && played.tripped.is_none() && let_go && gone_on, "{played:?}");
}
