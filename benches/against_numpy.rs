//! The same hour of cues, here and in a NumPy script, in turns; prints the ratios of time and memory.
//!
//! `cargo bench --bench against_numpy` runs both and needs the Python peers (`sh .ci/setup`). Both sum pitch and roll
//! from about one cue every 5 s, follow two legs with speed and acceleration, and find the peaks; the peer estimates
//! torque as well, ours checks stroke, joint, stopping, speed, acceleration and jerk between samples too.
//! `--measure SECONDS THREADS` is what the program runs as its own child: one line of JSON of our side alone.

use cueloom::check;
use cueloom::diag::{SourceText, Sources};
use cueloom::motion::Plan;
use cueloom::scenario::{NoFiles, resolve};
use cueloom::threads::Threads;
use cueloom::time::SampleRate;
use std::fmt::Write as _;
use std::process::Command;
use std::sync::Arc;
use std::time::Instant;

/// Cues like the peer's: one every 5 s, of every six one a noise of 2 s.
fn profile(seconds: u32) -> String {
    let mut text = String::from("scene \"an hour of cues\" {\n");
    for slot in 0..seconds / 5 {
        let spread = |low: f64, high: f64, salt: u32| {
            low + (high - low) * (f64::from((slot + 1) * salt) * 0.618_033_988_749_895 % 1.0)
        };
        let kind = ["ring", "pulse", "hold", "ring", "pulse", "noise"][(slot % 6) as usize];
        let roll = (slot + slot / 6) % 2 == 1;
        let (channel, size) = if roll { ("roll", 1.6) } else { ("pitch", 1.0) };
        let size = if slot % 4 < 2 { size } else { -size };
        let start_s = 5.0 * f64::from(slot) + spread(0.1, 0.9, 1) + 0.000_437;
        let wave = match kind {
            "ring" => {
                let hz = spread(0.8, 2.5, 3);
                let damping = spread(0.8, 2.0, 5) / (2.0 * std::f64::consts::PI * hz);
                format!("ring({:.6} rad, {hz:.6} Hz, damping: {damping:.6})", size * spread(0.01, 0.05, 2))
            }
            "pulse" => {
                format!("pulse({:.6} rad, {:.6} s)", size * spread(0.02, 0.08, 2), spread(1.0, 3.0, 3))
            }
            "hold" => {
                let (ease, stay, back) = (spread(0.8, 1.5, 3), spread(1.0, 2.0, 5), spread(1.0, 2.0, 7));
                let length = ease + stay + back;
                let amplitude = size * spread(0.03, 0.10, 2);
                format!("hold({amplitude:.6} rad, ease: {ease:.6} s, back: {back:.6} s) for {length:.6} s")
            }
            _ => format!("noise({:.6} rad, 1 Hz..{:.6} Hz) for 2 s", size.abs() * 0.002, spread(5.0, 9.0, 3)),
        };
        let _ = writeln!(text, "    at {start_s:.6} s  {channel} {wave} as cue_{slot}");
    }
    text + "}\n"
}

const RIG: &str = include_str!("against_numpy.toml");

fn plan(seconds: u32, sources: &mut Sources) -> Plan {
    let text = profile(seconds);
    let source = sources.add(SourceText::new("hour.cues", text.as_str()));
    let parsed = cueloom::lang::parse(source, &text);
    let resolved = resolve(&parsed.file, source, None, sources, &NoFiles);
    assert!(
        parsed.errors.is_empty() && resolved.diagnostics.is_empty(),
        "{:?}",
        resolved.diagnostics.first()
    );
    let rig_source = sources.add(SourceText::new("rig.toml", RIG));
    let rig = cueloom::rig::load(rig_source, RIG).rig.expect("the bench rig loads");
    let rate = SampleRate::new(1000).expect("above zero");
    Plan::new(Arc::new(resolved.scenario.expect("a scene")), Arc::new(rig), 1.0, rate).expect("a plan")
}

#[allow(clippy::disallowed_methods, reason = "a bench is what looks at the clock")]
/// Our side: every sample of platform and legs rendered, then the check. One line of JSON.
fn measure(seconds: u32, threads: usize) -> String {
    let mut sources = Sources::new();
    let plan = plan(seconds, &mut sources);
    let started = Instant::now();
    let workers = Threads::new(threads);
    let sums = cueloom::motion::Workers::map(&workers, plan.blocks().div_ceil(64), |batch| {
        let mut frames = plan.frames();
        let mut sum = 0.0;
        for block in batch * 64..((batch + 1) * 64).min(plan.blocks()) {
            plan.render(block, &mut frames);
            sum += frames.legs.iter().map(|leg| leg.0[0][frames.count - 1]).sum::<f64>();
        }
        sum
    });
    let rendered_s = started.elapsed().as_secs_f64();
    let report = check::run(&plan, &sources, &workers, &|_| {});
    let wall_s = started.elapsed().as_secs_f64();
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let peak_kib: f64 = status
        .lines()
        .find_map(|line| line.strip_prefix("VmHWM:"))
        .and_then(|value| value.trim().trim_end_matches("kB").trim().parse().ok())
        .unwrap_or(f64::NAN);
    let worst = report.margins.first().map_or(0.0, |margin| margin.used);
    let sum: f64 = sums.iter().sum();
    format!(
        "{{\"wall_s\": {wall_s:.4}, \"render_s\": {rendered_s:.4}, \"peak_rss_mb\": {:.1}, \"samples\": {}, \"findings\": {}, \"worst_used\": {worst:.4}, \"sum\": {sum}}}",
        peak_kib * 1024.0 / 1e6,
        plan.samples(),
        report.findings.len()
    )
}

fn number(json: &str, key: &str) -> f64 {
    let value: serde_json::Value = serde_json::from_str(json).expect("a line of JSON");
    value[key].as_f64().expect("a number")
}

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    if let Some(at) = arguments.iter().position(|argument| argument == "--measure") {
        println!(
            "{}",
            measure(arguments[at + 1].parse().expect("seconds"), arguments[at + 2].parse().expect("threads"))
        );
        return;
    }
    if arguments.iter().any(|argument| argument == "--test") {
        println!("{}", measure(60, 2));
        return;
    }
    let root = env!("CARGO_MANIFEST_DIR");
    let run = |command: &mut Command| {
        let output = command.output().expect("the command starts");
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        String::from_utf8_lossy(&output.stdout).trim().to_string()
    };
    let ours = |seconds: u32, threads: usize| {
        let program = std::env::current_exe().expect("our own path");
        run(Command::new(program).args(["--measure", &seconds.to_string(), &threads.to_string()]))
    };
    // Some machines pin an old kernel of the linear algebra library; the peer gets what NumPy would choose.
    let peer = || {
        run(Command::new(format!("{root}/.venv/bin/python"))
            .arg(format!("{root}/tests/peers/numpy_render.py"))
            .env_remove("OPENBLAS_CORETYPE")
            .env_remove("OPENBLAS_L2_SIZE"))
    };
    let (mut peer_s, mut ours_s, mut single_s) = (Vec::new(), Vec::new(), Vec::new());
    let (mut peer_mb, mut ours_mb) = (0.0_f64, 0.0_f64);
    for turn in 1..=5 {
        let (theirs, two, one) = (peer(), ours(3600, 2), ours(3600, 1));
        println!("turn {turn}\n  numpy     {theirs}\n  2 threads {two}\n  1 thread  {one}");
        peer_s.push(number(&theirs, "wall_s"));
        ours_s.push(number(&two, "wall_s"));
        single_s.push(number(&one, "wall_s"));
        peer_mb = peer_mb.max(number(&theirs, "peak_rss_mb"));
        ours_mb = ours_mb.max(number(&two, "peak_rss_mb"));
    }
    let median = |values: &mut Vec<f64>| {
        values.sort_by(f64::total_cmp);
        values[values.len() / 2]
    };
    let (peer_s, ours_s, single_s) = (median(&mut peer_s), median(&mut ours_s), median(&mut single_s));
    println!(
        "\n1 h at 1 kHz, medians of 5: NumPy {peer_s:.3} s, ours {ours_s:.3} s on 2 threads, {single_s:.3} s on 1"
    );
    println!("time ratio {:.1} on 2 threads, {:.1} on 1", peer_s / ours_s, peer_s / single_s);
    println!("peak memory: NumPy {peer_mb:.0} MB, ours {ours_mb:.0} MB, ratio {:.1}", peer_mb / ours_mb);
    for hours in [1, 6, 24] {
        let line = ours(3600 * hours, 2);
        println!("{hours:2} h: {:.3} s, {:.1} MB", number(&line, "wall_s"), number(&line, "peak_rss_mb"));
    }
}
