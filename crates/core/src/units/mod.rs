//! Units and readings as people write them.
