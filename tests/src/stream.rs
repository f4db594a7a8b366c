//! A small writer of GDSII streams, independent of the reader: records as the format's manual lists them, database unit
//! 1 nm, user unit 1 µm.

/// A stream under construction.
#[derive(Clone, Debug)]
pub struct Stream(Vec<u8>);

/// Eight-byte excess-64 reals of 0.001 (database unit in user units) and 1e-9 (in metres).
const UNITS: [u8; 16] =
    [0x3E, 0x41, 0x89, 0x37, 0x4B, 0xC6, 0xA7, 0xF0, 0x39, 0x44, 0xB8, 0x2F, 0xA0, 0x9B, 0x5A, 0x54];

impl Default for Stream {
    fn default() -> Self {
        Self(Vec::new())
            .record(0x00, 2, &600_i16.to_be_bytes())
            .record(0x01, 2, &[0; 24])
            .record(0x02, 6, b"LIB_")
            .record(0x03, 5, &UNITS)
    }
}

impl Stream {
    fn record(mut self, kind: u8, data_type: u8, data: &[u8]) -> Self {
        self.0.extend(((data.len() + 4) as u16).to_be_bytes());
        self.0.extend([kind, data_type]);
        self.0.extend(data);
        self
    }

    fn text_record(self, kind: u8, text: &str) -> Self {
        let mut data = text.as_bytes().to_vec();
        if data.len() % 2 == 1 {
            data.push(0);
        }
        self.record(kind, 6, &data)
    }

    fn points(self, points: &[[i32; 2]]) -> Self {
        let data: Vec<u8> = points.iter().flatten().flat_map(|x| (x * 1000).to_be_bytes()).collect();
        self.record(0x10, 3, &data)
    }

    fn layer(self, layer: i16, kind: u8) -> Self {
        self.record(0x0D, 2, &layer.to_be_bytes()).record(kind, 2, &[0, 0])
    }

    /// Adds a cell whose elements `fill` adds.
    pub fn cell(self, name: &str, fill: impl Fn(Self) -> Self) -> Self {
        fill(self.record(0x05, 2, &[0; 24]).text_record(0x06, name)).record(0x07, 0, &[])
    }

    /// Adds a polygon, whole µm.
    pub fn polygon(self, layer: i16, points: &[[i32; 2]]) -> Self {
        let closed: Vec<[i32; 2]> = points.iter().chain(points.first()).copied().collect();
        self.record(0x08, 0, &[]).layer(layer, 0x0E).points(&closed).record(0x11, 0, &[])
    }

    /// Adds a rectangle by two opposite corners, whole µm.
    pub fn rect(self, layer: i16, [a, b]: [i32; 2], [c, d]: [i32; 2]) -> Self {
        self.polygon(layer, &[[a, b], [c, b], [c, d], [a, d]])
    }

    /// Adds a text, whole µm.
    pub fn text(self, layer: i16, at: [i32; 2], text: &str) -> Self {
        self.record(0x0C, 0, &[]).layer(layer, 0x16).points(&[at]).text_record(0x19, text).record(0x11, 0, &[])
    }

    /// Places a cell, whole µm.
    pub fn place(self, cell: &str, at: [i32; 2]) -> Self {
        self.record(0x0A, 0, &[]).text_record(0x12, cell).points(&[at]).record(0x11, 0, &[])
    }

    /// The bytes of the stream.
    pub fn finish(self) -> Vec<u8> {
        self.record(0x04, 0, &[]).0
    }
}
