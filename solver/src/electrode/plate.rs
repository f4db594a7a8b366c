//! A plate under or over the moving part: per area c = ε₀/g, with g the local gap.

use super::{Local, VACUUM_PERMITTIVITY};

/// On which side of the layer a plate lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Face {
    /// Under the layer, towards −z.
    Below,
    /// Over the layer, towards +z.
    Above,
}

/// A plate parallel to the layer at rest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plate {
    /// Gap at rest, m.
    pub gap_m: f64,
    /// Where it lies.
    pub face: Face,
}

impl Plate {
    /// Sign of the motion along z that closes the gap.
    fn towards(&self) -> f64 {
        match self.face {
            Face::Below => -1.0,
            Face::Above => 1.0,
        }
    }

    /// Share of the gap that a displacement, m, takes.
    pub fn reach(&self, u: [f64; 3]) -> f64 {
        self.towards() * u[2] / self.gap_m
    }

    /// Capacitance per area, F/m², and its derivatives at a displacement, m; `None` where the gap is closed.
    pub fn at(&self, u: [f64; 3]) -> Option<Local> {
        let towards = self.towards();
        let gap = self.gap_m - towards * u[2];
        (gap > 0.0).then(|| {
            let c = VACUUM_PERMITTIVITY / gap;
            let mut local = Local::default();
            local.add_along([c, c / gap, 2.0 * c / (gap * gap)], [0.0, 0.0, towards]);
            local
        })
    }
}
