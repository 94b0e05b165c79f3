//! Strict JSON reader and canonical bytes.
