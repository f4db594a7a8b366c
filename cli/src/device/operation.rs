//! How the device is run: drive, quality factors, temperature, readout, shock and vibration of its base.

use super::intent::unknown_mass;
use super::keys;
use super::node::{Node, Object, Read};
use modalith_solver::sensor::{Operation, Place, ReadoutNoise, Shock};

/// Names of the axes.
const AXES: [&str; 3] = ["x", "y", "z"];

/// Reads `operation`.
///
/// # Errors
/// For malformed or unphysical values, and for masses not in `masses` when those are known.
pub fn operation(node: &Node, masses: Option<&[&str]>) -> Read<Operation> {
    let o = node.object(&keys::OPERATION)?;
    let positive = |key: &str, what: &str| o.get(key).map(|n| n.positive(what)).transpose();
    let temperature_k = match o.get("temperature_k") {
        None => None,
        Some(n) => {
            let kelvin = n.number("a temperature in K")?;
            if !(1.0..=2000.0).contains(&kelvin) {
                let what = format!("a temperature of {kelvin} K is out of reach; 1 to 2000 is possible");
                return Err(n.error(what, "the unit is K: add 273.15 to °C"));
            }
            Some(kelvin)
        }
    };
    let quality = |key: &str| -> Read<Option<f64>> {
        let Some(n) = o.get(key) else { return Ok(None) };
        let quality = n.number("a quality factor")?;
        if quality < 0.5 {
            return Err(n.error(format!("a quality factor of {quality} is no vibration"), "it is 0.5 or more"));
        }
        Ok(Some(quality))
    };
    Ok(Operation {
        drive_amplitude_um: positive("drive_amplitude_um", "an amplitude in µm")?,
        drive_at: o.get("drive_at").map(|n| place(&n, masses)).transpose()?,
        quality_drive: quality("quality_drive")?,
        quality_sense: quality("quality_sense")?,
        temperature_k,
        readout_noise: readout_noise(&o)?,
        full_scale_deg_per_s: positive("full_scale_deg_per_s", "a rate in °/s")?,
        output_bandwidth_hz: positive("output_bandwidth_hz", "a frequency in Hz")?,
        shock: o.get("shock").map(|n| shock(&n)).transpose()?,
        vibration_band_hz: o.get("vibration_band_hz").map(|n| band(&n)).transpose()?,
    })
}

/// A mass by name or a point [x, y] in µm.
///
/// # Errors
/// For anything else, and for masses not in `masses` when those are known.
pub(super) fn place(node: &Node, masses: Option<&[&str]>) -> Read<Place> {
    if node.value().is_array() {
        let [x, y] = two(node, "a point [x, y] in µm")?;
        return Ok(Place::Point([x, y]));
    }
    let name = node.text("the name of a mass, or a point [x, y] in µm")?;
    if let Some(masses) = masses
        && !masses.contains(&name)
    {
        return Err(unknown_mass(node, name, masses));
    }
    Ok(Place::Mass(name.to_owned()))
}

/// Two numbers.
pub(super) fn two(node: &Node, what: &str) -> Read<[f64; 2]> {
    match &node.array("two numbers")?[..] {
        [a, b] => Ok([a.number("a number")?, b.number("a number")?]),
        list => Err(node.error(format!("must be {what}, not {} values", list.len()), "write two numbers")),
    }
}

/// An axis by name, 0 to 2.
fn axis(node: &Node) -> Read<usize> {
    let word = node.word(&AXES)?;
    Ok(AXES.iter().position(|a| *a == word).unwrap_or(0))
}

fn readout_noise(o: &Object) -> Read<Option<ReadoutNoise>> {
    let (motion, capacitance) = (o.get("readout_noise_m_per_rthz"), o.get("readout_noise_af_per_rthz"));
    match (motion, capacitance) {
        (Some(_), Some(n)) => Err(n.error(
            "the readout's noise is given twice",
            "keep \"readout_noise_m_per_rthz\" or \"readout_noise_af_per_rthz\"",
        )),
        (Some(n), None) => {
            let metres = n.positive("a noise in m/√Hz")?;
            if metres > 1e-6 {
                let what = format!("a readout with a noise of {metres} m/√Hz sees nothing; up to 1e-6 is possible");
                return Err(n.error(what, "the unit is m/√Hz: 5e-14 is 0.05 pm/√Hz"));
            }
            Ok(Some(ReadoutNoise::Motion(metres)))
        }
        (None, Some(n)) => Ok(Some(ReadoutNoise::Capacitance(n.positive("a noise in aF/√Hz")?))),
        (None, None) => Ok(None),
    }
}

fn shock(node: &Node) -> Read<Shock> {
    let o = node.object(&keys::SHOCK)?;
    Ok(Shock {
        peak_g: o.need("peak_g", "write \"peak_g\": 1500")?.positive("an acceleration in g")?,
        duration_ms: o.need("duration_ms", "write \"duration_ms\": 0.5")?.positive("a time in ms")?,
        axis: axis(&o.need("direction", "write \"direction\": \"z\"; the shock is taken both ways")?)?,
    })
}

fn band(node: &Node) -> Read<[f64; 2]> {
    let [low, high] = two(node, "a band [low, high] in Hz")?;
    if low < 0.0 || high <= low {
        return Err(node.error(format!("[{low}, {high}] is no band of frequencies"), "write [low, high] in Hz"));
    }
    Ok([low, high])
}
