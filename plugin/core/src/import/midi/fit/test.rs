//! The choice of a grid against a search through all.
