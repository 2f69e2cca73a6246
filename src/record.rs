//! The record of a run: its channels and how they are written. Cannot: touch a file.
