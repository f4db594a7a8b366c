//! What a device file states, and whether it is in the figures of a solution. In: device, what was solved and for which purpose. Out:
//! statements for `used`.

use crate::device::Device;
use modalith_mesher::outline::Outline;
use modalith_solver::electrode::{Electrode, Law};
use modalith_solver::model::{AnchorsHeld, ModalSolution, Model, ModelInput, Purpose, SolveContext, Used};
use modalith_solver::sensor::ElectrodeFound;

/// What of a device file says how a part is worked with and what is asked of it.
const AT_WORK: [&str; 4] = ["operation", "guards", "stoppers", "requirements"];

/// A statement that is in the figures, or why it is not.
fn said(is_used: bool, input: String, neglected: &str) -> Used {
    if is_used { Used::input(input) } else { Used::neglected(format!("{input}: {neglected}")) }
}

/// What the device file states, and whether it is in the figures.
pub fn stated(
    device: &Device,
    (input, context): (&ModelInput, &SolveContext),
    solved: &ModalSolution,
    purpose: Purpose,
) -> Vec<Used> {
    let mut used = of_mechanics(device, (input, context), solved);
    if purpose == Purpose::Rate {
        used.extend(of_rate(device, input, solved));
    } else {
        used.extend(of_rate_alone(device));
    }
    used
}

/// Openings that the edge bias fills, a sentence; none where it fills none.
pub fn filled(device: &Device, outline: &Outline) -> Option<String> {
    // Rounding about zero prints no sign.
    let [x, y] = outline.filled.first()?.map(|um| (10.0 * um).round() / 10.0 + 0.0);
    Some(format!(
        "drawn openings that the edge bias of {} µm fills: {}, one at ({x:.1}, {y:.1}) µm; taken as solid",
        device.edge_bias_um,
        outline.filled.len()
    ))
}

/// Plates whose covered area changes with motion in the plane, which their gradients leave out.
pub fn overlaps(electrodes: &[ElectrodeFound]) -> impl Iterator<Item = Used> {
    electrodes.iter().filter_map(|e| {
        let [x, y] = e.overlap_change?;
        Some(Used::neglected(format!(
            "what plate \"{}\" covers changes by up to {x:.1} µm² for a µm along x and {y:.1} for one along y, where an edge of the part lies over \
             it: its gradients, its pull and what is read through it have only the motion out of the plane",
            e.name
        )))
    })
}

/// What is left out of combs and walls, `under_bias` where the model has it.
fn of_fingers_and_walls(electrodes: &[Electrode], under_bias: bool) -> Vec<Used> {
    let mut used = Vec::new();
    let has_tips = |e: &&Electrode| matches!(&e.law, Law::Comb(comb) if comb.tip_gap_m.is_none());
    let tips: Vec<String> = electrodes.iter().filter(has_tips).map(|e| format!("\"{}\"", e.name)).collect();
    if !tips.is_empty() {
        let why = "\"tip_gap_um\" is not stated; they are taken never to touch";
        used.push(Used::neglected(format!("what lies ahead of the fingertips of {}: {why}", tips.join(", "))));
    }
    let evenly = electrodes.iter().filter(|e| e.is_biased() && !matches!(e.law, Law::Plate(_)));
    let evenly: Vec<String> = evenly.map(|e| format!("\"{}\"", e.name)).collect();
    if !evenly.is_empty() && under_bias {
        used.push(Used::neglected(format!(
            "where fingers and walls of {} lie: their pull is spread evenly over their mass, so that far from its middle they soften turns more, and \
             pull in sooner, than is found here",
            evenly.join(", ")
        )));
    }
    used
}

/// What is left out of the state under film stress.
fn of_film(solved: &ModalSolution) -> Vec<Used> {
    if solved.film.is_none() {
        return Vec::new();
    }
    let pull = if solved.bias.is_some() {
        "what the part moves under it does to the pull and the softening of biased electrodes (their readings have it); "
    } else {
        ""
    };
    vec![
        Used::input("film stress, less what the part relaxes of it before it vibrates".to_owned()),
        Used::neglected(format!(
            "{pull}how the stress that is left follows edges, layer and material: no first-order terms are given; what the mesh leaves of \
             that stress: error bars are of the vibration, and of what the motion in the plane at rest does to the shape"
        )),
    ]
}

/// What modes depend on.
fn of_mechanics(device: &Device, (input, context): (&ModelInput, &SolveContext), solved: &ModalSolution) -> Vec<Used> {
    let mut used = Vec::new();
    let (model, outline, electrodes) = (solved.model, input.outline, &input.loads.electrodes);
    let biased: Vec<String> =
        electrodes.iter().filter(|e| e.is_biased()).map(|e| format!("\"{}\" {} V", e.name, e.bias_v)).collect();
    if !biased.is_empty() {
        let why = format!("softening and static deflection are not in the {model} model");
        used.push(said(solved.bias.is_some(), format!("bias of electrodes {}", biased.join(", ")), &why));
    }
    if solved.bias.is_some() && solved.terms.is_some() {
        let rest = if model == Model::BeamShell {
            ""
        } else {
            "how the deflection under bias follows edges, layer and material, and "
        };
        used.push(Used::neglected(format!(
            "{rest}what edges and thickness do to gaps and facing areas of biased electrodes: first-order terms hold that as it is; \
             `modalith variants` solves every point anew, with gaps that are typed as typed"
        )));
    }
    used.extend(of_fingers_and_walls(electrodes, solved.bias.is_some()));
    used.extend(of_film(solved));
    used.extend(filled(device, outline).map(Used::replacement));
    if let Some([x, y]) = outline.covered.first() {
        used.push(Used::replacement(format!(
            "slender strips to anchors that named masses lie over: {}, one at ({x:.1}, {y:.1}) µm; taken as parts of the masses, not as flexures",
            outline.covered.len()
        )));
    }
    if let Some([x, y]) = outline.unrecognised.first() {
        used.push(Used::replacement(format!(
            "slender strips that were not recognised as flexures: {}, one at ({x:.1}, {y:.1}) µm; taken as parts of bodies",
            outline.unrecognised.len()
        )));
    }
    if device.anchors_held == AnchorsHeld::Below && !outline.anchors.is_empty() {
        let why = format!("the {model} model holds their side faces");
        let below = !context.held_below.is_empty() && model == Model::Solid;
        used.push(said(below, "anchors held from below".into(), &why));
    }
    if let Some(limit) = device.holes_below_um.filter(|_| model != Model::BeamShell) {
        let why = format!("the {model} model keeps every opening");
        used.push(said(false, format!("holes_below_um {limit}"), &why));
    }
    let mesh = device.stated("mesh");
    if model == Model::Lumped && !mesh.is_empty() {
        used.push(said(false, mesh.join(", "), "the lumped model has no mesh"));
    }
    used
}

/// What the rate report takes for the part as made.
fn of_rate(device: &Device, input: &ModelInput, solved: &ModalSolution) -> Vec<Used> {
    let mut used = Vec::new();
    let model = solved.model;
    if let Some(um) = device.imperfections.left_right_width_um {
        let why = format!("the {model} model has no term for it; nothing as made contains it");
        let middle = input.outline.middle_um()[0];
        let what = format!("left_right_width_um {um}, right of the middle of all that moves at x = {middle:.1} µm");
        used.push(said(!solved.flexure_terms.is_empty(), what, &why));
    }
    let makes = |stated: Option<f64>| stated.is_some_and(|x| x != 0.0);
    if makes(device.imperfections.sidewall_tilt_deg) || makes(device.imperfections.left_right_width_um) {
        used.push(Used::neglected(format!(
            "what modes beyond the {} listed add to the quadrature as made: a bound of it counts as its error",
            solved.modes.len()
        )));
    }
    let s = &device.spread_3sigma;
    if [s.edge_bias_um, s.thickness_um, s.youngs_modulus_percent, s.density_percent].iter().any(Option::is_some) {
        let why = format!("the {model} model gives no first-order terms here; nothing as made contains it");
        used.push(said(solved.terms.is_some(), "spread_3sigma".into(), &why));
    }
    if !device.stoppers.is_empty() && device.operation.shock.is_none() {
        used.push(said(false, "stoppers".into(), "no operation/shock is stated, so nothing reaches them"));
    }
    if device.operation.shock.is_some() && device.electrodes.iter().any(|e| e.bias_v != 0.0) {
        let why = "the shock is answered to first order about the state at rest";
        used.push(Used::neglected(format!("how the pull of biased electrodes grows as gaps close: {why}")));
    }
    if solved.film.is_some() && device.operation.shock.is_some() {
        used.push(Used::neglected(
            "what film stress leaves in flexures: stress under a shock is the shock's alone".to_owned(),
        ));
    }
    used.extend(other_places(device, &["modes/near_hz", "modes/up_to_hz"]));
    used
}

/// What the rate report alone takes: the modes of a drawing depend on none of it.
fn of_rate_alone(device: &Device) -> Vec<Used> {
    let there = |objects: &[&str]| -> Vec<String> {
        objects.iter().filter(|o| !device.stated(o).is_empty()).map(|o| (*o).to_owned()).collect()
    };
    let made = [device.stated("imperfections"), there(&["spread_3sigma"])].concat();
    [
        (made, "these modes are those of the drawing; `modalith rate` weighs what is made of it"),
        (there(&AT_WORK), "no mode depends on that; `modalith rate` takes it"),
    ]
    .into_iter()
    .filter(|(what, _)| !what.is_empty())
    .map(|(what, why)| said(false, what.join(", "), why))
    .collect()
}

/// Where modes are to be sought, which a command that needs the lowest does not take.
pub fn other_places(device: &Device, keys: &[&str]) -> Option<Used> {
    let found: Vec<String> = device.stated("modes").into_iter().filter(|k| keys.contains(&k.as_str())).collect();
    (!found.is_empty()).then(|| said(false, found.join(", "), "the lowest modes are taken here"))
}

/// What an audit leaves out beside what its models do.
pub fn of_audit(device: &Device) -> Vec<Used> {
    let names: Vec<&str> = device.electrodes.iter().filter(|e| e.bias_v == 0.0).map(|e| e.name.as_str()).collect();
    let electrodes = (!names.is_empty()).then(|| {
        let all = names.iter().map(|n| format!("\"{n}\"")).collect::<Vec<_>>().join(", ");
        said(false, format!("electrodes {all}"), "without a bias they change no mode, and an audit reads none")
    });
    let places = other_places(device, &["modes/near_hz", "modes/up_to_hz"]);
    electrodes.into_iter().chain(places).collect()
}
