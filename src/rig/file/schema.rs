//! The JSON Schema of rig files, for editors that complete and check TOML.
pub fn schema() -> serde_json::Value {
    serde_json::Value::Null
}
