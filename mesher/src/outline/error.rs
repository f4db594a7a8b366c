//! Why a drawing gives no outline, each with the place in µm and what to do.

use crate::geometry::Point;

fn boxes(all: &[[Point; 2]]) -> String {
    let one = |[a, b]: &[Point; 2]| format!("({:.3}, {:.3}) to ({:.3}, {:.3})", a[0], a[1], b[0], b[1]);
    all.iter().map(one).collect::<Vec<_>>().join("; ")
}

/// Why a drawing gives no outline. Places in µm.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum OutlineError {
    /// A number that is not finite or far too large.
    #[error("{what} {value} µm is not a length on a wafer; give a finite number of at most a metre")]
    NotALength {
        /// What the number is.
        what: &'static str,
        /// The number.
        value: f64,
    },
    /// A trench window without an area.
    #[error("the window ({}, {}) to ({}, {}) µm has no area; give its lower left and upper right corner", window[0][0], window[0][1], window[1][0], window[1][1])]
    EmptyWindow {
        /// The window as given.
        window: [Point; 2],
    },
    /// A release undercut that is not positive.
    #[error("a release undercut of {undercut_um} µm; it must be positive")]
    Undercut {
        /// The undercut as given.
        undercut_um: f64,
    },
    /// No film is left.
    #[error("the structural layer is empty{}; check layers, window and holes", window.as_ref().map_or(String::new(), |w| format!(" once holes are cut, within {} µm", boxes(std::slice::from_ref(w)))))]
    EmptyFilm {
        /// Box around what was drawn, if anything was.
        window: Option<[Point; 2]>,
    },
    /// Nothing is free to move.
    #[error(
        "every piece of the layer is held over its whole area ({} µm); nothing can vibrate. Shrink the anchors",
        boxes(std::slice::from_ref(bounds))
    )]
    NothingFree {
        /// Box around the film.
        bounds: [Point; 2],
    },
    /// Nothing holds the structure.
    #[error(
        "no anchor touches the structure at {} µm ({drawn} drawn); draw one that shares an edge with it, or say that it is free",
        boxes(std::slice::from_ref(bounds))
    )]
    NoAnchor {
        /// Anchors drawn.
        drawn: usize,
        /// Box around the free material.
        bounds: [Point; 2],
    },
    /// Parts joined to no anchor.
    #[error("parts joined to no anchor: {}, in {} µm; anchor each, join it to another or take it out", parts.len(), boxes(parts))]
    Unheld {
        /// Boxes around all such parts.
        parts: Vec<[Point; 2]>,
    },
    /// Material that meets only at a point.
    #[error("two pieces meet only at the point ({:.4}, {:.4}) µm; let them overlap or part them", at[0], at[1])]
    PointJoin {
        /// Where.
        at: Point,
    },
    /// A bias that removes or severs what is drawn.
    #[error("an edge bias of {edge_bias_um} µm etches away the {width_um:.4} µm wide piece at ({:.4}, {:.4}) µm; draw it wider or bias less", at[0], at[1])]
    BiasCuts {
        /// The bias.
        edge_bias_um: f64,
        /// Drawn width there.
        width_um: f64,
        /// Where.
        at: Point,
    },
    /// A bias that closes a gap.
    #[error("an edge bias of {edge_bias_um} µm closes the {width_um:.4} µm wide gap at ({:.4}, {:.4}) µm; draw it wider or bias less", at[0], at[1])]
    BiasCloses {
        /// The bias.
        edge_bias_um: f64,
        /// Drawn width there.
        width_um: f64,
        /// Where.
        at: Point,
    },
    /// Material thinner than the process can make.
    #[error("the piece at ({:.4}, {:.4}) µm is {width_um:.4} µm wide, thinner than {least_um} µm; places this thin: {places}. Draw it wider or state a smaller least feature", at[0], at[1])]
    TooThin {
        /// Number of such pieces.
        places: usize,
        /// Least width asked.
        least_um: f64,
        /// Narrowest width found.
        width_um: f64,
        /// Where it is.
        at: Point,
    },
    /// A gap narrower than the process can make.
    #[error("{places} gaps are narrower than {least_um} µm; the narrowest is {gap_um:.4} µm wide at ({:.4}, {:.4}) µm. Let the pieces overlap, part them, or state a smaller least feature", at[0], at[1])]
    TooClose {
        /// Number of such gaps.
        places: usize,
        /// Least width asked.
        least_um: f64,
        /// Narrowest gap found.
        gap_um: f64,
        /// Where it is.
        at: Point,
    },
    /// A mass that covers no free material.
    #[error("mass `{name}` covers no free material{}; move it onto the structure", at.map_or(String::new(), |p| format!(" at ({:.4}, {:.4}) µm", p[0], p[1])))]
    EmptyMass {
        /// Its name.
        name: String,
        /// A point of it, if it has any.
        at: Option<Point>,
    },
    /// Two masses that claim the same material.
    #[error("masses `{first}` and `{second}` overlap at ({:.4}, {:.4}) µm; let them share an edge at most", at[0], at[1])]
    MassesOverlap {
        /// One name.
        first: String,
        /// The other name.
        second: String,
        /// A point of both.
        at: Point,
    },
}
