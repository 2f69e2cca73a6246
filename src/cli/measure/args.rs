//! Options of `measure`.

use clap::{Args, Subcommand};
use std::path::PathBuf;

/// What is measured.
#[derive(Debug, Subcommand)]
pub(in crate::cli) enum Measured {
    /// Mass and centre of mass from bathroom scales under the platform, level and tilted
    #[command(after_help = "\
Legs unhooked, the platform rests on scales at points that you have measured from the pivot: x forward, y right, z down.
Weigh it level, then tilted by 5 to 10 degrees; tilts tell how high the centre is.

  cueloom measure scales --scale-error 0.2kg --tape-error 2mm --tilt-error 0.2deg \\
    --point \"0.5 m, 0 m, 0.1 m\" --point \"-0.5 m, -0.4 m, 0.1 m\" --point \"-0.5 m, 0.4 m, 0.1 m\" \\
    --weigh \"0 deg, 0 deg: 63.6 kg, 33.2 kg, 33.2 kg\" --weigh \"8 deg, 0 deg: 61.2 kg, 34.4 kg, 34.4 kg\"

With the joint still hooked up it bears a part: give the mass of all that moves with --beside-joint.")]
    Scales(ScalesArgs),
    /// Centre of mass from the forces that hold the platform, moved slowly up and down so that friction cancels
    #[command(after_help = "\
At each pose read every leg's force while all legs slowly grow longer, and again while they grow shorter (from a motor's
torque: 2 pi T / lead). One pose level, the others tilted by 5 degrees or more. Pushing is positive.

  cueloom measure holding rigs/my-rig.toml --mass 130kg --mass-error 0.5kg --force-error 3N --tilt-error 0.1deg \\
    --hold \"0 deg, 0 deg: 20 N, 19 N / -75 N, -74 N\" --hold \"6 deg, 4 deg: 61 N, 25 N / -30 N, -66 N\"")]
    Holding(HoldingArgs),
    /// Zero and stroke of a leg from a tape at both ends of its travel, and whether its lead is right
    #[command(after_help = "\
  cueloom measure tape --at \"0 mm, 431 mm\" --at \"300 mm, 731 mm\" --tape-error 1mm --encoder-error 0.01mm --lead 5mm
                                                   what the drive counts, then the tape between the ends' centres")]
    Tape(TapeArgs),
    /// Stiffness from hung weights and a dial gauge
    #[command(after_help = "\
  cueloom measure stiffness --key leg.mount --hang \"0 kg, 0 mm\" --hang \"10 kg, 0.04 mm\" --hang \"20 kg, 0.08 mm\" \\
    --scale-error 0.1kg --gauge-error 0.005mm      weight and gauge on one line
  cueloom measure stiffness --key joint.yaw --hang \"10 kg, 0.31 mm\" --arm 0.6m --gauge-arm 0.6m --tape-error 2mm \\
    --scale-error 0.1kg --gauge-error 0.005mm      a torsion: both arms square to the axis")]
    Stiffness(StiffnessArgs),
}

/// `measure scales`
#[derive(Debug, Args)]
pub(in crate::cli) struct ScalesArgs {
    /// A point that rests on a scale, from the pivot; once for each scale
    #[arg(long, required = true, value_name = "X, Y, Z", allow_hyphen_values = true)]
    pub(super) point: Vec<String>,
    /// One weighing: pitch and roll, then what each scale reads
    #[arg(long, required = true, value_name = "PITCH, ROLL: KG, KG", allow_hyphen_values = true)]
    pub(super) weigh: Vec<String>,
    /// How far a scale may be off either way
    #[arg(long, value_name = "MASS")]
    pub(super) scale_error: String,
    /// How far a measured point may be off either way
    #[arg(long, value_name = "LENGTH")]
    pub(super) tape_error: String,
    /// How far a measured angle may be off either way
    #[arg(long, value_name = "ANGLE")]
    pub(super) tilt_error: String,
    /// The joint bears the rest of this mass
    #[arg(long, value_name = "MASS")]
    pub(super) beside_joint: Option<String>,
}

/// `measure holding`
#[derive(Debug, Args)]
pub(in crate::cli) struct HoldingArgs {
    /// The rig file: its anchors must be right
    pub(super) rig: PathBuf,
    /// Mass of all that moves
    #[arg(long, value_name = "MASS")]
    pub(super) mass: String,
    /// How far it may be off either way
    #[arg(long, value_name = "MASS")]
    pub(super) mass_error: String,
    /// One pose, in the rig's order, then each leg's force growing longer / growing shorter
    #[arg(long, required = true, value_name = "POSE: N, N / N, N", allow_hyphen_values = true)]
    pub(super) hold: Vec<String>,
    /// How far a force may be off either way
    #[arg(long, value_name = "FORCE")]
    pub(super) force_error: String,
    /// How far a measured angle may be off either way
    #[arg(long, value_name = "ANGLE")]
    pub(super) tilt_error: String,
    /// How far a measured place may be off either way, on a rig that also slides
    #[arg(long, value_name = "LENGTH")]
    pub(super) tape_error: Option<String>,
}

/// `measure tape`
#[derive(Debug, Args)]
pub(in crate::cli) struct TapeArgs {
    /// What the drive counts and what the tape says; twice
    #[arg(long, required = true, value_name = "COUNTED, TAPE", allow_hyphen_values = true)]
    pub(super) at: Vec<String>,
    /// How far the tape may be off either way
    #[arg(long, value_name = "LENGTH")]
    pub(super) tape_error: String,
    /// How far the count may be off either way
    #[arg(long, value_name = "LENGTH")]
    pub(super) encoder_error: String,
    /// The lead that the count was worked out with
    #[arg(long, value_name = "LENGTH")]
    pub(super) lead: Option<String>,
}

/// `measure stiffness`
#[derive(Debug, Args)]
pub(in crate::cli) struct StiffnessArgs {
    /// What it is in the rig file: `leg.mount`, `leg.screw`, `leg.servo`, `joint.yaw`, …
    #[arg(long, value_name = "KEY")]
    pub(super) key: String,
    /// A hung weight and the gauge's travel since nothing hung
    #[arg(long, required = true, value_name = "MASS, TRAVEL", allow_hyphen_values = true)]
    pub(super) hang: Vec<String>,
    /// How far a weight may be off either way
    #[arg(long, value_name = "MASS")]
    pub(super) scale_error: String,
    /// How far the gauge may be off either way
    #[arg(long, value_name = "LENGTH")]
    pub(super) gauge_error: String,
    /// For a torsion: from the axis to the weight's line
    #[arg(long, value_name = "LENGTH")]
    pub(super) arm: Option<String>,
    /// For a torsion: from the axis to the gauge's line
    #[arg(long, value_name = "LENGTH")]
    pub(super) gauge_arm: Option<String>,
    /// For a torsion: how far an arm may be off either way
    #[arg(long, value_name = "LENGTH")]
    pub(super) tape_error: Option<String>,
}
