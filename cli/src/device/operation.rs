//! How the device is run: drive, quality factors, temperature, readout, shock and vibration of its base.

use super::intent::unknown_mass;
use super::keys;
use super::node::{Node, Object, Read};
use modalith_mesher::geometry::Point;

/// Temperature where none is stated, K.
pub const TEMPERATURE_K: f64 = 300.0;
/// Band of vibration where none is stated, Hz.
pub const VIBRATION_HZ: [f64; 2] = [20.0, 2000.0];
/// Names of the axes.
const AXES: [&str; 3] = ["x", "y", "z"];

/// A place on the structure.
#[derive(Clone, Debug, PartialEq)]
pub enum Place {
    /// A named mass: its centre of mass.
    Mass(String),
    /// A point of the layout, µm.
    Point(Point),
}

/// Noise of the readout, one-sided, near the drive frequency.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ReadoutNoise {
    /// As motion of the sense masses, m/√Hz.
    Motion(f64),
    /// As capacitance, aF/√Hz.
    Capacitance(f64),
}

/// A half-sine shock of the base, taken both ways along its axis.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shock {
    /// Peak, g.
    pub peak_g: f64,
    /// Duration, ms.
    pub duration_ms: f64,
    /// Axis, 0 to 2 for x to z.
    pub axis: usize,
}

/// How the device is run; what is not stated leaves out the results that need it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Operation {
    /// Peak amplitude of the drive motion, µm, where `drive_at` says.
    pub drive_amplitude_um: Option<f64>,
    /// Where the amplitude is meant; by default the first mass of the intended drive motion.
    pub drive_at: Option<Place>,
    /// Quality factor of the drive mode.
    pub quality_drive: Option<f64>,
    /// Quality factor of the sense mode.
    pub quality_sense: Option<f64>,
    /// Temperature, K, if it is stated.
    pub temperature_k: Option<f64>,
    /// Noise of the readout.
    pub readout_noise: Option<ReadoutNoise>,
    /// Largest rate, °/s, of either sign.
    pub full_scale_deg_per_s: Option<f64>,
    /// Where the low-pass of the rate output is 3 dB down, Hz.
    pub output_bandwidth_hz: Option<f64>,
    /// Shock of the base.
    pub shock: Option<Shock>,
    /// Band of vibration, Hz, if it is stated.
    pub vibration_band_hz: Option<[f64; 2]>,
}

impl Operation {
    /// Temperature, K.
    pub fn temperature_k(&self) -> f64 {
        self.temperature_k.unwrap_or(TEMPERATURE_K)
    }

    /// Band of vibration, Hz.
    pub fn vibration_band_hz(&self) -> [f64; 2] {
        self.vibration_band_hz.unwrap_or(VIBRATION_HZ)
    }

    /// What is taken for what is not stated, in a rate report.
    pub fn defaults(&self) -> Vec<String> {
        let [low, high] = VIBRATION_HZ;
        let noisy = self.temperature_k.is_none() && self.quality_sense.is_some();
        let shaken = self.vibration_band_hz.is_none() && self.drive_amplitude_um.is_some();
        [
            (noisy, format!("{TEMPERATURE_K} K for the Brownian noise: operation/temperature_k is not stated")),
            (shaken, format!("vibration from {low} to {high} Hz: operation/vibration_band_hz is not stated")),
        ]
        .into_iter()
        .filter_map(|(taken, what)| taken.then_some(what))
        .collect()
    }
}

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
