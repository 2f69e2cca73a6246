//! What tells one text from another.

use sha2::{Digest, Sha256};
use std::fmt::Write as _;

/// SHA-256 of a text (FIPS 180-4), hex.
pub fn sha256(text: &str) -> String {
    Sha256::digest(text.as_bytes()).iter().fold(String::new(), |mut hex, byte| {
        // Writing to a string cannot fail.
        let _ = write!(hex, "{byte:02x}");
        hex
    })
}

#[cfg(test)]
mod tests {
    /// Source: FIPS 180-4 example "abc", as published with the standard.
    #[test]
    fn the_example_of_the_standard() {
        let expected = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        assert_eq!(super::sha256("abc"), expected);
    }
}
