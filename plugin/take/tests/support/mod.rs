//! Takes made for measuring: forms of our own, played with human timing by a
//! seeded player, and what the reading of them is held against.
#![allow(dead_code)]

pub mod human;
pub mod judge;
pub mod make;
