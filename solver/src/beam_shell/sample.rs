//! Modes of a beam-shell model at points of the whole layout. In: modes, a mesh of the layout, µm. Out: displacements and slopes there.

use super::BeamShell;
use crate::joint::chain::OnChain;
use crate::modal::Modal;
use crate::mode::{Fields, Mode, PointOutsideMesh, Sampled, Stations, sampling_points};
use modalith_mesher::geometry::Point;
use modalith_mesher::locate::Locator;
use modalith_mesher::mesh::Mesh;
use modalith_mesher::outline::Outline;
use rayon::prelude::*;

/// What a triangle of the whole layout is in the model.
#[derive(Clone, Copy, PartialEq)]
enum Tag {
    Wide,
    Chain(usize),
    Finger(usize),
}

/// Where a point of the layout gets its motion from.
enum Source {
    /// The wide parts, by number of the station.
    Wide(usize),
    /// A chain, and the number of the point among those on chains.
    Chain(usize, usize),
    /// A finger: the station at its root, and how far out the point is, m.
    Finger(usize, [f64; 2]),
}

/// Places on the wide parts' mesh, places on chains, and for every point which of them moves it.
struct Placed {
    stations: Vec<Point>,
    on_chains: Vec<OnChain>,
    sources: Vec<Source>,
}

impl BeamShell {
    fn tag(&self, fingers: &Locator, whole: &Mesh, t: usize) -> Tag {
        if let Some(chain) = whole.flexure_of[t].and_then(|f| self.chain_of.get(usize::from(f)).copied().flatten()) {
            return Tag::Chain(chain);
        }
        let [a, b, c] = whole.triangles[t].map(|i| whole.points[i as usize]);
        let centre = [(a[0] + b[0] + c[0]) / 3.0, (a[1] + b[1] + c[1]) / 3.0];
        fingers.find(centre).map_or(Tag::Wide, |f| Tag::Finger(usize::from(f)))
    }

    /// Where every point of a grid on the whole layout takes its motion from.
    fn placed(&self, outline: &Outline, whole: &Mesh, grid: &Sampled) -> Placed {
        let fingers = Locator::new(outline.fingers.iter().map(|f| std::slice::from_ref(&f.area)));
        let tags: Vec<Tag> = (0..whole.triangles.len()).map(|t| self.tag(&fingers, whole, t)).collect();
        // A point on a root line belongs to the wide part, so that both sides agree.
        let mut of_point: Vec<Option<Tag>> = vec![None; grid.points.len()];
        for (cell, &t) in grid.cells.iter().zip(&grid.triangle_of) {
            let own = tags[t as usize];
            for &p in cell {
                let known = &mut of_point[p as usize];
                *known = Some(if known.is_none_or(|k| k == own) { own } else { Tag::Wide });
            }
        }
        let (mut stations, mut on_chains) = (Vec::new(), Vec::new());
        let mut sources = Vec::with_capacity(grid.points.len());
        for (&p, tag) in grid.points.iter().zip(of_point) {
            sources.push(match tag {
                Some(Tag::Chain(c)) => {
                    on_chains
                        .push(OnChain::find(&self.structure.attachments().chains[c].elements, p.map(|x| x * 1e-6)));
                    Source::Chain(c, on_chains.len() - 1)
                }
                Some(Tag::Finger(f)) => {
                    let [a, b] = outline.fingers[f].root;
                    let root = [0, 1].map(|k| 0.5 * (a[k] + b[k]));
                    stations.push(root);
                    Source::Finger(stations.len() - 1, [0, 1].map(|k| (p[k] - root[k]) * 1e-6))
                }
                _ => {
                    stations.push(p);
                    Source::Wide(stations.len() - 1)
                }
            });
        }
        Placed { stations, on_chains, sources }
    }

    /// Modes at the corners and mid-sides of a mesh of the whole layout, as [`crate::modal::Modal::sample_coarse`] has them for
    /// shells and solids.
    ///
    /// # Errors
    /// [`PointOutsideMesh`] for a point of the layout that lies on no part of the model.
    pub fn sample(&self, outline: &Outline, whole: &Mesh, modal: &Modal) -> Result<Sampled, PointOutsideMesh> {
        let grid = sampling_points(whole);
        let Placed { stations, on_chains, sources } = self.placed(outline, whole, &grid);
        // The whole layout's triangles may straddle a root line, and two meshes cut a curve into different pieces.
        let widths = outline.flexures.iter().map(|f| f.width_um).chain(outline.fingers.iter().map(|f| f.width_um));
        let reach_um = 1.5 * widths.fold(1.0, f64::max);
        let found = Stations::new(self.structure.mesh(), &stations, reach_um)?;
        // Modes of one motion are looked up together.
        let mut all: Vec<Fields> = vec![Fields::default(); modal.modes.len()];
        for (m, motion) in modal.motions.iter().enumerate() {
            let own: Vec<usize> = (0..all.len()).filter(|&i| modal.motion_of[i] == m).collect();
            let list: Vec<&Mode> = own.iter().map(|&i| &modal.modes[i]).collect();
            let wide = found.sample(self.structure.mesh(), motion, &list);
            let scaled = |(mode, (shape, tilt)): (&&Mode, Fields)| -> Fields {
                let nodes = motion.beams.nodes(&mode.shape);
                let at = |source: &Source| match source {
                    Source::Wide(s) => (shape[*s], tilt[*s]),
                    Source::Chain(c, on) => on_chains[*on].moved(&nodes[*c]),
                    Source::Finger(s, out) => {
                        let (mut u, g) = (shape[*s], tilt[*s]);
                        u[2] -= g[0] * out[0] + g[1] * out[1];
                        (u, g)
                    }
                };
                sources.iter().map(at).unzip()
            };
            let sampled: Vec<Fields> = list.par_iter().zip(wide).map(scaled).collect();
            own.into_iter().zip(sampled).for_each(|(i, fields)| all[i] = fields);
        }
        let (modes, tilts) = all.into_iter().unzip();
        Ok(Sampled { modes, tilts, ..grid })
    }
}
