//! Text to tokens.
