//! The least-cost way through a layered graph: a trellis, as the graph of the Viterbi algorithm is called (Forney 1973,
//! "The Viterbi algorithm", Proc. IEEE 61(3)).
//!
//! A hand that goes from chord to chord, a line of notes, a roll of picks: each is a row of places with a few states
//! each, where a state costs something by itself and so does the step to it from a state of the place before. What is
//! best for the whole row is found by dynamic programming (Bellman 1957): the least sum of a way to a state is that of
//! the best way to one of the states before it, the step, and the state itself. So time is linear in the row.

mod cost;
mod least_path;
mod least_through;

pub use cost::Cost;
pub use least_path::{Path, Trellis, least_path};
pub use least_through::least_through;
