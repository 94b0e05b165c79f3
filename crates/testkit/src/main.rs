//! testkit
fn main() {}
