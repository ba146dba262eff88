//! Random numbers for tests, from seeds that are printed and can be used again.
//!
//! A test takes its first seed from [`seed`]. When it fails it has printed that
//! seed, and the seed of the case that failed; with `BARFORM_SEED` set to either
//! the test starts there.

/// Environment variable that replaces a test's own seed.
pub const VARIABLE: &str = "BARFORM_SEED";

/// The seed of a test: what [`VARIABLE`] says, else its `usual` one.
///
/// # Panics
/// If the variable is no whole number.
pub fn seed(usual: u64) -> u64 {
    let seed = match std::env::var(VARIABLE) {
        Ok(text) => text.parse().expect("BARFORM_SEED is a whole number"),
        Err(_) => usual,
    };
    println!("{VARIABLE}={seed} runs the same cases again");
    seed
}

/// Random numbers from a seed (SplitMix64, Steele, Lea and Flood 2014; from memory).
#[derive(Debug)]
pub struct Dice {
    seed: u64,
    state: u64,
}

impl Drop for Dice {
    /// Prints the seed when a test fails.
    fn drop(&mut self) {
        if std::thread::panicking() {
            println!("{VARIABLE}={} starts with the case that failed", self.seed);
        }
    }
}

impl Dice {
    /// The sequence of a seed.
    pub fn of(seed: u64) -> Dice {
        Dice {
            seed,
            state: seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ 0x5851_f42d_4c95_7f2d,
        }
    }

    /// Any number.
    pub fn roll(&mut self) -> u64 {
        self.state = self.state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.state;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// `0 .. n`; `n` is above zero.
    pub fn below(&mut self, n: usize) -> usize {
        (self.roll() % n as u64) as usize
    }

    /// One of these; there is at least one.
    pub fn pick<T: Clone>(&mut self, from: &[T]) -> T {
        from[self.below(from.len())].clone()
    }

    /// `0 .. 1`.
    pub fn unit(&mut self) -> f64 {
        (self.roll() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// True once in `n` times; `n` is above zero.
    pub fn one_in(&mut self, n: usize) -> bool {
        self.below(n) == 0
    }

    /// True `p` times out of 1.
    pub fn chance(&mut self, p: f64) -> bool {
        self.unit() < p
    }

    /// A normal spread of 1 (Box and Muller 1958, from memory).
    pub fn normal(&mut self) -> f64 {
        let (u, v) = (self.unit().max(1e-12), self.unit());
        (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos()
    }

    /// An index, each as often as its weight says.
    pub fn weighted(&mut self, weights: &[f64]) -> usize {
        let mut at = self.unit() * weights.iter().sum::<f64>();
        for (i, weight) in weights.iter().enumerate() {
            at -= weight;
            if at < 0.0 {
                return i;
            }
        }
        weights.len() - 1
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_seed_rolls_the_same_and_another_does_not() {
        let rolls = |seed| {
            let mut dice = Dice::of(seed);
            [dice.roll(), dice.roll(), dice.roll()]
        };
        assert_eq!(rolls(92), rolls(92));
        assert_ne!(rolls(92), rolls(93));
    }

    #[test]
    fn rolls_are_within_bounds_and_reach_all_of_them() {
        let mut dice = Dice::of(seed(1));
        let mut seen = [0; 6];
        for _ in 0..6_000 {
            seen[dice.below(6)] += 1;
            assert!((0.0..1.0).contains(&dice.unit()));
            assert!(dice.weighted(&[0.0, 1.0, 0.0]) == 1);
        }
        // A thousand each are to be expected; 29 is their standard deviation.
        assert!(seen.iter().all(|n| (800..1_200).contains(n)), "{seen:?}");
    }
}
