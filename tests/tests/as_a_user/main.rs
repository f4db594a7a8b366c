//! The program as a user runs it; one program, so that the checks share its link and its threads.

mod as_made;
mod audit;
mod bounds;
mod chosen;
mod combs;
mod command_line;
mod demos;
mod electrodes;
mod error_bars;
mod first_order;
mod hints;
mod lumped;
mod memory;
mod mirrors_and_areas;
mod random_edits;
mod rate;
mod readme;
mod results;
mod schemas;
mod search;
mod spread;
mod used;
mod variants;
mod withheld;
mod wrong_input;
mod wrong_stream;
