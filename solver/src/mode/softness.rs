//! How much too soft shells are in the twist of slender strips, which two models that both take a strip for shells cannot show by their
//! difference. In: a structure. Out: for every triangle the share by which its strip resists twist more than its shell does.
//!
//! A shear-flexible strip of width w resists twist by G_p (w t³/3)(1 − tanh λ/λ), λ = (w/t) √(3 κ G_n/G_p) (derived here: tilt about
//! the strip's axis follows the twist, tilt across it minimises ∫ G_p t³/12 (ψ′ − 2θ)² + κ G_n t ψ² dy); a bar by Saint-Venant's
//! constant of its rectangle (Timoshenko & Goodier, *Theory of Elasticity*, ch. "Torsion"). As w/t falls the share rises to 1/κ − 1.
//!
//! Limits: laid on all of a strip's strain energy it is more than shells lack along the strip, since only what twists is too soft; what
//! they lack at its roots and corners, a few widths long, is not in it.

use crate::section::Moduli;
use crate::system::Structure;
use modalith_mesher::width::strip_widths;
use std::f64::consts::FRAC_PI_8;

/// Directions in which constants of a crystal's layer are looked at, of which the worst counts: eighths of a half turn.
const DIRECTIONS: i32 = 8;

/// For every triangle the share; empty where no triangle is a shell's.
pub(super) fn twist_softness(structure: &Structure) -> Vec<f64> {
    let (mesh, layer) = (structure.mesh(), structure.layer());
    let Some(kappa) = layer.shear_correction() else { return Vec::new() };
    let shears: Vec<[f64; 2]> = (0..DIRECTIONS).map(|k| layer.shears_along(f64::from(k) * FRAC_PI_8)).collect();
    let thickness_m = layer.thickness_m;
    let share = |width_um: f64| {
        let one = |[normal, plane]: &[f64; 2]| lacks(width_um * 1e-6, thickness_m, *normal / kappa, *plane, kappa);
        shears.iter().map(one).fold(0.0, f64::max)
    };
    let mut found: Vec<Option<f64>> = strip_widths(mesh).into_iter().map(|width| width.map(share)).collect();
    // What no ray crosses has what its neighbours have; in a flexure, what is most there, and without any the limit.
    let mut in_flexure = vec![None; mesh.flexure_of.iter().flatten().map(|f| usize::from(*f) + 1).max().unwrap_or(0)];
    for (flexure, share) in mesh.flexure_of.iter().zip(&found).filter_map(|(f, s)| Some(((*f)?, (*s)?))) {
        let most: &mut Option<f64> = &mut in_flexure[usize::from(flexure)];
        *most = Some(most.map_or(share, |m: f64| m.max(share)));
    }
    let mut beside = vec![0.0_f64; mesh.edges.len()];
    for (edges, share) in mesh.triangle_edges.iter().zip(&found).filter_map(|(e, s)| Some((e, (*s)?))) {
        edges.iter().for_each(|&e| beside[e as usize] = beside[e as usize].max(share));
    }
    for (t, share) in found.iter_mut().enumerate().filter(|(_, share)| share.is_none()) {
        let near = mesh.triangle_edges[t].iter().map(|&e| beside[e as usize]).fold(0.0, f64::max);
        let own = mesh.flexure_of[t].map_or(0.0, |f| in_flexure[usize::from(f)].unwrap_or(1.0 / kappa - 1.0));
        *share = Some(near.max(own));
    }
    found.into_iter().flatten().collect()
}

/// By how much the bar resists twist more than the shell strip, a share of the latter; 0 where it does not.
fn lacks(width: f64, thick: f64, normal_pa: f64, plane_pa: f64, kappa: f64) -> f64 {
    let bar = Moduli { youngs_pa: 0.0, shear_normal_pa: normal_pa, shear_plane_pa: plane_pa }.twist_nm2(width, thick);
    let lambda = width / thick * (3.0 * kappa * normal_pa / plane_pa).sqrt();
    // 1 − tanh λ/λ, by its series where the difference would lose digits.
    let factor = if lambda < 0.01 { lambda * lambda / 3.0 } else { 1.0 - lambda.tanh() / lambda };
    let strip = plane_pa * width * thick.powi(3) / 3.0 * factor;
    (bar / strip - 1.0).clamp(0.0, 1.0 / kappa)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::material::Law;
    use crate::modal::{Wanted, modes};
    use crate::system::Layer;
    use modalith_mesher::mesh::Mesh;

    /// A long bar held at both ends that twists, as shells and as solids: all of its strain is twist, so that shells lack of λ what is said,
    /// but for its roots.
    #[test]
    fn shells_lack_what_is_said_of_a_twisted_bar() {
        for (width, thick) in [(4.0, 4.0), (4.0, 8.0), (4.0, 16.0)] {
            let mut bar = Mesh::rectangle(300.0, width, 40, 2).unwrap();
            bar.hold(|m| m[0] == 0.0 || m[0] == 300.0);
            let law = Law::isotropic(2330.0, 160e9, 0.22).unwrap();
            let wanted = Wanted::Lowest(36);
            let found = |layer: Layer| modes(&Structure::anchored(bar.clone(), layer), wanted, &|_| {}).unwrap();
            let (shell, solid) = (found(Layer::shell(&law, thick)), found(Layer::solid_by_region(&law, thick, &bar)));
            let twists =
                |m: &crate::mode::Mode| m.participation.iter().enumerate().all(|(k, p)| k == 3 || p.abs() < 1e-12);
            let turning = |m: &&crate::mode::Mode| m.participation[3].abs() > 1e-14 && twists(m);
            let one = shell.modes.iter().find(turning).unwrap();
            let like = solid.modes.iter().find(turning).unwrap();
            let lacks = (like.frequency_hz / one.frequency_hz).powi(2) - 1.0;
            println!("{width} × {thick}: {lacks:.4} of λ, bound {:.4}", one.shell_twist_share);
            // A root of a solid holds as if the bar were shorter by some hundredths of its section.
            let roots = 0.12 * f64::max(width, thick) / 300.0;
            let beyond = lacks - one.shell_twist_share;
            assert!(beyond > -0.05 * one.shell_twist_share && beyond < roots, "{lacks} {}", one.shell_twist_share);
            assert_eq!(like.shell_twist_share, 0.0);
        }
    }
}
