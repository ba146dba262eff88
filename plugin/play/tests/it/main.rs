//! All tests of the player and the kit, in one binary.

mod player_habits;
mod player_hosts;
mod player_letters;
mod player_passing;
mod player_playing;
mod player_strike;
mod player_support;
mod player_timing;
mod sound_ceiling;
mod sound_kit;
mod sound_mixer;
mod sound_practice;
mod sound_support;
