//! From writing to the drives: what keeps a text from being played there, and the session begun.

use super::{Fresh, Standing, Studio};
use crate::desk::drives::session::Job;
use crate::drives::stands;
use crate::player::Progress;

impl Studio {
    /// Why the text in front cannot be played on drives now, a sentence each; empty when it can.
    pub fn keeps_back(&self) -> Vec<String> {
        let mut why = Vec::new();
        match self.standing() {
            Standing::Fits => {}
            Standing::Checking | Standing::Working | Standing::Reading => {
                why.push("wait until the scene is checked".to_string());
            }
            standing => why.push(format!("{}; only what fits is played", standing.words())),
        }
        if self.any_unsaved() {
            why.push("save the text: the record of a run names it by what is in the file".to_string());
        }
        let written = crate::desk::variant::Variant { gain: 1.0, ..self.variant.clone() };
        if !written.is_as_written() {
            why.push(format!("{}: on the drives the scene is played as it is written", written.words()));
        }
        why.extend(self.drives.setup.lacks());
        why
    }

    /// Makes the choices of the drives those of the text in front.
    pub fn face_drives(&mut self) {
        let path = self.document().path().to_path_buf();
        self.drives.face(&path);
    }

    /// Opens the link. Nothing moves by it; what keeps it back is said.
    pub fn connect(&mut self) {
        self.face_drives();
        let why = self.keeps_back();
        if let Some(first) = why.first() {
            self.say(format!("not connected: {first}"));
            return;
        }
        let checked = self.checked.clone().filter(|_| self.checked_is == Fresh::Current);
        let (Some(checked), Some(rung)) = (checked, self.drives.setup.rung()) else { return };
        self.stop();
        self.overlay.rest();
        let setup = &self.drives.setup;
        self.kept.carrier = setup.carrier.word().to_string();
        self.kept.far_end = setup.to.trim().to_string();
        let job = Job {
            checked,
            profile: self.document().path().to_path_buf(),
            carrier: setup.carrier,
            to: setup.to.trim().to_string(),
            records: self.drives.records(),
            rung,
            reason: setup.reason().map(str::to_string),
        };
        self.drives.connect(job, self.wake.clone());
    }

    /// Takes what the drives have to say; the playhead goes where the run is.
    pub(super) fn hear_of_drives(&mut self) -> bool {
        let was_engaged = self.drives.is_engaged();
        let any = self.drives.hear();
        if was_engaged && !self.drives.is_engaged() {
            // What legs strayed in the run counts from now on.
            self.compile();
        }
        if let Some(Progress { on_scene: true, path_s, .. }) = self.drives.progress() {
            let (path_s, length_s) = (*path_s, self.length_s());
            self.transport.put(path_s, length_s);
            self.axis = self.axis.showing(path_s, length_s);
        }
        any
    }

    /// Where the legs are, and the platform by them, while a run is under way.
    pub fn stands(&self) -> Vec<String> {
        let (Some(progress), Some(motion)) = (self.drives.progress(), &self.motion) else {
            return Vec::new();
        };
        stands(motion.plan.rig(), &progress.legs_m)
    }

    /// Platform coordinates by the legs of the run, while one is under way and they are a pose.
    pub(super) fn driven_pose(&self) -> Option<Vec<f64>> {
        let (progress, motion) = (self.drives.progress()?, self.motion.as_ref()?);
        let rig = motion.plan.rig();
        let near = vec![0.0; rig.axes.len()];
        let pose = crate::rig::kinematics::forward(rig, &progress.legs_m, &near).ok()?;
        Some(pose.iter().copied().collect())
    }
}
