//! Self-issued certificates that carry the public key of the workshop.
