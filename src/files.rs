//! Reading and writing paths; the only place that names `std::fs`.
