//! What no input describes and no model has: the anchors' own give, package stress, walls that lean, temperature. In: modes, how the anchors are
//! held, what was stated of the walls. Out: words for the screen.

use super::input::AnchorsHeld;
use super::solution::ModalSolution;

/// What is known of walls that lean.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WallTilt {
    /// Nothing was stated.
    NotStated,
    /// It was stated, and what is printed beside says that it is neglected.
    Neglected,
    /// It was stated, and counts in the flexures' bending alone.
    InBending,
}

/// What modes leave out, each a few words; `held_below` tells whether the mesh holds anchors at their bottoms.
pub fn left_out(solved: &ModalSolution, anchors: (AnchorsHeld, bool), tilt: WallTilt) -> Vec<&'static str> {
    let anchors = match anchors {
        (AnchorsHeld::Sides, _) => "anchor give",
        (AnchorsHeld::Below, true) => "give of the substrate",
        (AnchorsHeld::Below, false) => "anchors held from below (only the solid model knows them), anchor give",
    };
    let softening = solved.bias.is_none().then_some("electrode softening");
    let tilt = match tilt {
        WallTilt::NotStated => Some("wall tilt"),
        WallTilt::InBending => Some("wall tilt but in bending"),
        WallTilt::Neglected => None,
    };
    [Some(anchors), Some("package stress"), softening, tilt, Some("temperature")].into_iter().flatten().collect()
}
