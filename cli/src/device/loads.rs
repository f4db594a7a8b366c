//! What a device file states of loads.

use super::Device;
use super::node::Read;
use modalith_mesher::drawing::Drawing;
use modalith_mesher::outline::Outline;
use modalith_solver::state::Loads;

impl Device {
    /// What loads the device, on its outline.
    ///
    /// # Errors
    /// As for its electrodes: one over nothing, a name that is not in the stream, an unknown mass, a window without a comb.
    pub fn loads_on(&self, drawing: &Drawing, outline: &Outline) -> Read<Loads> {
        Ok(Loads { electrodes: self.electrodes_on(drawing, outline)?, film: self.film_stress })
    }
}
