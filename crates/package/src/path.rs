//! Paths inside a package.
