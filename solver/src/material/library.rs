//! Built-in materials, each constant with where it is published. Film constants scatter by process: they are starting
//! points, and the process owner's own measurements come before them.

use super::{Constants, Law, MaterialError, Orientation};

/// One constant and its source.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Constant {
    /// Value in the unit that the field's name states.
    pub value: f64,
    /// Where it is published; "from memory" where the source was not re-read.
    pub source: &'static str,
}

/// Elastic constants of a library material.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Elastic {
    /// A film without a preferred direction.
    Isotropic {
        /// Young's modulus, GPa.
        youngs_modulus_gpa: Constant,
        /// Poisson's ratio.
        poissons_ratio: Constant,
    },
    /// A cubic crystal.
    Cubic {
        /// c11, GPa.
        c11_gpa: Constant,
        /// c12, GPa.
        c12_gpa: Constant,
        /// c44, GPa.
        c44_gpa: Constant,
    },
}

/// A material of the library.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Entry {
    /// The name to write in a device file.
    pub name: &'static str,
    /// Density, kg/m³.
    pub density_kg_m3: Constant,
    /// Elastic constants.
    pub elastic: Elastic,
}

impl Entry {
    /// Its constants; crystals need an orientation, films take none.
    ///
    /// # Errors
    /// A missing or a needless orientation.
    pub fn constants(&self, lie: Option<&Orientation>) -> Result<Constants, MaterialError> {
        let density_kg_m3 = self.density_kg_m3.value;
        match (self.elastic, lie) {
            (Elastic::Isotropic { youngs_modulus_gpa, poissons_ratio }, None) => Ok(Constants::Isotropic {
                density_kg_m3,
                youngs_modulus_pa: youngs_modulus_gpa.value * 1e9,
                poissons_ratio: poissons_ratio.value,
            }),
            (Elastic::Cubic { c11_gpa, c12_gpa, c44_gpa }, Some(lie)) => Ok(Constants::Cubic {
                density_kg_m3,
                stiffness_pa: [c11_gpa, c12_gpa, c44_gpa].map(|c| c.value * 1e9),
                orientation: *lie,
            }),
            (Elastic::Isotropic { .. }, Some(_)) => Err(MaterialError::TakesNoOrientation(self.name.to_owned())),
            (Elastic::Cubic { .. }, None) => Err(MaterialError::NeedsOrientation(self.name.to_owned())),
        }
    }
}

const fn constant(value: f64, source: &'static str) -> Constant {
    Constant { value, source }
}

const SILICON: &str = "McSkimin's constants as tabulated by Hopcroft, Nix & Kenny, JMEMS 19 (2010) 229";
const HANDBOOK: &str = "handbook value, from memory";
const SHARPE: &str = "Sharpe, Yuan, Vaidyanathan & Edwards, Proc. MEMS '97, p. 424";

static ENTRIES: &[Entry] = &[
    Entry {
        name: "silicon",
        density_kg_m3: constant(2329.0, "handbook value (2329 to 2330), from memory"),
        elastic: Elastic::Cubic {
            c11_gpa: constant(165.7, SILICON),
            c12_gpa: constant(63.9, SILICON),
            c44_gpa: constant(79.6, SILICON),
        },
    },
    Entry {
        name: "polysilicon",
        density_kg_m3: constant(2330.0, HANDBOOK),
        elastic: Elastic::Isotropic {
            youngs_modulus_gpa: constant(169.0, SHARPE),
            poissons_ratio: constant(0.22, SHARPE),
        },
    },
    Entry {
        name: "nickel, electroplated",
        density_kg_m3: constant(8900.0, HANDBOOK),
        elastic: Elastic::Isotropic {
            youngs_modulus_gpa: constant(180.0, "Hemker & Last, Mat. Sci. Eng. A319 (2001) 882: 180 ± 24 GPa"),
            poissons_ratio: constant(0.31, HANDBOOK),
        },
    },
    Entry {
        name: "silicon dioxide, thermal",
        density_kg_m3: constant(2200.0, HANDBOOK),
        elastic: Elastic::Isotropic {
            youngs_modulus_gpa: constant(70.0, "handbook value (70 to 73), from memory"),
            poissons_ratio: constant(0.17, HANDBOOK),
        },
    },
    Entry {
        name: "silicon nitride, LPCVD",
        density_kg_m3: constant(3100.0, "handbook value (3100 to 3200), from memory"),
        elastic: Elastic::Isotropic {
            youngs_modulus_gpa: constant(260.0, "handbook value (250 to 270), from memory"),
            poissons_ratio: constant(0.25, "handbook value (0.23 to 0.27), from memory"),
        },
    },
    Entry {
        name: "aluminium",
        density_kg_m3: constant(2700.0, HANDBOOK),
        elastic: Elastic::Isotropic {
            youngs_modulus_gpa: constant(70.0, HANDBOOK),
            poissons_ratio: constant(0.33, HANDBOOK),
        },
    },
    Entry {
        name: "gold",
        density_kg_m3: constant(19_300.0, HANDBOOK),
        elastic: Elastic::Isotropic {
            youngs_modulus_gpa: constant(78.0, HANDBOOK),
            poissons_ratio: constant(0.42, HANDBOOK),
        },
    },
];

/// All built-in materials.
pub fn entries() -> &'static [Entry] {
    ENTRIES
}

/// Names of the built-in materials.
pub fn names() -> Vec<&'static str> {
    ENTRIES.iter().map(|e| e.name).collect()
}

/// A built-in material by name; crystals need an orientation, films take none.
///
/// # Errors
/// An unknown name, a missing or a needless orientation, a direction outside the wafer.
pub fn library(name: &str, lie: Option<&Orientation>) -> Result<Law, MaterialError> {
    let entry =
        ENTRIES.iter().find(|e| e.name == name).ok_or_else(|| MaterialError::Unknown { name: name.to_owned() })?;
    entry.constants(lie)?.law()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_entry_makes_a_law_and_names_its_sources() {
        let lie = Orientation { wafer: [0, 0, 1], x_along: [1, 1, 0], x_off_deg: 0.0 };
        for entry in entries() {
            let (lie, constants) = match entry.elastic {
                Elastic::Cubic { c11_gpa, c12_gpa, c44_gpa } => (Some(&lie), vec![c11_gpa, c12_gpa, c44_gpa]),
                Elastic::Isotropic { youngs_modulus_gpa, poissons_ratio } => {
                    (None, vec![youngs_modulus_gpa, poissons_ratio])
                }
            };
            library(entry.name, lie).unwrap();
            assert!(constants.iter().all(|c| c.source.len() > 10), "{}", entry.name);
        }
    }

    #[test]
    fn crystals_need_a_direction_and_films_take_none() {
        let lie = Orientation { wafer: [0, 0, 1], x_along: [1, 1, 0], x_off_deg: 0.0 };
        assert!(matches!(library("silicon", None), Err(MaterialError::NeedsOrientation(_))));
        assert!(matches!(library("gold", Some(&lie)), Err(MaterialError::TakesNoOrientation(_))));
        assert!(matches!(library("unobtainium", None), Err(MaterialError::Unknown { .. })));
    }
}
