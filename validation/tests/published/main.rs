//! Published values, exact solutions and convergence; one program, so that the checks share its link and its threads.

mod as_made;
mod bars;
mod beam_shell;
mod beams;
mod biased;
mod drawn;
mod film_stress;
mod fingers;
mod lumped;
mod mixed;
mod orders;
mod outlines;
mod pieces;
mod plates;
mod rings;
mod rotation;
mod sections;
mod shock_stress;
mod solid;
mod timoshenko;
mod turned;
mod widened;
