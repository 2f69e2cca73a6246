//! The long texts of this phase's rules.

use crate::diag::Rule;

/// Every rule that reading a profile can break.
pub const RULES: &[Rule] = &[];
