//! What guards a run: the governor. Cannot: block, allocate, log.
