//! Elements of streams that only tests write: boxes, references, arrays.

use crate::gdsii::encode::{Encoder, real};
use crate::gdsii::record::kind;

impl Encoder {
    /// A rectangle as a boundary.
    pub fn rectangle(self, layer: i16, [x, y]: [i32; 2], [z, w]: [i32; 2]) -> Self {
        self.boundary(layer, 0, &[[x, y], [z, y], [z, w], [x, w]])
    }

    pub fn box_element(self, layer: i16, box_type: i16, [x, y]: [i32; 2], [z, w]: [i32; 2]) -> Self {
        self.element(kind::BOX, layer, kind::BOXTYPE, box_type).end(&[[x, y], [z, y], [z, w], [x, w], [x, y]])
    }

    fn transform(self, flags: u16, magnification: f64, angle_deg: f64) -> Self {
        self.record(kind::STRANS, 1, &flags.to_be_bytes()).record(kind::MAG, 5, &real(magnification)).record(
            kind::ANGLE,
            5,
            &real(angle_deg),
        )
    }

    /// A reference; bit 0x8000 of `flags` mirrors, 0x0004 and 0x0002 make magnification and angle absolute.
    pub fn sref(self, cell: &str, flags: u16, magnification: f64, angle_deg: f64, at: [i32; 2]) -> Self {
        self.empty(kind::SREF).text_record(kind::SNAME, cell).transform(flags, magnification, angle_deg).end(&[at])
    }

    pub fn aref(self, cell: &str, angle_deg: f64, counts: [i16; 2], points: [[i32; 2]; 3]) -> Self {
        self.empty(kind::AREF)
            .text_record(kind::SNAME, cell)
            .transform(0, 1.0, angle_deg)
            .shorts(kind::COLROW, &counts)
            .end(&points)
    }
}
