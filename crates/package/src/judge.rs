//! From an opened package to a verdict.
