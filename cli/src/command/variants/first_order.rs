//! What the first-order terms of the device as drawn say of a batch before any sampling. In: the JSON result of `modes` as drawn,
//! with its terms, and the plan's distributions. Out: mean and standard deviation of kept frequencies: with g the slopes,
//! f + gᵀ (m − x) and √(gᵀ C g), m and C the variables' means and covariance, x their drawn values. The correlation is that of
//! normal scores, exact for normal variables.

use crate::plan::{Kept, Plan};
use serde_json::Value;

/// Mean and deviation of a kept result, Hz; `None` where it is no frequency of a mode, or a variable has no such term.
pub fn expected(plan: &Plan, device: &Value, result: &Value, kept: &Kept) -> Option<[f64; 2]> {
    let [list, _, last] = kept.steps.as_slice() else { return None };
    if list != "modes" || last != "frequency_hz" {
        return None;
    }
    let mode = result.pointer(kept.pointer.strip_suffix("/frequency_hz")?)?;
    let drawn_hz = mode["frequency_hz"].as_f64()?;
    let mut mean = drawn_hz;
    let mut parts = Vec::new();
    for v in &plan.variables {
        let (slope, drawn) = slope(&v.pointer, device, &mode["first_order"])?;
        let (middle, deviation) = v.variation.moments()?;
        mean += slope * (middle - drawn);
        parts.push(slope * deviation);
    }
    let mut square = 0.0;
    for (i, a) in parts.iter().enumerate() {
        square += parts.iter().enumerate().map(|(j, b)| a * b * plan.correlation[(i, j)]).sum::<f64>();
    }
    Some([mean, square.max(0.0).sqrt()])
}

/// Hz per unit of a device value, and the value as drawn.
fn slope(pointer: &str, device: &Value, terms: &Value) -> Option<(f64, f64)> {
    let drawn = device.pointer(pointer).map_or(Some(0.0), Value::as_f64)?;
    match pointer {
        "/process/edge_bias_um" => Some((1e3 * terms["hz_per_nm_edge_bias"].as_f64()?, drawn)),
        "/process/thickness_um" => Some((terms["hz_per_um_thickness"].as_f64()?, drawn)),
        _ => {
            let name = pointer.strip_prefix("/material/")?;
            let name = name.trim_end_matches("_gpa").trim_end_matches("_kg_m3");
            // Hz per percent of the value is a hundred times that per value.
            Some((100.0 * terms["hz_per_percent"][name].as_f64()? / drawn, drawn)).filter(|(s, _)| s.is_finite())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::device::document::Document;
    use serde_json::json;
    use std::path::Path;

    #[test]
    fn slopes_and_covariance() {
        let plan = json!({
            "format": "modalith.plan/1", "device": "d.json", "command": "modes",
            "vary": {
                "/process/thickness_um": {"normal": {"mean": 21, "deviation": 0.2}},
                "/process/edge_bias_um": {"normal": {"mean": 0, "deviation": 0.05}},
                "/material/youngs_modulus_gpa": {"list": [158, 162]}
            },
            "correlation": [{"between": ["/process/thickness_um", "/process/edge_bias_um"], "coefficient": 0.5}],
            "sampling": {"method": "sobol", "points": 8, "seed": 1},
            "keep": {"a": "/modes/0/frequency_hz", "b": "/modes/0/mesh_error_hz"}
        });
        let plan = Document::from_bytes(Path::new("p.json"), plan.to_string().into_bytes()).unwrap();
        let plan = Plan::from_document(plan).unwrap();
        let device = json!({"process": {"thickness_um": 20}, "material": {"youngs_modulus_gpa": 160}});
        let terms = json!({"hz_per_nm_edge_bias": 2.0, "hz_per_um_thickness": 500.0, "hz_per_percent": {"youngs_modulus": 50.0}});
        let result = json!({"modes": [{"frequency_hz": 10_000.0, "first_order": terms}]});
        let [mean, deviation] = expected(&plan, &device, &result, &plan.kept[0]).unwrap();
        assert!((mean - 10_500.0).abs() < 1e-9);
        // Parts 100, 100 and 62.5 Hz: 100² + 100² + 2 · 0.5 · 100 · 100 + 62.5².
        assert!((deviation - (30_000.0_f64 + 62.5 * 62.5).sqrt()).abs() < 1e-9);
        assert_eq!(expected(&plan, &device, &result, &plan.kept[1]), None);
    }
}
