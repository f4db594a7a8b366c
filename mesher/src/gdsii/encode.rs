//! Builds GDSII streams, record by record. In: integer database units. Out: bytes. Source: the GDSII Stream Format,
//! release 6.0.

use super::record::kind;

/// A stream under construction.
#[derive(Clone, Debug, Default)]
pub(super) struct Encoder(pub Vec<u8>);

/// An eight-byte excess-64 real.
pub(super) fn real(value: f64) -> [u8; 8] {
    let mut exponent = 64;
    let mut fraction = value.abs();
    if fraction == 0.0 {
        return [0; 8];
    }
    while fraction >= 1.0 {
        fraction /= 16.0;
        exponent += 1;
    }
    while fraction < 1.0 / 16.0 {
        fraction *= 16.0;
        exponent -= 1;
    }
    let sign = u64::from(value < 0.0) << 63;
    (sign | (exponent << 56) | (fraction * 2f64.powi(56)) as u64).to_be_bytes()
}

impl Encoder {
    /// HEADER to UNITS, with the database unit in metres and a user unit of 1 µm. Times are left at zero, so that the same
    /// content gives the same bytes.
    pub fn library(name: &str, database_unit_m: f64) -> Self {
        let units = [real(database_unit_m / 1e-6), real(database_unit_m)].concat();
        Self::default()
            .shorts(kind::HEADER, &[600])
            .shorts(kind::BGNLIB, &[0; 12])
            .text_record(kind::LIBNAME, name)
            .record(kind::UNITS, 5, &units)
    }

    pub fn record(mut self, number: u8, data_type: u8, data: &[u8]) -> Self {
        self.0.extend(((data.len() + 4) as u16).to_be_bytes());
        self.0.extend([number, data_type]);
        self.0.extend(data);
        self
    }

    pub fn empty(self, number: u8) -> Self {
        self.record(number, 0, &[])
    }

    pub fn shorts(self, number: u8, values: &[i16]) -> Self {
        let data: Vec<u8> = values.iter().flat_map(|v| v.to_be_bytes()).collect();
        self.record(number, 2, &data)
    }

    pub fn longs(self, number: u8, values: &[i32]) -> Self {
        let data: Vec<u8> = values.iter().flat_map(|v| v.to_be_bytes()).collect();
        self.record(number, 3, &data)
    }

    /// A record of ASCII text of a type; an odd length gets a zero byte, as the format asks.
    pub fn text_record(self, number: u8, text: &str) -> Self {
        let mut data = text.as_bytes().to_vec();
        if data.len() % 2 == 1 {
            data.push(0);
        }
        self.record(number, 6, &data)
    }

    pub fn cell(self, name: &str) -> Self {
        self.shorts(kind::BGNSTR, &[0; 12]).text_record(kind::STRNAME, name)
    }

    pub fn end_cell(self) -> Self {
        self.empty(kind::ENDSTR)
    }

    pub fn finish(self) -> Vec<u8> {
        self.empty(kind::ENDLIB).0
    }

    pub(super) fn element(self, number: u8, layer: i16, second: u8, datatype: i16) -> Self {
        self.empty(number).shorts(kind::LAYER, &[layer]).shorts(second, &[datatype])
    }

    pub(super) fn end(self, points: &[[i32; 2]]) -> Self {
        self.longs(kind::XY, points.as_flattened()).empty(kind::ENDEL)
    }

    /// A boundary on a layer and a data type; `points` in database units, at least one; the closing point is added.
    pub fn boundary(self, layer: i16, datatype: i16, points: &[[i32; 2]]) -> Self {
        let closed = [points, &points[..1]].concat();
        self.element(kind::BOUNDARY, layer, kind::DATATYPE, datatype).end(&closed)
    }

    pub fn path(
        self,
        layer: i16,
        path_type: i16,
        width: i32,
        extensions: Option<[i32; 2]>,
        points: &[[i32; 2]],
    ) -> Self {
        let mut this = self
            .element(kind::PATH, layer, kind::DATATYPE, 0)
            .shorts(kind::PATHTYPE, &[path_type])
            .longs(kind::WIDTH, &[width]);
        if let Some([begin, end]) = extensions {
            this = this.longs(kind::BGNEXTN, &[begin]).longs(kind::ENDEXTN, &[end]);
        }
        this.end(points)
    }

    pub fn text(self, layer: i16, text_type: i16, at: [i32; 2], text: &str) -> Self {
        self.element(kind::TEXT, layer, kind::TEXTTYPE, text_type)
            .longs(kind::XY, &at)
            .text_record(kind::STRING, text)
            .empty(kind::ENDEL)
    }
}
