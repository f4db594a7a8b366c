//! A rate report in words: on the screen, as JSON, as a page. In: [`modalith_solver::sensor::RateReport`].

pub mod html;
pub mod json;
pub mod play;
pub mod spectrum;
pub mod text;
pub mod words;
