//! workshop
