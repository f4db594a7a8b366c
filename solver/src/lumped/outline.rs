//! From the outline to pieces: flexures with what holds their ends, and everything else as bodies.

use super::field::border;
use super::{Body, Hold, LumpedError, Pieces, Strip};
use modalith_mesher::boolean::{Join, offset};
use modalith_mesher::geometry::{Point, bounds};
use modalith_mesher::outline::{Flexure, Joins, Outline};

/// A root line lies on the border of its body to this share of the flexure's width: both were cut along it, so that only
/// the grid of the outline comes between.
const ON_BORDER: f64 = 0.02;
/// Material up to this many times as wide as a flexure is no rigid body.
const AS_NARROW: f64 = 1.1;
/// Such material up to this many widths long is the block of a corner or a joint.
const BLOCK: f64 = 6.0;
/// Ends of flexures that meet in a joint without material lie within so many widths of each other.
const MEET: f64 = 1.0;

impl Pieces {
    /// Takes an outline apart along the root lines of its flexures. Fingers and openings stay with their bodies, so that
    /// the whole mass is there.
    ///
    /// # Errors
    /// No flexure, a strip that is none, a flexure with openings, or an end of one that meets nothing.
    pub fn of(outline: &Outline) -> Result<Self, LumpedError> {
        if let Some(at_um) = outline.unrecognised.first().copied() {
            return Err(LumpedError::Unrecognised { at_um });
        }
        if outline.flexures.is_empty() {
            return Err(LumpedError::NoFlexure);
        }
        if let Some(flexure) = outline.flexures.iter().position(Flexure::is_perforated) {
            let at_um = outline.flexures[flexure].centre_line.first().copied().unwrap_or_default();
            return Err(LumpedError::Perforated { flexure, at_um });
        }
        let all: Vec<usize> = (0..outline.flexures.len()).collect();
        let parts = outline.bodies(&all, false, None).parts;
        let held = |held: &[Vec<bool>]| held.iter().flatten().any(|h| *h);
        let mut pieces = Self::default();
        for part in parts {
            let held = held(&part.held);
            pieces.bodies.push(if held { Body::Held(part.polygon) } else { Body::Moving(part.polygon) });
        }
        for (number, flexure) in outline.flexures.iter().enumerate() {
            let mut ends = [Hold::Ground; 2];
            for (end, hold) in ends.iter_mut().enumerate() {
                *hold = pieces.hold(flexure, number, end)?;
            }
            for (end, hold) in ends.iter().enumerate() {
                pieces.rigid(flexure, number, end, *hold)?;
            }
            pieces.flexures.push(Strip {
                centre_line: flexure.centre_line.clone(),
                widths_um: flexure.widths_um.windows(2).map(|w| [w[0], w[1]]).collect(),
                area_um2: flexure.area.area(),
                ends,
            });
        }
        Ok(pieces)
    }

    /// Refuses an end on beams no wider than the flexure that lead far before anything rigid comes.
    fn rigid(&self, flexure: &Flexure, number: usize, end: usize, hold: Hold) -> Result<(), LumpedError> {
        let Hold::Body(body) = hold else { return Ok(()) };
        let (Body::Moving(area) | Body::Held(area)) = &self.bodies[body] else { return Ok(()) };
        let half = 0.5 * AS_NARROW * flexure.width_um;
        let wide = offset(&offset(std::slice::from_ref(area), -half, Join::Mitre), half, Join::Mitre);
        let [a, b] = flexure.ends[end].root;
        let at: Point = [0, 1].map(|k| 0.5 * (a[k] + b[k]));
        let extent = bounds(&area.outer).map_or(0.0, |[a, b]| (b[0] - a[0]).hypot(b[1] - a[1]));
        let far_um = wide.iter().map(|part| border(part, at)).reduce(f64::min).unwrap_or(extent);
        if far_um > BLOCK * flexure.width_um {
            return Err(LumpedError::Lattice { flexure: number, at_um: at, far_um });
        }
        Ok(())
    }

    fn hold(&mut self, flexure: &Flexure, number: usize, end: usize) -> Result<Hold, LumpedError> {
        let joins = flexure.ends[end].joins;
        if joins == Joins::Anchor {
            return Ok(Hold::Ground);
        }
        let [a, b] = flexure.ends[end].root;
        let at: Point = [0, 1].map(|k| 0.5 * (a[k] + b[k]));
        let far = |body: &Body| match body {
            Body::Moving(area) | Body::Held(area) => border(area, at) / (ON_BORDER * flexure.width_um),
            Body::Joint(joint) => (joint[0] - at[0]).hypot(joint[1] - at[1]) / (MEET * flexure.width_um),
        };
        let nearest = self.bodies.iter().map(far).enumerate().min_by(|a, b| a.1.total_cmp(&b.1));
        match (nearest, joins) {
            (Some((body, far)), _) if far <= 1.0 => Ok(Hold::Body(body)),
            (_, Joins::Flexure(_)) => {
                self.bodies.push(Body::Joint(at));
                Ok(Hold::Body(self.bodies.len() - 1))
            }
            _ => Err(LumpedError::LooseEnd { flexure: number, end, at_um: at }),
        }
    }
}
