//! trust
