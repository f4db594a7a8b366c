//! Whole streams, made by hand: reading, flattening, drawing, and bytes that are no stream.

mod corrupt;
mod device;
mod elements;
mod flatten;
mod stream;
mod unused;
