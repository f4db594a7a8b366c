//! What the process makes of the drawing: layer, edges, film stress.

use super::keys;
use super::node::{Node, Object, Read};
use modalith_solver::system::FilmStress;

/// Stress beyond which no film is in one piece, MPa: thermal oxides, nitrides and metals are grown with up to about 2 GPa (common practice).
const STRONGEST_MPA: f64 = 1e4;

/// What the process makes of the drawing.
pub(super) struct Process {
    pub(super) thickness_um: f64,
    pub(super) edge_bias_um: f64,
    pub(super) minimum_feature_um: Option<f64>,
    /// None where nothing is stated of it.
    pub(super) film_stress: Option<FilmStress>,
}

impl Process {
    pub(super) fn read(o: &Object) -> Read<Self> {
        let process = o.need("process", "write \"process\": {\"thickness_um\": 12.0}")?.object(&keys::PROCESS)?;
        let thickness = process
            .need("thickness_um", "write \"thickness_um\": 12.0, the thickness of the structural layer in µm")?;
        let thickness_um = thickness.positive("a thickness in µm")?;
        if !(1e-3..=1e4).contains(&thickness_um) {
            let what = format!("a layer {thickness_um} µm thick is no structural layer; 0.001 to 10000 is possible");
            return Err(thickness.error(what, "the unit is µm"));
        }
        let edge_bias_um = process.get("edge_bias_um").map_or(Ok(0.0), |n| n.number("a length in µm"))?;
        let minimum_feature_um = process.get("minimum_feature_um").map(|n| n.positive("a length in µm")).transpose()?;
        let film_stress = film_stress(&process, thickness_um)?;
        Ok(Self { thickness_um, edge_bias_um, minimum_feature_um, film_stress })
    }
}

/// The film's stress: equal in both directions or a tensor, and its gradient.
fn film_stress(process: &Object, thickness_um: f64) -> Read<Option<FilmStress>> {
    let (uniform, gradient) = (process.get("film_stress_mpa"), process.get("stress_gradient_mpa_per_um"));
    if uniform.is_none() && gradient.is_none() {
        return Ok(None);
    }
    let within = |n: &Node, what: &str, most: f64| -> Read<f64> {
        let x = n.number(what)?;
        if x.abs() > most {
            let says = format!("must be {what} from {} to {most}, not {x}", -most);
            return Err(n.error(says, "tension is positive; no film holds more"));
        }
        Ok(x)
    };
    let stress = |n: &Node| within(n, "a stress in MPa", STRONGEST_MPA);
    let tensor_mpa = match &uniform {
        None => [0.0; 3],
        Some(n) if n.value().is_object() => {
            let tensor = n.object(&keys::FILM_STRESS)?;
            let part = |key: &str| tensor.get(key).map_or(Ok(0.0), |n| stress(&n));
            [part("xx")?, part("yy")?, part("xy")?]
        }
        Some(n) => {
            let both = stress(n)?;
            [both, both, 0.0]
        }
    };
    let most = 2.0 * STRONGEST_MPA / thickness_um;
    let rise = gradient.map_or(Ok(0.0), |n| within(&n, "a stress in MPa per µm", most))?;
    Ok(Some(FilmStress { tensor_pa: tensor_mpa.map(|mpa| mpa * 1e6), gradient_pa_per_m: rise * 1e12 }))
}
