//! The material of the structural layer as a device file gives it, with its constants checked for mistakes of unit.

use super::crystal::orientation;
use super::keys;
use super::node::{Node, Object, Read};
use modalith_solver::material::{Constants, Law, MaterialError, Orientation, entries, names};

/// What the film is made of.
#[derive(Clone, Debug, PartialEq)]
pub enum Material {
    /// Equal in all directions.
    Isotropic {
        /// Density, kg/m³.
        density_kg_m3: f64,
        /// Young's modulus, GPa.
        youngs_modulus_gpa: f64,
        /// Poisson's ratio.
        poissons_ratio: f64,
    },
    /// A cubic crystal.
    Cubic {
        /// Density, kg/m³.
        density_kg_m3: f64,
        /// Stiffness c11, c12, c44 in the crystal's axes, GPa.
        stiffness_gpa: [f64; 3],
        /// How it lies in the layout.
        orientation: Orientation,
    },
    /// A material of the library.
    Library {
        /// Its name there.
        name: String,
        /// How it lies in the layout, for crystals.
        orientation: Option<Orientation>,
    },
}

/// Reads `material`: as written, and as the law the solver takes.
///
/// # Errors
/// For constants missing, unphysical or in the wrong unit, and names the library does not hold.
pub fn material(node: &Node) -> Read<(Material, Law)> {
    let material = as_written(node)?;
    let law = material.law().map_err(|e| {
        let text = e.to_string();
        let (what, hint) = match &e {
            MaterialError::Unknown { name } => {
                let hint = match keys::nearest(name, names()) {
                    Some(near) => format!("did you mean \"{near}\"?"),
                    None => format!("the library holds {}; or give the constants", names().join(", ")),
                };
                (format!("no material is named \"{name}\""), hint)
            }
            MaterialError::NeedsOrientation(name) => (
                format!("{name} is a crystal and needs its directions"),
                "write \"wafer\": \"100\", \"x_along\": \"110\"".to_owned(),
            ),
            MaterialError::NotPositiveDefinite { .. } => {
                (text, "check the constants and their units; were two of them swapped?".to_owned())
            }
            MaterialError::PoissonsRatio(_) => {
                let ratio = node.any_object("an object").and_then(|o| o.need("poissons_ratio", ""));
                return ratio.map_or_else(|e| e, |n| n.error(text, "for most solids it lies between 0.1 and 0.4"));
            }
            MaterialError::TakesNoOrientation(_) => (text, "leave out wafer, x_along and x_off_deg".to_owned()),
            _ => (text, "check the constants and their units: kg/m³, GPa".to_owned()),
        };
        node.error(what, hint)
    })?;
    Ok((material, law))
}

fn as_written(node: &Node) -> Read<Material> {
    let any = node.any_object("an object")?;
    if any.get("name").is_some() {
        let o = node.object(&keys::LIBRARY)?;
        let name = o.need("name", "")?.text("the name of a material")?.to_owned();
        return Ok(Material::Library { name, orientation: orientation(&o)? });
    }
    let crystal =
        ["c11_gpa", "c12_gpa", "c44_gpa", "wafer", "x_along", "x_off_deg"].iter().any(|k| any.get(k).is_some());
    let o = node.object(if crystal { &keys::CUBIC } else { &keys::ISOTROPIC })?;
    let density_kg_m3 = density(&o)?;
    if crystal {
        let [c11, c12, c44] = [stiffness(&o, "c11_gpa")?, number_gpa(&o, "c12_gpa")?, stiffness(&o, "c44_gpa")?];
        let Some(orientation) = orientation(&o)? else {
            return Err(node.error("a crystal needs its directions", "write \"wafer\": \"100\", \"x_along\": \"110\""));
        };
        return Ok(Material::Cubic { density_kg_m3, stiffness_gpa: [c11, c12, c44], orientation });
    }
    let youngs_modulus_gpa = stiffness(&o, "youngs_modulus_gpa")?;
    let ratio = o.need("poissons_ratio", "write \"poissons_ratio\": 0.22")?;
    let poissons_ratio = ratio.number("a number between -1 and 0.5")?;
    Ok(Material::Isotropic { density_kg_m3, youngs_modulus_gpa, poissons_ratio })
}

/// Solids lie between foams and osmium; outside, the number is in another unit.
fn density(o: &Object) -> Read<f64> {
    let node = o.need("density_kg_m3", "write \"density_kg_m3\": 2330")?;
    let density = node.number("a density in kg/m³")?;
    if (10.0..=30_000.0).contains(&density) {
        return Ok(density);
    }
    let hint = if density <= 0.0 {
        "a density is over zero".to_owned()
    } else if density < 10.0 {
        "the unit is kg/m³".to_owned()
    } else {
        format!("the unit is kg/m³: did you mean {}?", density * 1e-3)
    };
    Err(node.error(format!("a density of {density} kg/m³ is unphysical; 10 to 30000 is possible"), hint))
}

fn number_gpa(o: &Object, key: &str) -> Read<f64> {
    o.need(key, &format!("write \"{key}\": …, in GPa"))?.number("a stiffness in GPa")
}

/// A stiffness between a gel and diamond with room to spare; outside, the number is in another unit.
fn stiffness(o: &Object, key: &str) -> Read<f64> {
    let value = number_gpa(o, key)?;
    if (1e-3..=2000.0).contains(&value) {
        return Ok(value);
    }
    let hint = if value <= 0.0 {
        "a stiffness is over zero".to_owned()
    } else if value >= 1e7 {
        format!("the unit is GPa: did you mean {}?", value * 1e-9)
    } else if value > 2000.0 {
        format!("the unit is GPa: did you mean {}?", value * 1e-3)
    } else {
        "the unit is GPa".to_owned()
    };
    let node = o.need(key, "")?;
    Err(node.error(format!("a stiffness of {value} GPa is unphysical; 0.001 to 2000 is possible"), hint))
}

impl Material {
    fn law(&self) -> Result<Law, MaterialError> {
        self.constants()?.law()
    }

    /// The constants that it was given by, directly or by name.
    ///
    /// # Errors
    /// A name that the library does not hold; a direction missing or needless.
    pub fn constants(&self) -> Result<Constants, MaterialError> {
        match self {
            Self::Isotropic { density_kg_m3, youngs_modulus_gpa, poissons_ratio } => Ok(Constants::Isotropic {
                density_kg_m3: *density_kg_m3,
                youngs_modulus_pa: youngs_modulus_gpa * 1e9,
                poissons_ratio: *poissons_ratio,
            }),
            Self::Cubic { density_kg_m3, stiffness_gpa, orientation } => Ok(Constants::Cubic {
                density_kg_m3: *density_kg_m3,
                stiffness_pa: stiffness_gpa.map(|c| c * 1e9),
                orientation: *orientation,
            }),
            Self::Library { name, orientation } => {
                let entry = entries().iter().find(|e| e.name == name);
                let entry = entry.ok_or_else(|| MaterialError::Unknown { name: name.clone() })?;
                entry.constants(orientation.as_ref())
            }
        }
    }

    /// The material in words, for the head of a table.
    pub fn in_words(&self) -> String {
        let crystal = |o: &Orientation| {
            let indices = |d: [i32; 3]| {
                d.map(|i| i.to_string()).join(if d.iter().all(|i| (0..10).contains(i)) { "" } else { " " })
            };
            let turned = match o.x_off_deg {
                0.0 => String::new(),
                turn => format!(" and {turn}° on"),
            };
            format!("({}) wafer, x along [{}]{turned}", indices(o.wafer), indices(o.x_along))
        };
        match self {
            Self::Isotropic { density_kg_m3, youngs_modulus_gpa, poissons_ratio } => {
                format!("isotropic, {youngs_modulus_gpa} GPa, Poisson's ratio {poissons_ratio}, {density_kg_m3} kg/m³")
            }
            Self::Cubic { density_kg_m3, stiffness_gpa: [c11, c12, c44], orientation } => format!(
                "cubic crystal, c11 {c11}, c12 {c12}, c44 {c44} GPa, {density_kg_m3} kg/m³, {}",
                crystal(orientation)
            ),
            Self::Library { name, orientation: None } => name.clone(),
            Self::Library { name, orientation: Some(o) } => format!("{name}, {}", crystal(o)),
        }
    }
}
