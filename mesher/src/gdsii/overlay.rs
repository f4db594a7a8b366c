//! Flexures as a GDSII stream over the designer's coordinates, to be laid over the mask. In: an outline, µm. Out: bytes, one
//! cell `flexures`. Datatype 0 throughout; layers:
//!
//! | layer | what |
//! | --- | --- |
//! | 201 | areas of flexures, openings in them left out |
//! | 202 | middle lines: paths a twentieth of the flexure's width wide |
//! | 203 | root lines: paths as wide |
//! | 204 | numbers as texts, counted from 1, at the middle of the middle line |
//! | 205 | areas of fingers |

use super::encode::Encoder;
use crate::geometry::Point;
use crate::outline::Outline;

const AREAS: i16 = 201;
const MIDDLE_LINES: i16 = 202;
const ROOT_LINES: i16 = 203;
const NUMBERS: i16 = 204;
const FINGERS: i16 = 205;

/// The finest database unit written, µm: foots of root lines lie on no mask grid.
const FINEST_UM: f64 = 1e-4;
/// Points of one record: its length has 16 bits, its first and last point are written twice.
const MOST_POINTS: usize = 8000;

/// The stream.
///
/// ```
/// use modalith_mesher::gdsii::{overlay, read};
/// # use modalith_mesher::outline::Outline;
/// # let outline = Outline { parts: vec![], anchors: vec![], idle_anchors: vec![], islands: vec![], masses: vec![],
/// #     mirrors: vec![], flexures: vec![], fingers: vec![], covered: vec![], filled: vec![],
/// #     unrecognised: vec![] };
/// assert_eq!(read(&overlay(&outline))?.cells.len(), 1);
/// # Ok::<(), modalith_mesher::gdsii::GdsError>(())
/// ```
pub fn overlay(outline: &Outline) -> Vec<u8> {
    let areas = outline.flexures.iter().map(|f| &f.area).chain(outline.fingers.iter().map(|f| &f.area));
    let reach = areas.flat_map(|a| a.outer.iter().flatten()).fold(0.0_f64, |m, x| m.max(x.abs()));
    let mut unit_um = FINEST_UM;
    while reach / unit_um > f64::from(i32::MAX / 2) {
        unit_um *= 10.0;
    }
    let whole = |um: f64| (um / unit_um).round() as i32;
    let points = |line: &[Point]| -> Vec<[i32; 2]> {
        let step = line.len().div_ceil(MOST_POINTS).max(1);
        let last = line.len().saturating_sub(1);
        line.iter().enumerate().filter(|(k, _)| k % step == 0 || *k == last).map(|(_, p)| p.map(whole)).collect()
    };
    let mut stream = Encoder::library("modalith", unit_um * 1e-6).cell("flexures");
    for (k, flexure) in outline.flexures.iter().enumerate() {
        let line_width = whole(0.05 * flexure.width_um).max(1);
        stream = stream.boundary(AREAS, 0, &points(&flexure.area.outer)).path(
            MIDDLE_LINES,
            0,
            line_width,
            None,
            &points(&flexure.centre_line),
        );
        for end in &flexure.ends {
            stream = stream.path(ROOT_LINES, 0, line_width, None, &points(&end.root));
        }
        let middle = flexure.centre_line.get(flexure.centre_line.len() / 2).copied().unwrap_or_default().map(whole);
        stream = stream.text(NUMBERS, 0, middle, &(k + 1).to_string());
    }
    for finger in &outline.fingers {
        stream = stream.boundary(FINGERS, 0, &points(&finger.area.outer));
    }
    stream.end_cell().finish()
}
