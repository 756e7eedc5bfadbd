//! The bounds, over every shipped song in every style that goes with it.

use std::sync::OnceLock;

use openchair::chart::Role;

use crate::measure::row::Row;
use crate::measure::swing::{self, Heard};
use crate::measure::{
    all_chairs, banjo, banjo_takes, bass_notes, hands, leads, lines, players, shape, takes, timing,
    together, touch,
};

#[test]
fn the_bass_says_each_new_chord() {
    bass_notes::roots(takes()).hold();
}

#[test]
fn runs_arrive_where_they_lead() {
    bass_notes::runs(takes()).hold();
}

#[test]
fn a_hand_holds_every_chop() {
    hands::shapes(Role::Chop, takes()).hold();
}

#[test]
fn a_hand_holds_all_that_the_guitar_sounds() {
    hands::shapes(Role::Guitar, takes()).hold();
}

#[test]
fn the_chopping_hand_stays_near() {
    hands::movement(takes()).hold();
}

#[test]
fn no_two_roles_rub() {
    together::clashes(takes()).hold();
}

#[test]
fn each_role_has_a_register() {
    together::registers(takes()).hold();
}

#[test]
fn lines_vary_in_rhythm() {
    lines::same_rhythm(takes()).hold();
}

#[test]
fn lines_vary_in_rhythm_over_a_song() {
    lines::same_rhythm_in_a_song(takes()).hold();
}

#[test]
fn lines_vary_in_their_notes() {
    lines::same_notes(takes()).hold();
}

#[test]
fn a_chorus_lifts_and_the_last_one_more() {
    shape::verse_to_chorus(takes()).hold();
    shape::first_to_last_chorus(takes()).hold();
}

#[test]
fn nobody_plays_the_same_four_bars_over_and_over() {
    lines::literal_repeats("the band", takes()).hold();
    lines::literal_repeats("every chair", all_chairs()).hold();
}

#[test]
fn no_two_strokes_are_quite_as_loud() {
    touch::same_velocity(takes()).hold();
}

#[test]
fn strokes_lie_where_the_style_says() {
    timing::on_the_grid(takes()).hold();
}

#[test]
fn deviations_have_memory() {
    timing::memory(takes()).hold();
}

fn hold_all<const N: usize>(rows: [Row; N]) {
    rows.iter().for_each(Row::hold);
}

#[test]
fn players_stray_as_players_do() {
    hold_all(players::stray(takes()));
    hold_all(players::memory(takes()));
}

#[test]
fn two_players_are_never_quite_together() {
    hold_all(players::apart(takes()));
}

#[test]
fn a_band_that_has_a_click_keeps_its_tempo() {
    hold_all(players::tempo(takes()));
}

#[test]
fn backbeats_are_the_tightest() {
    players::backbeats(takes()).hold();
}

#[test]
fn no_two_strums_are_alike() {
    players::touch(takes()).hold();
    hold_all(players::strums_alike(takes()));
}

#[test]
fn roles_keep_together() {
    timing::asynchrony(takes()).hold();
}

#[test]
fn the_banjos_fingers_take_turns() {
    banjo::fingers(banjo_takes()).hold();
}

#[test]
fn the_banjos_notes_belong() {
    banjo::notes(banjo_takes()).hold();
}

#[test]
fn the_banjo_leads_into_changes_as_players_do() {
    banjo::lead_ins(banjo_takes()).hold();
}

#[test]
fn the_short_string_rings_where_it_fits() {
    banjo::short_string(banjo_takes()).hold();
}

#[test]
fn each_lead_has_a_rhythm_of_its_own() {
    leads::same_rhythm(leads::lead_takes()).hold();
}

#[test]
fn breaks_have_the_chord_and_lean_on_it() {
    leads::chord_tones(leads::lead_takes()).iter().for_each(Row::hold);
}

#[test]
fn what_leans_comes_to_rest() {
    leads::resolved(leads::lead_takes()).hold();
}

#[test]
fn breaks_end_when_the_singer_comes() {
    leads::leaves_room(leads::lead_takes()).hold();
}

#[test]
fn breaks_bend_notes_as_players_do() {
    leads::blue_notes(leads::lead_takes()).hold();
    leads::first_bars(leads::lead_takes()).hold();
}

#[test]
fn what_comes_back_in_a_break_is_told_anew() {
    leads::bars_again(leads::lead_takes()).hold();
}

fn heard() -> &'static [Heard] {
    static HEARD: OnceLock<Vec<Heard>> = OnceLock::new();
    HEARD.get_or_init(swing::heard)
}

#[test]
fn swung_notes_are_no_shorter_than_players_make_them() {
    swing::short_note(heard()).hold();
}

#[test]
fn swing_is_no_wider_than_players_make_it() {
    swing::ratio(heard()).hold();
}

#[test]
fn swing_is_heard_as_it_is_stated() {
    swing::as_stated(heard()).hold();
}
