//! Every key the device file may hold, object by object. The reader checks against these lists and a test checks the
//! JSON Schema against them, so that neither can know a key the other does not.

/// The keys of one kind of object.
#[derive(Debug)]
pub struct Keys {
    /// Name of the object, as in the schema's `$defs`.
    pub object: &'static str,
    /// Keys it may hold beside `notes` and `$schema`.
    pub known: &'static [&'static str],
}

/// The whole file.
pub const DEVICE: Keys = Keys {
    object: "device",
    known: &[
        "format",
        "based_on",
        "name",
        "layout",
        "support",
        "anchors_held",
        "process",
        "material",
        "masses",
        "intent",
        "electrodes",
        "modes",
        "mesh",
        "operation",
        "guards",
        "stoppers",
        "imperfections",
        "spread_3sigma",
        "requirements",
    ],
};
/// A layout of shapes written out.
pub const LAYOUT_SHAPES: Keys = Keys {
    object: "layout_shapes",
    known: &["unit", "structure", "holes", "anchors", "release_undercut_um", "chord_error_um", "holes_below_um"],
};
/// A layout from a GDSII stream.
pub const LAYOUT_GDS: Keys = Keys {
    object: "layout_gds",
    known: &["gds", "cell", "window", "layers", "release_undercut_um", "unit", "chord_error_um", "holes_below_um"],
};
/// What the layers of a GDSII stream mean.
pub const LAYERS: Keys = Keys {
    object: "layers",
    known: &["structure", "trenches", "holes", "anchors", "release_undercut_um", "masses", "electrodes", "labels"],
};
/// One layer of a GDSII stream.
pub const LAYER: Keys = Keys { object: "layer", known: &["layer", "datatype"] };
/// Two opposite corners.
pub const RECT: Keys = Keys { object: "rect", known: &["rect", "array", "mirror_about"] };
/// A closed outline with openings.
pub const POLYGON: Keys = Keys { object: "polygon", known: &["polygon", "holes", "array", "mirror_about"] };
/// A line with a width.
pub const PATH: Keys = Keys { object: "path", known: &["path", "width", "ends", "array", "mirror_about"] };
/// A disc.
pub const CIRCLE: Keys = Keys { object: "circle", known: &["circle", "radius", "array", "mirror_about"] };
/// A disc with a round opening.
pub const RING: Keys =
    Keys { object: "ring", known: &["ring", "inner_radius", "outer_radius", "array", "mirror_about"] };
/// A line along a circle, with a width.
pub const ARC: Keys =
    Keys { object: "arc", known: &["arc", "radius", "width", "from_deg", "to_deg", "ends", "array", "mirror_about"] };
/// Copies in columns and rows.
pub const ARRAY: Keys = Keys { object: "array", known: &["columns", "rows", "step"] };
/// The line a shape is mirrored in.
pub const MIRROR: Keys = Keys { object: "mirror_about", known: &["x", "y"] };
/// What the process makes of the mask.
pub const PROCESS: Keys = Keys {
    object: "process",
    known: &["thickness_um", "edge_bias_um", "minimum_feature_um", "film_stress_mpa", "stress_gradient_mpa_per_um"],
};

/// Film stress that is not equal in both directions.
pub const FILM_STRESS: Keys = Keys { object: "film_stress_mpa", known: &["xx", "yy", "xy"] };
/// A material equal in all directions.
pub const ISOTROPIC: Keys =
    Keys { object: "material_isotropic", known: &["density_kg_m3", "youngs_modulus_gpa", "poissons_ratio"] };
/// A cubic crystal.
pub const CUBIC: Keys = Keys {
    object: "material_cubic",
    known: &["density_kg_m3", "c11_gpa", "c12_gpa", "c44_gpa", "wafer", "x_along", "x_off_deg"],
};
/// A material of the library.
pub const LIBRARY: Keys = Keys { object: "material_library", known: &["name", "wafer", "x_along", "x_off_deg"] };
/// Motions the designer intends.
pub const INTENT: Keys = Keys { object: "intent", known: &["drive", "sense"] };
/// A plate under or over the part.
pub const ELECTRODE_PLATE: Keys = Keys {
    object: "electrode_plate",
    known: &["kind", "role", "bias_v", "gradient_f_per_m", "gap_um", "side", "shapes", "layer_name"],
};
/// A comb.
pub const ELECTRODE_COMB: Keys = Keys {
    object: "electrode_comb",
    known: &[
        "kind",
        "role",
        "bias_v",
        "gradient_f_per_m",
        "direction",
        "mass",
        "gap_um",
        "overlap_um",
        "fingers",
        "tip_gap_um",
        "measure",
        "shapes",
    ],
};
/// A wall that faces the part in the plane.
pub const ELECTRODE_SIDE: Keys = Keys {
    object: "electrode_side_plate",
    known: &["kind", "role", "bias_v", "gradient_f_per_m", "direction", "mass", "gap_um", "length_um"],
};
/// Which modes to find.
pub const MODES: Keys = Keys { object: "modes", known: &["count", "up_to_hz", "near_hz"] };
/// How to mesh.
pub const MESH: Keys = Keys { object: "mesh", known: &["largest_um", "across_flexure"] };
/// How the device is run.
pub const OPERATION: Keys = Keys {
    object: "operation",
    known: &[
        "drive_amplitude_um",
        "drive_at",
        "quality_drive",
        "quality_sense",
        "temperature_k",
        "readout_noise_m_per_rthz",
        "readout_noise_af_per_rthz",
        "full_scale_deg_per_s",
        "output_bandwidth_hz",
        "shock",
        "vibration_band_hz",
    ],
};
/// A half-sine shock of the base.
pub const SHOCK: Keys = Keys { object: "shock", known: &["peak_g", "duration_ms", "direction"] };
/// A frequency to keep clear of.
pub const GUARD: Keys = Keys { object: "guard", known: &["name", "frequency_hz", "half_width_hz"] };
/// Something that limits travel.
pub const STOPPER: Keys = Keys { object: "stopper", known: &["at", "direction", "gap_um"] };
/// Departures of the device as made.
pub const IMPERFECTIONS: Keys = Keys {
    object: "imperfections",
    known: &["left_right_width_um", "sidewall_tilt_deg", "electrode_mismatch", "drive_force_leak", "phase_error_deg"],
};
/// Three sigma of the process.
pub const SPREAD: Keys = Keys {
    object: "spread_3sigma",
    known: &["edge_bias_um", "thickness_um", "youngs_modulus_percent", "density_percent"],
};
/// What is asked of the device.
pub const REQUIREMENTS: Keys = Keys {
    object: "requirements",
    known: &[
        "mode_split_hz",
        "guard_hz",
        "drive_frequency_hz",
        "sense_frequency_hz",
        "coupling",
        "cross_axis",
        "quadrature_deg_per_s",
        "zero_rate_deg_per_s",
        "vibration_deg_per_s_per_g",
        "angle_random_walk_deg_per_rth",
        "shock_travel_um",
        "shock_first_touch_g",
        "shock_stress_mpa",
    ],
};

/// All objects with fixed keys.
pub const ALL: [&Keys; 31] = [
    &DEVICE,
    &LAYOUT_SHAPES,
    &LAYOUT_GDS,
    &LAYERS,
    &LAYER,
    &RECT,
    &POLYGON,
    &PATH,
    &CIRCLE,
    &RING,
    &ARC,
    &ARRAY,
    &MIRROR,
    &PROCESS,
    &FILM_STRESS,
    &ISOTROPIC,
    &CUBIC,
    &LIBRARY,
    &INTENT,
    &ELECTRODE_PLATE,
    &ELECTRODE_COMB,
    &ELECTRODE_SIDE,
    &MODES,
    &MESH,
    &OPERATION,
    &SHOCK,
    &GUARD,
    &STOPPER,
    &IMPERFECTIONS,
    &SPREAD,
    &REQUIREMENTS,
];

/// The candidate nearest to a word, if any is near enough to be what was meant.
pub fn nearest<'a>(word: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let word = word.to_lowercase();
    candidates
        .into_iter()
        .map(|c| {
            // A word without its unit ("thickness") or spelled out ("rectangle") is as near as one mistyped letter.
            let c_lower = c.to_lowercase();
            let begins =
                (word.len() >= 4 && c_lower.starts_with(&word)) || (c.len() >= 4 && word.starts_with(&c_lower));
            (if begins { 1 } else { strsim::osa_distance(&word, &c_lower) }, c)
        })
        .filter(|(distance, c)| *distance <= 1 + c.len() / 4)
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, c)| c)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_nearest_key_is_what_was_meant() {
        assert_eq!(nearest("thicknes_um", PROCESS.known.iter().copied()), Some("thickness_um"));
        assert_eq!(nearest("thickness", PROCESS.known.iter().copied()), Some("thickness_um"));
        assert_eq!(nearest("Structure", LAYOUT_SHAPES.known.iter().copied()), Some("structure"));
        assert_eq!(nearest("poisson_ratio", ISOTROPIC.known.iter().copied()), Some("poissons_ratio"));
        assert_eq!(nearest("rectangle", ["rect", "ring"]), Some("rect"));
        assert_eq!(nearest("colour", DEVICE.known.iter().copied()), None);
    }
}
