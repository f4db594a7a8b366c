//! Numbers of flexures and fingers that stay when edges move a little. In: two outlines of one drawing. Out: the flexures and fingers
//! of one in the order, and from the end, of those of the other that lie in their places.

use super::{Finger, Flexure, Joins, Outline};
use crate::geometry::{Point, distance};

impl Outline {
    /// Numbers flexures and fingers as `like` does where all have their counterparts there, with ends within `reach_um`; else changes
    /// nothing.
    pub fn number_like(&mut self, like: &Outline, reach_um: f64) {
        let ends = |f: &Flexure| [f.centre_line.first(), f.centre_line.last()].map(|p| p.copied().unwrap_or_default());
        let own: Vec<[Point; 2]> = self.flexures.iter().map(ends).collect();
        let theirs: Vec<[Point; 2]> = like.flexures.iter().map(ends).collect();
        if let Some(order) = counterparts(&own, &theirs, reach_um) {
            let mut number = vec![0; own.len()];
            order.iter().enumerate().for_each(|(new, &(old, _))| number[old] = new);
            let numbered = |&(old, turned): &(usize, bool)| {
                let mut flexure = self.flexures[old].clone();
                if turned {
                    flexure.centre_line.reverse();
                    flexure.widths_um.reverse();
                    flexure.ends.reverse();
                }
                for end in &mut flexure.ends {
                    if let Joins::Flexure(joined) = &mut end.joins {
                        *joined = number[*joined];
                    }
                }
                flexure
            };
            self.flexures = order.iter().map(numbered).collect();
        }
        let root = |f: &Finger| f.root;
        let own: Vec<[Point; 2]> = self.fingers.iter().map(root).collect();
        let theirs: Vec<[Point; 2]> = like.fingers.iter().map(root).collect();
        if let Some(order) = counterparts(&own, &theirs, reach_um)
            && order.iter().all(|(_, turned)| !turned)
        {
            self.fingers = order.iter().map(|&(old, _)| self.fingers[old].clone()).collect();
        }
    }
}

/// For each of `theirs` the place among `own` and whether it runs the other way; `None` unless they are the same number and each has
/// its own.
fn counterparts(own: &[[Point; 2]], theirs: &[[Point; 2]], reach: f64) -> Option<Vec<(usize, bool)>> {
    if own.len() != theirs.len() {
        return None;
    }
    let mut taken = vec![false; own.len()];
    let mut find = |their: &[Point; 2]| {
        let off = |[a, b]: [Point; 2]| distance(a, their[0]).max(distance(b, their[1]));
        let candidates = (0..own.len()).flat_map(|i| [(i, false, off(own[i])), (i, true, off([own[i][1], own[i][0]]))]);
        let (i, turned, off) = candidates.min_by(|a, b| a.2.total_cmp(&b.2))?;
        let free = !std::mem::replace(&mut taken[i], true);
        (free && off <= reach).then_some((i, turned))
    };
    theirs.iter().map(&mut find).collect()
}
