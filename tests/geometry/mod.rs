//! The mathematics of profiles, curves and envelopes.

mod envelope;
