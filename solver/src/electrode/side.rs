//! A wall that faces a wall of the moving part in the plane: C = ε₀ A/(g − u), with u the motion towards it.

use super::{Local, VACUUM_PERMITTIVITY};

/// Two parallel walls.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Side {
    /// Gap at rest, m.
    pub gap_m: f64,
    /// Facing area, m²: length times thickness.
    pub area_m2: f64,
    /// Unit vector of the motion that closes the gap.
    pub towards: [f64; 2],
}

impl Side {
    /// A wall as tall as a layer, all in m, that a motion along `towards` closes in on.
    pub fn along_layer(towards: [f64; 2], gap_m: f64, length_m: f64, thickness_m: f64) -> Self {
        Self { gap_m, area_m2: length_m * thickness_m, towards }
    }

    /// Share of the gap that a displacement, m, takes.
    pub fn reach(&self, u: [f64; 3]) -> f64 {
        (self.towards[0] * u[0] + self.towards[1] * u[1]) / self.gap_m
    }

    /// Capacitance and its derivatives at a displacement, m; `None` where the gap is closed.
    pub fn at(&self, u: [f64; 3]) -> Option<Local> {
        let [x, y] = self.towards;
        let gap = self.gap_m - x * u[0] - y * u[1];
        (gap > 0.0).then(|| {
            let c = VACUUM_PERMITTIVITY * self.area_m2 / gap;
            let mut local = Local::default();
            local.add_along([c, c / gap, 2.0 * c / (gap * gap)], [x, y, 0.0]);
            local
        })
    }
}
