//! Layers by number and datatype, and how much they hold.

/// A layer and its datatype (of a box its boxtype, of a text its texttype).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct LayerSpec {
    /// Layer number.
    pub layer: u16,
    /// Datatype, boxtype or texttype.
    pub datatype: u16,
}

impl LayerSpec {
    /// A layer and its datatype.
    pub const fn new(layer: u16, datatype: u16) -> Self {
        Self { layer, datatype }
    }
}

impl std::fmt::Display for LayerSpec {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}/{}", self.layer, self.datatype)
    }
}

/// How many polygons or texts a layer holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LayerCount {
    /// The layer.
    pub layer: LayerSpec,
    /// How many things it holds.
    pub count: usize,
}
