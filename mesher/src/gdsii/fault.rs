//! What can be wrong with a GDSII stream or with its use as a device; every message says where and what to do.

use super::layer::{LayerCount, LayerSpec};
use crate::geometry::Point;

/// Why a GDSII stream does not give a device. Offsets are bytes from the start of the stream, coordinates µm.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum GdsError {
    /// The bytes are no sound stream.
    #[error("GDSII stream, byte {offset}: {fault}")]
    Stream {
        /// Where the record at fault begins.
        offset: usize,
        /// What is wrong with it.
        fault: StreamFault,
    },
    /// A library without cells.
    #[error("the GDSII library holds no cell; export the layout again")]
    NoCells,
    /// Two cells of one name.
    #[error("cell \"{name}\" is defined twice, at bytes {first} and {second}; rename or remove one of them")]
    DuplicateCell {
        /// The name.
        name: String,
        /// Where the first begins.
        first: usize,
        /// Where the second begins.
        second: usize,
    },
    /// The named cell does not exist.
    #[error("no cell \"{name}\"; the nearest names are {}", quoted(.nearest))]
    UnknownCell {
        /// The name asked for.
        name: String,
        /// Up to five existing names, the most similar first.
        nearest: Vec<String>,
    },
    /// No cell was named and more than one is nobody's child.
    #[error("the library has {} top cells; name one of {}", .tops.len(), quoted(.tops))]
    SeveralTops {
        /// Their names, in the order of the stream.
        tops: Vec<String>,
    },
    /// A cell that contains itself.
    #[error("cell \"{}\" contains itself: {}; remove one of these references", first(.chain), chained(.chain))]
    Cycle {
        /// The cells from the one that contains itself back to it.
        chain: Vec<String>,
    },
    /// A reference to a cell that is not in the library.
    #[error(
        "cell \"{cell}\" places \"{target}\" (byte {offset}), which is not in the library; export it too or remove the reference"
    )]
    Dangling {
        /// The cell with the reference.
        cell: String,
        /// The missing cell.
        target: String,
        /// Where the reference stands.
        offset: usize,
    },
    /// The hierarchy unfolds into more than anyone means.
    #[error("cell \"{cell}\" unfolds into more than {limit} {what}; check its arrays, or give a window")]
    TooMuch {
        /// The cell being flattened.
        cell: String,
        /// The bound.
        limit: usize,
        /// What there are too many of.
        what: &'static str,
    },
    /// Something placed too far away to be meant.
    #[error(
        "an element of cell \"{cell}\" (byte {offset}) is placed farther than 1 km from the origin or has no finite place; check the magnifications on its way"
    )]
    OutOfRange {
        /// The cell the element is drawn in.
        cell: String,
        /// Where the element stands in the stream.
        offset: usize,
    },
    /// A polygon whose outline crosses itself.
    #[error("a polygon of cell \"{cell}\" on layer {layer} (byte {offset}) crosses itself at ({:.4}, {:.4}) µm in that cell; draw it as separate polygons", .at[0], .at[1])]
    SelfCrossing {
        /// The cell it is drawn in.
        cell: String,
        /// Its layer.
        layer: LayerSpec,
        /// Where it crosses, µm in the cell's own frame.
        at: Point,
        /// Where the polygon stands in the stream.
        offset: usize,
    },
    /// A window that is no rectangle.
    #[error("the window ({}, {}) to ({}, {}) µm is empty or upside down; give its lower-left, then its upper-right corner", .window[0][0], .window[0][1], .window[1][0], .window[1][1])]
    BadWindow {
        /// The window, µm.
        window: [Point; 2],
    },
    /// A plan of layers that does not say one thing.
    #[error("{0}")]
    Plan(PlanFault),
    /// A layer that the plan names and on which nothing is drawn.
    #[error("layer {layer}, named for {purpose}, holds no {what}{}; drawn there are {}", if *.windowed { " inside the window" } else { "" }, counted(.present))]
    EmptyLayer {
        /// What the plan uses the layer for.
        purpose: Purpose,
        /// The layer.
        layer: LayerSpec,
        /// What it should hold: polygons or texts.
        what: &'static str,
        /// Whether only a window was looked at.
        windowed: bool,
        /// The layers that do hold such things, with how many.
        present: Vec<LayerCount>,
    },
    /// A mass or electrode without a text inside.
    #[error("a polygon of {purpose} at ({:.3}, {:.3}) µm has no name; put a text on a labels layer inside it", .at[0], .at[1])]
    Unnamed {
        /// Masses or electrodes.
        purpose: Purpose,
        /// A corner of it, µm.
        at: Point,
    },
    /// A text on a labels layer with no mass or electrode under it.
    #[error("the name \"{name}\" at ({:.3}, {:.3}) µm lies over no polygon of masses or electrodes; move it or take its layer out of the labels", .at[0], .at[1])]
    NameOverNothing {
        /// The text.
        name: String,
        /// Where it stands, µm.
        at: Point,
    },
    /// Two different texts in one polygon.
    #[error("a polygon of {purpose} at ({:.3}, {:.3}) µm holds two names, {}; split it or remove a text", .at[0], .at[1], quoted(.names))]
    TwoNames {
        /// Masses or electrodes.
        purpose: Purpose,
        /// The names, sorted.
        names: Vec<String>,
        /// A corner of it, µm.
        at: Point,
    },
}

/// What is wrong with the bytes of a stream.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum StreamFault {
    /// No HEADER record in front.
    #[error("does not begin with a HEADER record: {hint}")]
    NotGds {
        /// What it looks like instead.
        hint: &'static str,
    },
    /// The bytes end before ENDLIB.
    #[error(
        "the stream ends without an ENDLIB record ({left} bytes left of a record header); the file is truncated, copy or export it again"
    )]
    Ends {
        /// Bytes left, fewer than a record header has.
        left: usize,
    },
    /// The bytes end inside a record.
    #[error("the {record} record says {length} bytes, {left} are left; the file is truncated, copy or export it again")]
    CutOff {
        /// The record.
        record: &'static str,
        /// Its length by its own header.
        length: usize,
        /// Bytes left in the stream.
        left: usize,
    },
    /// A length that no record can have.
    #[error("a record length of {length}, which must be even and at least 4; the file is corrupt, export it again")]
    BadLength {
        /// The length.
        length: usize,
    },
    /// A record number outside the format.
    #[error(
        "record type {kind:#04x} (data type {data_type}) is not in the format; the file is corrupt, export it again"
    )]
    UnknownRecord {
        /// The number.
        kind: u8,
        /// Its data type.
        data_type: u8,
    },
    /// Data of another type or length than the record has.
    #[error(
        "{record} must hold {expected}, but has {length} bytes of data type {data_type}; the file is corrupt, export it again"
    )]
    WrongData {
        /// The record.
        record: &'static str,
        /// What it should hold.
        expected: &'static str,
        /// The data type it says.
        data_type: u8,
        /// How many bytes of data it has.
        length: usize,
    },
    /// More or fewer values than the record has.
    #[error("{record} must hold {expected} value(s), but has {found}; the file is corrupt, export it again")]
    WrongCount {
        /// The record.
        record: &'static str,
        /// How many it should hold.
        expected: usize,
        /// How many it holds.
        found: usize,
    },
    /// A record where it cannot stand.
    #[error("{record} cannot stand in {inside}; the file is corrupt, export it again")]
    Misplaced {
        /// The record.
        record: &'static str,
        /// What it stands in.
        inside: &'static str,
    },
    /// A record that must be there and is not.
    #[error("{of} has no {missing} record; the file is corrupt, export it again")]
    Missing {
        /// What lacks it.
        of: &'static str,
        /// The record.
        missing: &'static str,
    },
    /// Too few points.
    #[error("{of} has {found} points, it needs {needed}; correct it in the layout")]
    TooFewPoints {
        /// The element.
        of: &'static str,
        /// How many different consecutive points it has.
        found: usize,
        /// How many it needs.
        needed: usize,
    },
    /// A value outside what its record allows.
    #[error("{record} {value} must be {allowed}; correct it in the layout")]
    BadValue {
        /// The record.
        record: &'static str,
        /// The value.
        value: f64,
        /// What is allowed.
        allowed: &'static str,
    },
    /// Something other than zeros after ENDLIB.
    #[error("something other than zeros follows the ENDLIB record; two files may have been joined, export it again")]
    AfterEnd,
}

/// What is wrong with a plan of layers.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum PlanFault {
    /// Neither structure nor trenches.
    #[error("no layer is named for structure, nor for trenches; name one")]
    NoFilm,
    /// Both structure and trenches.
    #[error("layers are named both for structure and for trenches; a mask draws either what stays or what is etched")]
    TwoFilms,
    /// Trenches without a window.
    #[error("trenches need a window: what is not etched inside it is structure")]
    NoWindow,
    /// More than one of anchors, release undercut and free.
    #[error("anchors, release undercut and free support exclude each other; give one")]
    TwoAnchorings,
    /// None of anchors, release undercut and free.
    #[error("nothing holds the device: name anchors, give the release undercut, or say that it is free")]
    NoAnchoring,
    /// A release undercut that is not positive.
    #[error("the release undercut must be a positive length in µm")]
    BadUndercut,
    /// Named parts without labels.
    #[error("masses or electrodes need a layer of labels, whose texts name them")]
    NoLabels,
}

/// What the layers of a plan are for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Purpose {
    /// Drawn structural layer.
    Structure,
    /// Openings cut from it.
    Holes,
    /// Etched areas of a trench mask.
    Trenches,
    /// Footprints bonded to the substrate.
    Anchors,
    /// Named parts.
    Masses,
    /// Named electrodes.
    Electrodes,
    /// Texts that name masses and electrodes.
    Labels,
}

impl std::fmt::Display for Purpose {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Structure => "structure",
            Self::Holes => "holes",
            Self::Trenches => "trenches",
            Self::Anchors => "anchors",
            Self::Masses => "masses",
            Self::Electrodes => "electrodes",
            Self::Labels => "labels",
        })
    }
}

/// At most this many names stand in a message.
const SHOWN: usize = 40;

fn listed(mut items: Vec<String>, separator: &str) -> String {
    let more = items.len().saturating_sub(SHOWN);
    items.truncate(SHOWN);
    let text = items.join(separator);
    if more == 0 { text } else { format!("{text}{separator}… ({more} more)") }
}

fn quoted(names: &[String]) -> String {
    listed(names.iter().map(|n| format!("\"{n}\"")).collect(), ", ")
}

fn chained(names: &[String]) -> String {
    listed(names.iter().map(|n| format!("\"{n}\"")).collect(), " places ")
}

fn first(names: &[String]) -> &str {
    names.first().map_or("", String::as_str)
}

fn counted(layers: &[LayerCount]) -> String {
    if layers.is_empty() {
        return "none on any layer".to_owned();
    }
    listed(layers.iter().map(|l| format!("{} on {}", l.count, l.layer)).collect(), ", ")
}
