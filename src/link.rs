//! Links to drives behind one trait; for now the simulated rig.
