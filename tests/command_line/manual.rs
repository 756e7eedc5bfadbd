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

/// All commands, as the program's help lists them.
fn commands() -> Vec<String> {
    let help = openchair(&["--help"]);
    let lines = help.lines().skip_while(|line| !line.starts_with("Commands:")).skip(1);
    let lines = lines.take_while(|line| !line.is_empty());
    // What a wide line goes on with stands further in.
    let names = lines.filter_map(|line| line.strip_prefix("  ")?.split(' ').next());
    names.filter(|name| !["", "help"].contains(name)).map(str::to_owned).collect()
}

#[test]
fn each_command_has_a_page_of_its_own() {
    let commands = commands();
    assert!(commands.len() > 15, "{commands:?}");
    for command in &commands {
        let page = words(&openchair(&["manual", command]));
        let title =
            format!(".TH openchair-{command} 1 \"openchair {}\"", env!("CARGO_PKG_VERSION"));
        assert!(page.contains(&title), "{page}");
        assert!(page.contains(&format!("openchair {command}")), "{page}");
        for option in openchair(&[command, "--help"]).split_whitespace() {
            let option = option.trim_end_matches([',', ';', '.']);
            assert!(!option.starts_with("--") || page.contains(option), "{command}: {option}");
        }
        assert_eq!(
            page.contains(".SH KEYS"),
            ["play", "drill"].contains(&command.as_str()),
            "{command}"
        );
        for heading in ["NAME", "SYNOPSIS", "OPTIONS", "EXIT STATUS", "SEE ALSO"] {
            assert!(
                page.contains(&format!(".SH {heading}"))
                    || page.contains(&format!(".SH \"{heading}\"")),
                "{page}"
            );
        }
    }
    let unknown =
        Command::new(env!("CARGO_BIN_EXE_openchair")).args(["manual", "juggle"]).output().unwrap();
    assert_eq!(unknown.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&unknown.stderr).contains("one of play, drill"), "{unknown:?}");
}

#[test]
fn no_line_is_taken_for_a_request_that_is_none() {
    let pages = std::iter::once(openchair(&["manual"]))
        .chain(commands().into_iter().map(|command| openchair(&["manual", &command])));
    for page in pages {
        for line in page.lines().filter(|line| line.starts_with(['.', '\''])) {
            let name = line.split_whitespace().next().unwrap();
            let known =
                [".TH", ".SH", ".SS", ".TP", ".PP", ".RS", ".RE", ".br", ".ie", ".el", ".IP"];
            assert!(known.contains(&name), "{line}");
        }
    }
}
