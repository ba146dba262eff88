//! Numbers that look like chance and are the same on every machine.

use num_bigint::BigUint;

/// The generator SplitMix64 (Steele, Lea, Flood, *Fast splittable pseudorandom
/// number generators*, OOPSLA 2014): a 64-bit counter and a mixing function,
/// nothing but wrapping integer arithmetic. It is written out here, so that no
/// release of a library can change its stream.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SplitMix64 {
    state: u64,
}

impl SplitMix64 {
    /// A generator that starts at `seed`; all seeds are good.
    pub const fn new(seed: u64) -> SplitMix64 {
        SplitMix64 { state: seed }
    }

    /// The next 64 bits.
    pub fn next_u64(&mut self) -> u64 {
        self.state = self.state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.state;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// A number in `0 .. bound`, each as likely as any other; zero if `bound`
    /// is zero. Takes 64 bits at a time, lowest first, drops the bits that
    /// `bound` does not have, and draws again if the number is too large.
    pub fn below(&mut self, bound: &BigUint) -> BigUint {
        let bits = bound.bits();
        if bits == 0 {
            return BigUint::ZERO;
        }
        loop {
            let mut digits: Vec<u32> = Vec::new();
            let mut left = bits;
            while left > 0 {
                let take = left.min(64);
                let word = self.next_u64() >> (64 - take);
                digits.push(word as u32);
                digits.push((word >> 32) as u32);
                left -= take;
            }
            let drawn = BigUint::new(digits);
            if drawn < *bound {
                return drawn;
            }
        }
    }
}
