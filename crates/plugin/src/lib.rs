//! plugin
