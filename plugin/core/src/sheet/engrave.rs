//! Layout: everything that is written gets a place on paper.
