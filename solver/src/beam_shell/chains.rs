//! Flexures as chains of beams between root lines, fingers as rigid mass on theirs. In: stretches, sections, flexibilities of joints, the
//! mesh of the wide parts. Out: what hangs on that mesh.

use super::error::BeamShellError;
use super::sections::{CachedSection, SectionCache, rounded};
use super::stretch::Stretch;
use crate::joint::chain::{Element, rigid};
use crate::joint::line::{Axis, RootLine};
use crate::material::Law;
use crate::rigid::turned;
use crate::system::{Chain, End, RigidAppendage};
use modalith_mesher::mesh::Mesh;
use modalith_mesher::outline::{Finger, Flexure, Joins};
use nalgebra::Matrix6;
use std::f64::consts::PI;

/// The elements of one flexure; `joints` are the flexibilities of its roots, each seen from its root.
pub(super) fn elements(
    flexure: &Flexure,
    number: usize,
    stretches: &[Stretch],
    joints: [Matrix6<f64>; 2],
    shelf: &SectionCache,
    law: &Law,
) -> Result<Vec<Element>, BeamShellError> {
    let length = |s: &Stretch| (s.to[0] - s.from[0]).hypot(s.to[1] - s.from[1]);
    // The mass of the true area, whatever the chords and tapers make of it.
    let drawn: f64 = stretches.iter().map(|s| s.width_um * 1e-6 * length(s)).sum();
    let scale = flexure.area.area() * 1e-12 / drawn;
    let thickness = shelf.thickness_um * 1e-6;
    let about = turned(PI);
    let mut elements = Vec::with_capacity(stretches.len());
    for (k, s) in stretches.iter().enumerate() {
        let missing = || BeamShellError::Joint { number: number + 1, at: s.from.map(|x| 1e6 * x) };
        let CachedSection { section, .. } = shelf.sections.get(&s.section).ok_or_else(missing)?;
        let near = match (k, s.corner) {
            (0, _) => joints[0],
            (_, Some(angle)) => shelf
                .corners
                .get(&(stretches[k - 1].section.clone(), s.section.clone(), rounded(angle)))
                .copied()
                .ok_or_else(missing)?,
            _ => Matrix6::zeros(),
        };
        let far = if k + 1 == stretches.len() { about * joints[1] * about.transpose() } else { Matrix6::zeros() };
        let width = s.width_um * 1e-6;
        let kg_per_m = law.density_kg_m3 * thickness * width * scale;
        let element = Element::new(s.from, s.to, section, [&near, &far], [width, thickness], kg_per_m)
            .map_err(|source| BeamShellError::TooShort { number: number + 1, source })?;
        elements.push(element);
    }
    Ok(elements)
}

/// The chain of one flexure between its root lines.
pub(super) fn chain(
    flexure: &Flexure,
    number: usize,
    stretches: &[Stretch],
    elements: Vec<Element>,
    shelf: &mut SectionCache,
    mesh: &Mesh,
) -> Result<Chain, BeamShellError> {
    let width_um = |e: usize| flexure.widths_um[if e == 0 { 0 } else { flexure.widths_um.len() - 1 }];
    let mut end = |e: usize, s: &Stretch, at: [f64; 2]| -> Result<End, BeamShellError> {
        let root = flexure.ends[e].root;
        if flexure.ends[e].joins == Joins::Anchor {
            return Ok(End::Held);
        }
        let middle = [0, 1].map(|c| 0.5 * (root[0][c] + root[1][c]));
        let line = RootLine::find(mesh, root).ok_or(BeamShellError::Root { number: number + 1, at: middle })?;
        // Its tractions weigh the whole line: it is as wide as that, also where the beam tapers.
        let key = shelf.sections(&[(s.angle, width_um(e))])?.swap_remove(0);
        let shelved = shelf.sections.get(&key).ok_or(BeamShellError::NoBeams)?;
        let tractions = shelved.tractions(shelf.thickness_um);
        Ok(End::On { line, axis: Axis { origin: at, angle: s.angle }, tractions })
    };
    let (first, last) = (&stretches[0], &stretches[stretches.len() - 1]);
    Ok(Chain { flexure: number, elements, ends: [end(0, first, first.from)?, end(1, last, last.to)?] })
}

/// A finger as rigid mass on its root line.
pub(super) fn appendage(
    finger: &Finger,
    shelf: &mut SectionCache,
    law: &Law,
    mesh: &Mesh,
) -> Result<RigidAppendage, BeamShellError> {
    let [a, b] = finger.root;
    let middle = [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])];
    // The root line has the finger on its left.
    let angle = (b[1] - a[1]).atan2(b[0] - a[0]) + 0.5 * PI;
    let key = shelf.sections(&[(angle, finger.width_um)])?.swap_remove(0);
    let shelved = shelf.sections.get(&key).ok_or(BeamShellError::NoBeams)?;
    let tractions = shelved.tractions(shelf.thickness_um);
    let line = RootLine::find(mesh, finger.root).ok_or(BeamShellError::Root { number: 0, at: middle })?;
    let thickness = shelf.thickness_um * 1e-6;
    let mass = law.density_kg_m3 * thickness * finger.area.area() * 1e-12;
    let (length, width) = (finger.length_um * 1e-6, finger.width_um * 1e-6);
    let (sin, cos) = angle.sin_cos();
    let arm = [0.5 * length * cos, 0.5 * length * sin];
    let radii = [length, width, thickness].map(|e| e / 12f64.sqrt());
    let axis = Axis { origin: middle.map(|x| x * 1e-6), angle };
    let particles = rigid(mass, axis.origin, arm, angle, radii);
    Ok(RigidAppendage { end: End::On { line, axis, tractions }, particles })
}
