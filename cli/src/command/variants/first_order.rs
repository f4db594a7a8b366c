//! What the first-order terms of the device as drawn say of a batch before any sampling. In: the modes as drawn with their terms, and the
//! plan's distributions. Out: mean and standard deviation of kept frequencies.

use crate::plan::{Kept, Plan, Variable};
use modalith_solver::process::{FirstOrder, LinearTerm, linear_moments};
use serde_json::Value;

/// A mode's frequency, Hz, with its terms where its model has them.
pub type OwnMode = (f64, Option<FirstOrder>);

/// Mean and deviation of a kept result, Hz; `None` where it is no frequency of a mode, or a variable has no such term.
pub fn expected(plan: &Plan, device: &Value, modes: &[OwnMode], kept: &Kept) -> Option<[f64; 2]> {
    let [list, number, last] = kept.steps.as_slice() else { return None };
    if list != "modes" || last != "frequency_hz" {
        return None;
    }
    let (drawn_hz, terms) = modes.get(number.parse::<usize>().ok()?)?;
    let term = |v: &Variable| {
        let drawn = device.pointer(&v.pointer).map_or(Some(0.0), Value::as_f64)?;
        let (middle, deviation) = v.variation.moments()?;
        Some(LinearTerm::new(slope(&v.pointer, drawn, terms.as_ref()?)?, drawn, (middle, deviation)))
    };
    let terms: Vec<LinearTerm> = plan.variables.iter().map(term).collect::<Option<_>>()?;
    Some(linear_moments(*drawn_hz, &terms, &plan.correlation))
}

/// Hz per unit of a device value.
fn slope(pointer: &str, drawn: f64, terms: &FirstOrder) -> Option<f64> {
    match pointer {
        "/process/edge_bias_um" => Some(terms.edge_shift_hz(1.0)),
        "/process/thickness_um" => Some(terms.thickness_shift_hz(1.0)),
        _ => {
            let name = pointer.strip_prefix("/material/")?;
            let name = name.trim_end_matches("_gpa").trim_end_matches("_kg_m3");
            terms.hz_per_constant(name, drawn)
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
    fn slopes_are_per_unit_of_the_file() {
        let plan = json!({
            "format": "modalith.plan/1", "device": "d.json", "command": "modes",
            "vary": {
                "/process/thickness_um": {"normal": {"mean": 21, "deviation": 0.2}},
                "/process/edge_bias_um": {"normal": {"mean": 0, "deviation": 0.05}},
                "/material/youngs_modulus_gpa": {"list": [158, 162]}
            },
            "sampling": {"method": "sobol", "points": 8, "seed": 1},
            "keep": {"a": "/modes/0/frequency_hz", "b": "/modes/0/mesh_error_hz"}
        });
        let plan = Document::from_bytes(Path::new("p.json"), plan.to_string().into_bytes()).unwrap();
        let plan = Plan::from_document(plan).unwrap();
        let device = json!({"process": {"thickness_um": 20}, "material": {"youngs_modulus_gpa": 160}});
        let hz_per_percent = vec![("youngs_modulus", 50.0)];
        let terms = FirstOrder { hz_per_nm_edge_bias: 2.0, hz_per_um_thickness: 500.0, hz_per_percent };
        let modes = [(10_000.0, Some(terms))];
        let [mean, deviation] = expected(&plan, &device, &modes, &plan.kept[0]).unwrap();
        assert!((mean - 10_500.0).abs() < 1e-9);
        assert!((deviation - (20_000.0_f64 + 62.5 * 62.5).sqrt()).abs() < 1e-9);
        assert_eq!(expected(&plan, &device, &modes, &plan.kept[1]), None);
        assert_eq!(expected(&plan, &device, &[(10_000.0, None)], &plan.kept[0]), None);
    }
}
