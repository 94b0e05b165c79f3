//! The verifier page and the digests of the released ones.
