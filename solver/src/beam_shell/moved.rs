//! The mesh of a beam-shell model moved with the etched edges, so that two models differ by physics and not by meshes.

use super::BeamShell;
use super::wide::Wide;
use modalith_mesher::geometry::Point;
use modalith_mesher::mesh::Mesh;
use modalith_mesher::motion::MeshMotion;
use modalith_mesher::outline::Outline;
use std::collections::BTreeMap;

/// How near a corner of the mesh lies to the point of a root line that it is, µm.
const THERE_UM: f64 = 1e-6;

impl BeamShell {
    /// This model's mesh moved to an outline whose etched edges lie `step_um` farther out, so that the difference of two models is
    /// physics and not noise of meshes; motions fade over `reach_um`. `None` where the outline is another one.
    pub fn mesh_moved_to(
        &self,
        outline: &Outline,
        holes_below_um: Option<f64>,
        step_um: f64,
        reach_um: f64,
    ) -> Option<Mesh> {
        if self.wide.beams.iter().any(|&i| i >= outline.flexures.len()) {
            return None;
        }
        let wide = Wide::of(outline, self.wide.beams.clone(), holes_below_um);
        if wide.kept.len() != self.wide.kept.len() || step_um == 0.0 {
            return None;
        }
        // Where a flexure was cut off the walls run on through its root: its ends are told how far to slide along them.
        let mut pinned = BTreeMap::new();
        for (&old, new) in self.wide.kept.iter().zip(&wide.kept) {
            let there = |p: &Point| (p[0] - old[0]).hypot(p[1] - old[1]) < THERE_UM;
            let corner = self.structure.mesh().points.iter().position(there)?;
            pinned.insert(corner as u32, [0, 1].map(|k| (new[k] - old[k]) / step_um));
        }
        let motion = MeshMotion::of_edges(self.structure.mesh(), reach_um, |_| 1.0, &pinned);
        motion.moved_between(self.structure.mesh(), step_um, self.wide.area_um2(), wide.area_um2())
    }
}
