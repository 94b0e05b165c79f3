//! Uncertainty budgets: input quantities combined through any smooth function.
//!
//! Source: JCGM 100:2008, clauses 4 and 5, annexes G and H, from memory.

mod combine;
mod input;

pub use combine::{
    Combined, Contribution, Correlations, GumError, Joint, combine, combine_all, combine_linear,
    second_order_variance,
};
pub use input::{Input, doubt_dof};

#[cfg(test)]
mod tests;
