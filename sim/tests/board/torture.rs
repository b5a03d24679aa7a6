//! A line that does what lines do, and worse, from one seed.
//!
//! Bytes are dropped and doubled singly; whole frames are cut, doubled, or kept back until after the next one.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

/// One byte in so many is dropped, and as many are doubled.
const BYTES: u32 = 4_000;
/// One frame in so many is cut, as many are doubled, and as many are kept back.
const FRAMES: u32 = 12;

/// Both directions of a bad line.
pub struct Torture {
    rng: ChaCha8Rng,
    to_board: Direction,
    to_host: Direction,
}

/// What has not been passed on yet.
#[derive(Default)]
struct Direction {
    begun: Vec<u8>,
    kept_back: Vec<u8>,
}

impl Torture {
    /// The line of a seed.
    pub fn new(seed: u64) -> Self {
        let rng = ChaCha8Rng::seed_from_u64(seed);
        Self { rng, to_board: Direction::default(), to_host: Direction::default() }
    }

    /// What the board hears of what the host says.
    pub fn heard_by_board(&mut self, said: &[u8]) -> Vec<u8> {
        self.to_board.pass(said, &mut self.rng)
    }

    /// What the host hears of what the board says.
    pub fn heard_by_host(&mut self, said: &[u8]) -> Vec<u8> {
        self.to_host.pass(said, &mut self.rng)
    }
}

impl Direction {
    /// Passes whole frames on, as they fare.
    fn pass(&mut self, said: &[u8], rng: &mut ChaCha8Rng) -> Vec<u8> {
        let mut heard = Vec::new();
        for byte in said {
            self.begun.push(*byte);
            if *byte == 0 {
                let frame = std::mem::take(&mut self.begun);
                self.frame(frame, rng, &mut heard);
            }
        }
        heard.into_iter().flat_map(|byte| std::iter::repeat_n(byte, times(rng))).collect()
    }

    fn frame(&mut self, frame: Vec<u8>, rng: &mut ChaCha8Rng, heard: &mut Vec<u8>) {
        let kept_back = std::mem::take(&mut self.kept_back);
        match rng.next_u32() % FRAMES {
            0 => heard.extend(frame.iter().take(rng.next_u32() as usize % frame.len())),
            1 => heard.extend([frame.clone(), frame].concat()),
            2 => self.kept_back = frame,
            _ => heard.extend(frame),
        }
        heard.extend(kept_back);
    }
}

/// How often a byte arrives.
fn times(rng: &mut ChaCha8Rng) -> usize {
    match rng.next_u32() % BYTES {
        0 => 0,
        1 => 2,
        _ => 1,
    }
}
