//! The player: owns the threads of a run; takes cleared plans only.
