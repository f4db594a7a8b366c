//! A material by the constants it was given by, so that each can be varied alone. In: constants as in a data sheet. Out: laws.

use super::{Law, MaterialError, Orientation};

/// What a material was given by; pascals and kg/m³.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Constants {
    /// Equal in all directions.
    Isotropic {
        /// Density, kg/m³.
        density_kg_m3: f64,
        /// Young's modulus, Pa.
        youngs_modulus_pa: f64,
        /// Poisson's ratio.
        poissons_ratio: f64,
    },
    /// A cubic crystal.
    Cubic {
        /// Density, kg/m³.
        density_kg_m3: f64,
        /// c11, c12, c44 in the crystal's axes, Pa.
        stiffness_pa: [f64; 3],
        /// How it lies in the layout.
        orientation: Orientation,
    },
}

impl Constants {
    /// The law of these constants, Pa and kg/m³ in the axes of the layout.
    ///
    /// # Errors
    /// As [`Law::isotropic`] and [`Law::cubic`].
    pub fn law(&self) -> Result<Law, MaterialError> {
        match self {
            Self::Isotropic { density_kg_m3, youngs_modulus_pa, poissons_ratio } => {
                Law::isotropic(*density_kg_m3, *youngs_modulus_pa, *poissons_ratio)
            }
            Self::Cubic { density_kg_m3, stiffness_pa: [c11, c12, c44], orientation } => {
                Law::cubic(*density_kg_m3, *c11, *c12, *c44, orientation)
            }
        }
    }

    /// Names of the constants, the density last.
    pub fn names(&self) -> &'static [&'static str] {
        match self {
            Self::Isotropic { .. } => &["youngs_modulus", "poissons_ratio", "density"],
            Self::Cubic { .. } => &["c11", "c12", "c44", "density"],
        }
    }

    /// The same material with one constant, by its place in [`Self::names`], times a factor.
    pub fn scaled(&self, place: usize, factor: f64) -> Self {
        let mut scaled = *self;
        match &mut scaled {
            Self::Isotropic { density_kg_m3, youngs_modulus_pa, poissons_ratio } => {
                if let Some(c) = [youngs_modulus_pa, poissons_ratio, density_kg_m3].into_iter().nth(place) {
                    *c *= factor;
                }
            }
            Self::Cubic { density_kg_m3, stiffness_pa: [c11, c12, c44], .. } => {
                if let Some(c) = [c11, c12, c44, density_kg_m3].into_iter().nth(place) {
                    *c *= factor;
                }
            }
        }
        scaled
    }

    /// The largest step to both sides of one constant, as a share of it, that is `largest` halved some times and leaves
    /// a stable material: a Poisson's ratio may lie closer to one half than a fixed step.
    ///
    /// # Errors
    /// A constant at its limit but for rounding.
    pub fn stable_step(&self, place: usize, largest: f64) -> Result<f64, MaterialError> {
        let stable = |h: &f64| [1.0 + h, 1.0 - h].iter().all(|f| self.scaled(place, *f).law().is_ok());
        let mut steps = std::iter::successors(Some(largest), |h| Some(0.5 * h)).take_while(|h| *h > SMALLEST_STEP);
        let name = self.names().get(place).copied().unwrap_or_default();
        steps.find(stable).ok_or(MaterialError::AtLimit { name })
    }
}

/// A smaller share of a constant is lost in rounding.
const SMALLEST_STEP: f64 = 1e-12;
