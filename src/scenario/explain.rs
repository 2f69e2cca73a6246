pub const RULES: &[crate::diag::Rule] = &[];
