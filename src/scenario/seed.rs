//! Seeds of noise, from what things are called and never from when they play or where they stand in the file.
//!
//! The seed is the FNV-1a hash of a path: one part for every cue, block or layer from the scene down, joined by `/`.
//! A part is the label, or else the cue's name, or `{}` for a block; `#n` follows where it is repetition n of an
//! `every`. The last part is the layer's: its label or nothing, `#n`, then `channel:n`, n counting the layers on that
//! channel in that body. So a cue sounds the same wherever it is moved to, and two labels sound differently.

/// FNV-1a, 64 bits. Source: Fowler, Noll, Vo; draft-eastlake-fnv (constants and test values from memory).
pub(super) fn seed(path: &str) -> u64 {
    path.bytes().fold(0xcbf2_9ce4_8422_2325, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn known_hashes() {
        assert_eq!(seed(""), 0xcbf2_9ce4_8422_2325);
        assert_eq!(seed("a"), 0xaf63_dc4c_8601_ec8c);
        assert_eq!(seed("foobar"), 0x8594_4171_f739_67e8);
    }
}
