//! Flexures of generated outlines with known answers, each turned by odd angles: how many, how long, how wide, what they
//! join; and what is left without them. Lengths in µm. Devices are invented.

#![allow(clippy::unwrap_used, clippy::panic)]

mod bodies;
mod case;
mod curved;
mod straight;
