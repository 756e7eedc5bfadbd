//! What needs neither a process, a device nor the time of day: the library called, in made-up time.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic)] // A test fails by panicking.

#[path = "../common/mod.rs"]
mod common;
#[path = "../playing/mod.rs"]
mod playing;

use assert_no_alloc::AllocDisabler;

/// Ends the process where the synthesizer asks for memory while it plays.
#[global_allocator]
static ALLOCATOR: AllocDisabler = AllocDisabler;

mod backup;
mod backup_craft;
mod backup_jobs;
mod banjo_part;
mod breaks;
mod chart_properties;
mod clock_filter;
mod crooked_bars;
mod dynamics;
mod endings;
mod fiddle_and_lead;
mod generated_charts;
mod hearing;
mod lead_lines;
mod live_band;
mod live_checker;
mod live_clock_out;
mod live_desk;
mod live_engine;
mod live_follow;
mod live_lead;
mod live_listen;
mod live_mishaps;
mod live_player;
mod live_synth;
mod live_touch;
mod loops;
mod made_up_breaks;
mod midi_file_reader;
mod midi_tunes;
mod module_map;
mod musicxml;
mod one_file_each;
mod other_format;
mod pickups;
mod players_for_sound;
mod review_hands;
mod review_manners;
mod review_players;
mod right_songs;
mod roles_in_rows;
mod runs;
mod screen_draw;
mod screen_view;
mod shipped_songs;
mod shipped_styles;
mod size_bombs;
mod slurs;
mod song_writer;
mod sound_files;
mod sound_port;
mod soundfont;
mod stops_and_entries;
mod style_reading;
mod synth;
mod tablature;
mod teacher;
mod theory_banjo;
mod theory_fretboards;
mod theory_reference;
mod trade_rules;
mod tune_formats;
mod voices;
mod wav;
mod wrong_licks;
mod wrong_songs;
mod wrong_styles;
