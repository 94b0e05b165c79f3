//! Writing a package: the same content, the same bytes.
