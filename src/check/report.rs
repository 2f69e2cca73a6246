//! What a check found.

use crate::diag::{Diagnostic, Span};
use crate::motion::Plan;
use crate::units::Dimension;

/// What a margin or finding measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Quantity {
    /// Length of a leg inside its stroke, m.
    Stroke,
    /// Speed of a leg, m/s.
    Speed,
    /// Acceleration of a leg, m/s^2.
    Acceleration,
    /// Jerk of a leg, m/s^3.
    Jerk,
    /// A platform coordinate inside its range, rad or m.
    JointAngle,
    /// Room left to stop in, m or rad.
    Stopping,
    /// Force of a leg, N.
    Thrust,
    /// Torque of a motor, N m.
    MotorTorque,
    /// Torque of a motor on its curve over speed, N m.
    TorqueAtSpeed,
    /// R.m.s. current of a drive over its window, A.
    DriveCurrent,
    /// R.m.s. torque of a motor over its window, N m.
    MotorRms,
    /// Temperature of a winding, degC.
    MotorHeat,
    /// Power from the supply, W.
    SupplyPower,
    /// Energy given back that the bus cannot keep, J.
    ReturnedEnergy,
    /// Speed of a screw against its critical speed, m/s at the nut.
    ScrewSpeed,
    /// Push on a screw, N.
    Buckling,
    /// Hours that a screw lasts at this duty, s.
    ScrewLife,
    /// Torque that a brake must hold, N m.
    BrakeHolding,
    /// Swing of a leg's end joint, rad.
    RodEnd,
    /// Distance from an obstacle, m.
    Clearance,
    /// Length of a leg at rest after a power failure, m. Model only.
    PowerOffTravel,
    /// Largest acceleration of a leg in a power failure, m/s^2. Model only.
    PowerOffJolt,
    /// Work of a brake in a power failure, J. Model only.
    BrakeWork,
    /// Energy into an end stop in a power failure, J. Model only.
    EndStop,
    /// Length of a leg in a stop under control, m. Model only.
    EmergencyTravel,
    /// Time until rest in a stop under control, s. Model only.
    EmergencyTime,
    /// Deceleration of the head in a stop under control, m/s^2. Model only.
    EmergencyDeceleration,
    /// Sudden change of the head's acceleration when brakes drop after it, m/s^2. Model only.
    EmergencyJolt,
}

impl Quantity {
    /// The word in reports and JSON: `stroke`, `speed`, …
    pub fn word(self) -> &'static str {
        match self {
            Quantity::Stroke => "stroke",
            Quantity::Speed => "speed",
            Quantity::Acceleration => "acceleration",
            Quantity::Jerk => "jerk",
            Quantity::JointAngle => "joint angle",
            Quantity::Stopping => "stopping",
            Quantity::Thrust => "thrust",
            Quantity::MotorTorque => "motor torque",
            Quantity::TorqueAtSpeed => "torque at speed",
            Quantity::DriveCurrent => "drive r.m.s. current",
            Quantity::MotorRms => "motor r.m.s. torque",
            Quantity::MotorHeat => "motor heat",
            Quantity::SupplyPower => "supply power",
            Quantity::ReturnedEnergy => "returned energy",
            Quantity::ScrewSpeed => "screw speed",
            Quantity::Buckling => "buckling",
            Quantity::ScrewLife => "screw life",
            Quantity::BrakeHolding => "brake holding",
            Quantity::RodEnd => "rod end",
            Quantity::Clearance => "clearance",
            Quantity::PowerOffTravel => "power-off travel*",
            Quantity::PowerOffJolt => "power-off jolt*",
            Quantity::BrakeWork => "brake work*",
            Quantity::EndStop => "end stop*",
            Quantity::EmergencyTravel => "emergency travel*",
            Quantity::EmergencyTime => "emergency time*",
            Quantity::EmergencyDeceleration => "emergency brake*",
            Quantity::EmergencyJolt => "emergency jolt*",
        }
    }

    /// Which time derivative of its part this measures: 0 the value itself, 1 its rate, ….
    pub(super) fn order(self) -> usize {
        match self {
            Quantity::Speed => 1,
            Quantity::Acceleration => 2,
            Quantity::Jerk => 3,
            _ => 0,
        }
    }
}

/// A layer's part in a finding.
#[derive(Debug, Clone, PartialEq)]
pub struct Blame {
    /// Index into the scenario's layers.
    pub layer: usize,
    /// The layer's label.
    pub label: String,
    /// The layer's statement.
    pub span: Span,
    /// Share of the value at that instant; all layers together make 1, one that pulls back has a negative share.
    pub share: f64,
}

/// The words that every report ends on.
pub const CAUTION: &str = "\
A fit means that the motion stays within the numbers of the rig file, if the rig is as the file says. This program
is not a safety function: the hard-wired stop, the drives' own limits and the controller's watchdog must hold without it.";

/// One thing that does not fit, or is worth knowing.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// Rule, severity, words, places.
    pub diagnostic: Diagnostic,
    /// Where the limit itself stands, if in a file: words.
    pub part: Option<String>,
    /// When, s.
    pub at_s: Option<f64>,
    /// Found, SI.
    pub value: Option<f64>,
    /// Allowed, SI.
    pub limit: Option<f64>,
    /// What both measure.
    pub dimension: Dimension,
    /// Largest share first.
    pub blame: Vec<Blame>,
    /// The largest gain such that every gain from 0 to it passes this rule; a factor on the plan's own gain of 1.
    pub fits_gain: Option<f64>,
}

impl Finding {
    /// A mistake in a text in the form of a finding: nothing measured.
    pub fn unmeasured(diagnostic: Diagnostic) -> Self {
        Self {
            diagnostic,
            part: None,
            at_s: None,
            value: None,
            limit: None,
            dimension: Dimension::NUMBER,
            blame: Vec::new(),
            fits_gain: None,
        }
    }
}

/// How near the whole plan comes to one limit.
#[derive(Debug, Clone, PartialEq)]
pub struct Margin {
    /// Leg or axis.
    pub part: String,
    /// What is measured.
    pub quantity: Quantity,
    /// Largest value (signed as found), SI.
    pub peak: f64,
    /// Upper bound that also holds between samples and on the drive's own curve, SI.
    pub bound: f64,
    /// The limit on that side, SI.
    pub limit: f64,
    /// How much of the way to the limit is used, 0..; above 1 it does not fit.
    pub used: f64,
    /// What is measured in.
    pub dimension: Dimension,
    /// When, s.
    pub at_s: f64,
}

/// A rule that was not looked at, for want of data.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Unchecked {
    /// The rule's slug.
    pub rule: &'static str,
    /// What the rig file lacks: `[motor]`.
    pub missing: &'static str,
}

/// Peak and r.m.s. of one layer.
#[derive(Debug, Clone, PartialEq)]
pub struct LayerSummary {
    /// Index into the scenario's layers.
    pub layer: usize,
    /// Largest |value|, rad or m or part of full scale.
    pub peak: f64,
    /// Root of the mean square over its length; `None` for a sound file.
    pub rms: Option<f64>,
}

/// What a check found. "Fits the rig file" is all that it may say; never "safe".
#[derive(Debug, Clone)]
pub struct Report {
    pub(super) plan: Plan,
    /// Worst first.
    pub findings: Vec<Finding>,
    /// Most used first.
    pub margins: Vec<Margin>,
    /// Every layer of the scenario, in its order.
    pub layers: Vec<LayerSummary>,
    /// The scene's length, s.
    pub duration_s: f64,
    /// The largest gain such that every gain from 0 to it passes all rules (1 when there is nothing to find).
    pub fits_gain: Option<f64>,
    /// How the check holds between samples, in words.
    pub bound: String,
    /// What was not checked, because the rig file does not say enough.
    pub not_checked: Vec<Unchecked>,
}

/// A plan that fits its rig file. Only a report without errors makes one.
#[derive(Debug, Clone)]
pub struct Cleared(Plan);

impl Report {
    /// The report of a plan that is not looked at, for one reason.
    pub(super) fn refusing(plan: &Plan, finding: Finding) -> Self {
        Self {
            plan: plan.clone(),
            findings: vec![finding],
            margins: Vec::new(),
            layers: Vec::new(),
            duration_s: plan.length_s(),
            fits_gain: None,
            bound: String::new(),
            not_checked: Vec::new(),
        }
    }

    /// The plan, cleared for playing, when nothing in the report is an error.
    pub fn clear(&self) -> Option<Cleared> {
        let errors = self.findings.iter().any(|f| f.diagnostic.severity == crate::diag::Severity::Error);
        (!errors).then(|| Cleared(self.plan.clone()))
    }

    /// The plan that was checked.
    pub fn plan(&self) -> &Plan {
        &self.plan
    }
}

impl Cleared {
    /// The plan inside.
    pub fn plan(&self) -> &Plan {
        &self.0
    }
}
