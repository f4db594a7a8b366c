//! How much stiffer tall flexures may bend at their roots than both shells and beams have them, which their difference cannot show. In: a
//! layout. Out: a share of the stiffness of every flexure.
//!
//! Bent in the plane, a flexure of width w narrows and thickens across; where it is rooted, what lies behind holds its thickness, which
//! plane stress and beams do not know. Root cells of the beam-shell model have it for the straight border of a wide part; flush with
//! a corner, beside an opening or in a thin web neither model has. The bound taken here: within half the thickness t of such a root
//! (de Saint-Venant) the thickness is held altogether, and bending is stiffer by E′/E, E′ the modulus along the flexure at held thickness
//! (plane strain, Timoshenko & Goodier, *Theory of Elasticity*, ch. 2). Of the bending energy of a guided beam of length L, whose curvature is
//! linear and zero in the middle, (1 − (1 − t/L)³)/2 lies there at either end.

use super::input::ModelInput;
use crate::material::Law;
use modalith_mesher::geometry::Point;
use modalith_mesher::outline::{Flexure, FlexureEnd, Outline};

/// For every flexure the share by which its stiffness may lie above that of shells and of beams.
pub fn root_stiffness(input: &ModelInput) -> Vec<f64> {
    input.outline.flexures.iter().map(|flexure| of_flexure(input, flexure)).collect()
}

fn of_flexure(input: &ModelInput, flexure: &Flexure) -> f64 {
    let thickness_um = input.thickness_um;
    if thickness_um <= flexure.narrowest_um() {
        return 0.0;
    }
    let at_one_end = 0.5 * (1.0 - (1.0 - (thickness_um / flexure.length_um).min(1.0)).powi(3));
    let [[x0, y0], .., [x1, y1]] = flexure.centre_line[..] else { return 0.0 };
    let stiffer = held_thickness(&input.law.turned_with_layout(-(y1 - y0).atan2(x1 - x0).to_degrees()));
    let ends = flexure.ends.iter().filter(|end| !in_a_border(input.outline, end)).count();
    ends as f64 * at_one_end * stiffer
}

/// By what share the modulus along x is larger where the thickness is held; 0 where the stiffness is singular.
fn held_thickness(law: &Law) -> f64 {
    let (along, through) = (0, 2);
    let held = law.stiffness_pa.remove_row(through).remove_column(through);
    let modulus = held.try_inverse().map_or(0.0, |s| 1.0 / s[(along, along)]);
    (modulus / law.youngs_modulus_x_pa() - 1.0).max(0.0)
}

/// Whether a root lies in the straight border of something wider: material a width to either side of it and a width deep.
fn in_a_border(outline: &Outline, end: &FlexureEnd) -> bool {
    let [a, b] = end.root;
    let width = (b[0] - a[0]).hypot(b[1] - a[1]);
    let along = [0, 1].map(|k| (b[k] - a[k]) / width);
    // The flexure lies on the left of its root.
    let inwards = [along[1], -along[0]];
    let place = |across: f64, deep: f64| [0, 1].map(|k| a[k] + width * (across * along[k] + deep * inwards[k]));
    let steps = [-0.9, -0.5, 0.0, 0.5, 1.0, 1.5, 1.9];
    let is_material = |p: Point| {
        outline.parts.iter().map(|part| &part.polygon).chain(&outline.anchors).any(|polygon| polygon.contains(p))
    };
    steps.into_iter().all(|across| [0.1, 0.5, 0.9].into_iter().all(|deep| is_material(place(across, deep))))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::material::Orientation;

    /// Closed forms: isotropic 1/(1 − ν²); silicon along <110> on (100), whose ν through the thickness are 0.362 and 0.279 (Hopcroft et
    /// al., J. Microelectromech. Syst. 19 (2010) 229): 1/(1 − 0.362 · 0.279).
    #[test]
    fn held_thickness_is_plane_strain() {
        let steel = Law::isotropic(2330.0, 160e9, 0.22).unwrap();
        assert!((held_thickness(&steel) - (1.0 / (1.0 - 0.22 * 0.22) - 1.0)).abs() < 1e-12);
        let orientation = Orientation { wafer: [0, 0, 1], x_along: [1, 1, 0], x_off_deg: 0.0 };
        let silicon = Law::cubic(2329.0, 165.7e9, 63.9e9, 79.6e9, &orientation).unwrap();
        assert!((held_thickness(&silicon) / (1.0 / (1.0 - 0.362 * 0.279) - 1.0) - 1.0).abs() < 0.01);
    }
}
