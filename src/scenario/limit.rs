//! Caps, so that no text makes the resolver hang or eat the memory. Each is far beyond any real scene (common practice).

/// Longest scene, s (48 h).
pub(super) const SCENE_S: f64 = 172_800.0;

/// Most layers of one scene.
pub(super) const LAYERS: usize = 200_000;

/// Most noise layers of one scene; each holds dozens of sinusoids.
pub(super) const NOISES: usize = 20_000;

/// Most bodies (placed cues and blocks) of one scene.
pub(super) const BODIES: usize = 200_000;

/// Deepest nesting of bodies.
pub(super) const BODY_DEPTH: u32 = 48;

/// Deepest nesting of expressions, lets and labels that need one another.
pub(super) const VALUE_DEPTH: u32 = 400;

/// Most terms of one varying value.
pub(super) const VALUE_SIZE: u32 = 1000;

/// Largest exponent of a power.
pub(super) const POWER: i32 = 32;

/// Most library files of one profile.
pub(super) const LIBRARIES: usize = 256;
