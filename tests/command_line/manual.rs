//! The manual page says all that the program knows of itself.

use std::process::Command;

use openchair::live::BINDINGS;

fn openchair(arguments: &[&str]) -> String {
    let output = Command::new(env!("CARGO_BIN_EXE_openchair")).args(arguments).output().unwrap();
    assert!(output.status.success(), "{arguments:?}: {output:?}");
    String::from_utf8(output.stdout).unwrap()
}

/// The page's words, without what is only for the typesetter: `\-` is a hyphen that is not broken,
/// `\fB` and its like choose a face, `\&` keeps a line from being taken for a request (groff_man(7)).
fn words(page: &str) -> String {
    let mut page = page.replace("\\-", "-").replace("\\&", "").replace("\\*(Aq", "'");
    for face in ["\\fB", "\\fI", "\\fR"] {
        page = page.replace(face, "");
    }
    page.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn it_holds_every_option_and_every_key() {
    let page = words(&openchair(&["manual"]));
    assert!(page.contains(".TH openchair 1"), "{page}");
    for command in ["play", "drill", "export", "tab", "check", "learn", "ports", "manual"] {
        assert!(page.contains(&format!("openchair {command}")), "{command}");
        let help = openchair(&[command, "--help"]);
        for option in help.split_whitespace().filter(|word| word.starts_with("--")) {
            let option = option.trim_end_matches([',', ';', '.']);
            assert!(page.contains(option), "the manual says nothing of {option}");
        }
    }
    for binding in BINDINGS {
        let keys: Vec<String> = binding.keys.iter().map(|key| key.to_string()).collect();
        let told = format!("{} {} ({})", keys.join(" "), binding.says, binding.word);
        assert!(page.contains(&told.replace('\\', "\\e")), "the manual says nothing of {told}");
    }
}

#[test]
fn no_line_is_taken_for_a_request_that_is_none() {
    for line in openchair(&["manual"]).lines().filter(|line| line.starts_with(['.', '\''])) {
        let name = line.split_whitespace().next().unwrap();
        let known = [".TH", ".SH", ".SS", ".TP", ".PP", ".RS", ".RE", ".br", ".ie", ".el", ".IP"];
        assert!(known.contains(&name), "{line}");
    }
}
