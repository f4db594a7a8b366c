//! The state at rest under film stress, as a line and as JSON.

use super::units::{decimals_for, grouped, length_um};
use modalith_solver::state::FilmRest;
use serde_json::{Value, json};

const MPA: f64 = 1e-6;
/// Motions below this are rounding.
const LEAST_M: f64 = 1e-15;

/// A number of the device file after its way through other units, without what rounding left on it.
fn as_stated(x: f64) -> f64 {
    (x * 1e9).round() / 1e9
}

/// What the film carries, how far the part moves and where it buckles, a sentence.
pub fn line(rest: &FilmRest) -> String {
    let [xx, yy, xy] = rest.film.tensor_pa.map(|pa| as_stated(pa * MPA));
    let uniform = if xx == yy && xy == 0.0 { format!("{xx} MPa") } else { format!("xx {xx}, yy {yy}, xy {xy} MPa") };
    let gradient = match as_stated(rest.film.gradient_pa_per_m * 1e-12) {
        0.0 => String::new(),
        rise => format!(", {rise} MPa/µm upwards"),
    };
    let [along, across] = rest.largest_m.map(|m| if m < LEAST_M { "0 nm".to_owned() } else { length_um(m * 1e6) });
    let buckles: Vec<String> = factors(rest).iter().map(|f| grouped(*f, decimals_for(*f, 4).min(4), ' ')).collect();
    let buckles = match buckles.as_slice() {
        [] if rest.buckling.is_none() => "a free part keeps none of it".to_owned(),
        [] => "no multiple of it up to a hundred buckles the part".to_owned(),
        some => format!("the part buckles at {} times that", some.join(" and ")),
    };
    format!("film stress {uniform}{gradient}: relaxed by up to {along} in the plane and {across} out of it; {buckles}")
}

/// The smallest positive and the largest negative factor, as far as there are.
fn factors(rest: &FilmRest) -> Vec<f64> {
    rest.buckling.iter().flat_map(|b| [b.positive, b.negative]).flatten().collect()
}

/// The object `state` of the results.
pub fn document(rest: &FilmRest) -> Value {
    let [xx, yy, xy] = rest.film.tensor_pa.map(|pa| as_stated(pa * MPA));
    let [in_plane, out_of_plane] = rest.largest_m.map(|m| m * 1e6);
    json!({
        "film_stress_mpa": {"xx": xx, "yy": yy, "xy": xy},
        "stress_gradient_mpa_per_um": as_stated(rest.film.gradient_pa_per_m * 1e-12),
        "largest_deflection_um": {"in_plane": in_plane, "out_of_plane": out_of_plane},
        "buckling_factors": factors(rest),
    })
}
