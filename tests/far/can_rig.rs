//! The demo rig with the two CAN drives of tests/peers/can_nodes.py, and its commissioning.

use super::bench::root;
use super::desk::right;
use cueloom::commissioning::steps;
use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};

const CAN: &str = r#"
[can]
bit_rate        = "1 Mbit/s"
host            = 127
mode            = "cyclic synchronous position"
reference       = "absolute"
following_error = "5 mm"
presence        = { leg = "left", bit = 16 }
gate            = { leg = "left", bit = 17 }
mat             = { leg = "left", bit = 18 }
belt            = { leg = "left", bit = 19 }
stop            = { leg = "left", bit = 20 }
warning         = { leg = "left", bit = 16 }
"#;

/// The drives of the peer: the right one counts the other way.
fn leg(name: &str, node: u8, direction: &str) -> String {
    format!(
        "\n[[can.leg]]\nname = \"{name}\"\nnode = {node}\nvendor = 0x9A\nproduct = 0xC0DE\ncounts_per_turn = 10000\n\
         direction = \"{direction}\"\nzero = \"430 mm\"\nrated_torque = \"0.64 N*m\"\nbrake_set = 21\n\
         brake_released = 22\n"
    )
}

/// The demo rig with those drives. A desktop that shares its processors is no rig's host: the link may be slow here.
pub(crate) fn rig() -> String {
    let text = std::fs::read_to_string(root().join("profiles/rigs/club-two-axis.toml")).unwrap();
    let text = text.replace("detection = \"10 ms\"", "detection = \"200 ms\"");
    let text = text.replace("delay     = \"1 ms\"", "delay     = \"40 ms\"");
    let text = text.replace("cycle           = \"2 ms\"", "cycle           = \"5 ms\"");
    text + CAN + &leg("left", 1, "longer") + &leg("right", 2, "shorter")
}

/// Every question answered as for a rig that is as its file says.
pub(crate) fn commission(folder: &Path, address: &str) {
    let text = std::fs::read_to_string(folder.join("rig.toml")).unwrap();
    let rig = cueloom::rig::load(cueloom::diag::SourceId(0), &text).rig.unwrap();
    let answers: String = steps(&rig).iter().map(|question| right(question) + "\n").collect();
    let arguments = ["commission", "rig.toml", "--by", "a test", "--link", "can", "--to", address];
    // Where processors are shared the link may be found too slow, rightly; then later.
    for left in (0..5).rev() {
        let mut child = Command::new(env!("CARGO_BIN_EXE_cueloom"))
            .args(arguments)
            .current_dir(folder)
            .stdin(Stdio::piped())
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        // One that is refused the link reads no answers.
        let _ = child.stdin.take().unwrap().write_all(answers.as_bytes());
        let out = child.wait_with_output().unwrap();
        let said = String::from_utf8_lossy(&out.stderr);
        let slow = said.contains("the link does not hold") || said.contains("does not answer about");
        assert!(out.status.success() || (slow && left > 0), "{said}");
        if out.status.success() {
            return;
        }
    }
}
