//! `run.json`: what the run cost and what it ran on. The only file that differs from run to run.

use super::findings::Findings;
use serde_json::{Map, Value, json};

/// The document of `run.json`.
pub fn document(findings: &Findings) -> Value {
    let mut seconds: Map<String, Value> =
        findings.timings.stages.iter().map(|(name, s)| (name.clone(), json!(s))).collect();
    seconds.insert("total".to_owned(), json!(findings.timings.total_s));
    let mut run = json!({
        "format": "modalith.run/1",
        "version": findings.version,
        "threads": findings.threads,
        "seconds": seconds,
        "inputs": findings.inputs.iter().map(|i| json!({"file": i.file, "sha256": i.sha256})).collect::<Vec<_>>(),
    });
    if let (Some(bytes), Some(object)) = (findings.peak_memory_bytes, run.as_object_mut()) {
        object.insert("peak_memory_bytes".to_owned(), json!(bytes));
    }
    if findings.predicted_memory_bytes > 0 {
        run["predicted_memory_bytes"] = json!(findings.predicted_memory_bytes);
    }
    run
}
