//! Where a model is not enough for a layout, in sentences.

use crate::electrode::{Electrode, Law as ElectrodeLaw};
use crate::lumped::{Lumped, Spring};
use crate::material::Law;
use crate::mode::Mode;
use crate::state::FilmRest;
use modalith_mesher::boolean::intersection;
use modalith_mesher::geometry::Polygon;
use modalith_mesher::outline::Outline;

/// A flexure shorter than this many times its width or the layer's thickness shears, and its roots give.
pub(super) const LONG: f64 = 10.0;
/// Share of a plate's area over beams from which it is said that their part of the force is left out.
const OVER_BEAMS: f64 = 1e-3;

/// What shells leave out in a crystal whose law lacks the mirror z → −z, a sentence: bending couples to shear through the thickness there.
pub fn without_mirror(law: &Law) -> Option<String> {
    let z = 2;
    (!law.has_mirror(z)).then(|| {
        "this cut of the crystal has no mirror plane along the layer, and shells, unlike solids, leave out how shear through the \
         thickness relieves bending there: plates bend too stiffly, by how much is not measured here"
            .to_owned()
    })
}

/// Where a shell may not be enough: flexures taller than wide, and the modes that twist them. By how much is not known from shells
/// alone, so that no number is given but the measured shares.
pub fn shell_cautions(outline: &Outline, thickness_um: f64, modes: &[Mode]) -> Vec<String> {
    let tall: Vec<f64> =
        outline.flexures.iter().map(|f| thickness_um / f.narrowest_um()).filter(|&r| r > 1.0).collect();
    let Some(worst) = tall.iter().copied().reduce(f64::max) else { return Vec::new() };
    let mut said = vec![format!(
        "{} of {} flexures are taller than wide, up to {worst:.1} times: a shell is too soft in their twist, and where they are \
         short; by how much is not measured here, `modalith audit` measures it",
        tall.len(),
        outline.flexures.len()
    )];
    let twisting = modes.iter().map(|m| m.twist_strain_share).fold(0.0, f64::max);
    if twisting > 0.0 {
        let percent = if twisting < 0.005 { "under 1".to_owned() } else { format!("{:.0}", 100.0 * twisting) };
        said.push(format!("largest share of twist in the strain energy: {percent} %"));
    }
    said
}

/// Says so where plates cover beams, whose part of the force is left out.
pub(super) fn over_beams(outline: &Outline, electrodes: &[Electrode], is_beam: impl Fn(usize) -> bool) -> Vec<String> {
    let beams: Vec<Polygon> =
        outline.flexures.iter().enumerate().filter(|(i, _)| is_beam(*i)).map(|(_, f)| f.area.clone()).collect();
    let area = |polygons: &[Polygon]| polygons.iter().map(Polygon::area).sum::<f64>();
    let plates = electrodes.iter().filter(|e| matches!(e.law, ElectrodeLaw::Plate(_)));
    plates
        .filter_map(|e| {
            let parts: Vec<Polygon> = outline.parts.iter().map(|p| p.polygon.clone()).collect();
            let share = area(&intersection(&e.over, &beams)) / area(&intersection(&e.over, &parts));
            (share > OVER_BEAMS).then(|| {
                let percent = 100.0 * share;
                format!(
                    "plate \"{}\" covers flexures, {percent:.1} % of what it covers: capacitance and gradient have them, but their \
                     part of the static pull and of the softening is left out",
                    e.name
                )
            })
        })
        .collect()
}

/// Where the lumped model's assumptions do not hold, as far as the layout shows.
pub(super) fn lumped_cautions(lumped: &Lumped) -> Vec<String> {
    let mut said = vec![
        "bodies, roots and trusses are rigid here, flexures do not shear, and closed forms stand for their sections: by how much \
         frequencies are off, `modalith audit` tells"
            .to_owned(),
    ];
    let widest = |s: &Spring| s.stretches.iter().flat_map(|s| s.widths_m).fold(s.thickness_m, f64::max);
    let short: Vec<String> = lumped
        .springs
        .iter()
        .enumerate()
        .filter(|(_, s)| s.length_m() < LONG * widest(s))
        .map(|(f, _)| (f + 1).to_string())
        .collect();
    if !short.is_empty() {
        said.push(format!("shorter than ten times the larger of width and thickness: flexure {}", short.join(", ")));
    }
    said
}

/// That modes are of the flat part where a film's gradient curls it.
pub(super) fn curled(rest: &FilmRest) -> Option<String> {
    let um = rest.largest_m[1] * 1e6;
    (!rest.film.is_even()).then(|| {
        format!(
            "the film's gradient curls the part by up to {um:.3} µm and modes are of the flat part: what the curved shape couples between motion in \
             the plane and out of it is left out"
        )
    })
}
