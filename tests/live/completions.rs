//! What shells offer at Tab: a real bash and a real zsh in a terminal. Skipped where tmux, JACK or zsh is missing.

use std::process::Command;

use crate::common::name::name_of;
use crate::common::skip::skipped;
use crate::common::tmux::Pane;
use crate::playing::jack::{Listener, is_inside, with_server_beside_others};

/// A line that is begun, and how it stands after Tab.
const LINES: &[(&str, &str)] = &[
    ("openchair dri", "openchair drill"),
    ("openchair play lant", "openchair play lantern-on-the-landing"),
    ("openchair play songs/lant", "openchair play songs/lantern-on-the-landing.toml"),
    ("openchair play lantern-on-the-landing --loop cho", "--loop chorus"),
    ("openchair play lantern-on-the-landing --sit-out chop@v", "--sit-out chop@verse"),
    ("openchair tab lantern-on-the-landing --style old", "--style old-time"),
    ("openchair play lantern-on-the-landing --band bass,gui", "--band bass,guitar"),
    ("openchair drill lantern-on-the-landing --change Em:", "--change Em:A7"),
    ("openchair play lantern-on-the-landing --port liste", "--port listener"),
];

fn complete(test: &str, shell: &str, begin: &str) {
    if !is_inside(test) {
        return with_server_beside_others(test, 256);
    }
    let _listener = Listener::new("listener");
    let folder = std::path::Path::new(env!("CARGO_BIN_EXE_openchair")).parent().unwrap();
    let start = format!(
        "cd '{}'; export PATH='{}':$PATH; exec {shell}",
        env!("CARGO_MANIFEST_DIR"),
        folder.display()
    );
    let Some(pane) = Pane::run(test, 120, 30, &start) else { return };
    pane.keys(&[begin, "Enter"]);
    for (begun, whole) in LINES {
        pane.keys(&["clear", "Enter"]);
        pane.until("an empty screen", |seen| !seen.contains("openchair"));
        pane.keys(&[begun, "Tab"]);
        pane.until(whole, |seen| seen.contains(whole));
        // Away with the line.
        pane.keys(&["C-u"]);
    }
}

#[test]
fn bash_offers_what_there_is() {
    let begin = "PS1='$ '; source <(openchair completions bash)";
    complete(name_of(bash_offers_what_there_is), "bash --norc --noprofile -i", begin);
}

#[test]
fn zsh_offers_what_there_is() {
    let test = name_of(zsh_offers_what_there_is);
    if Command::new("zsh").arg("--version").output().is_err() {
        return skipped(test, "zsh is not installed");
    }
    let begin = "PS1='$ '; autoload -U compinit; compinit -D; source <(openchair completions zsh)";
    complete(test, "zsh -f -i", begin);
}
