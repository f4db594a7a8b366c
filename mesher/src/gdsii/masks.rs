//! Polygons as a GDSII stream of one cell. In: rings of layers in whole database units. Out: bytes.

use super::encode::Encoder;

/// The stream, datatype 0 throughout; the closing point is added to every ring.
///
/// ```
/// use modalith_mesher::gdsii::{masks, read};
/// let square = vec![[0, 0], [1000, 0], [1000, 1000], [0, 1000]];
/// assert_eq!(read(&masks("plate", 1e-9, &[(1, square)]))?.cells.len(), 1);
/// # Ok::<(), modalith_mesher::gdsii::GdsError>(())
/// ```
pub fn masks(cell: &str, database_unit_m: f64, rings: &[(i16, Vec<[i32; 2]>)]) -> Vec<u8> {
    let rings = rings.iter().filter(|r| !r.1.is_empty());
    let start = Encoder::library("modalith", database_unit_m).cell(cell);
    rings.fold(start, |stream, (layer, ring)| stream.boundary(*layer, 0, ring)).end_cell().finish()
}
