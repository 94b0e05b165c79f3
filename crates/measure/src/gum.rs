//! Uncertainty budgets: input quantities combined through any smooth function.
//!
//! Source: JCGM 100:2008, clauses 4 and 5, annexes G and H, from memory.

mod combine;
mod correlations;
mod input;
mod second_order;

pub use combine::{Combined, Contribution, Joint, combine, combine_all, combine_linear};
pub use correlations::{Correlations, GumError};
pub use input::{Input, doubt_dof};
pub use second_order::second_order_variance;

#[cfg(test)]
mod tests;
