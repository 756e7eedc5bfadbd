//! Wrong licks, each file named for its mistake, and what a player is told about them.

use std::fs;
use std::path::Path;

use openchair::backup::read_licks;
use openchair::text::{Problems, Source, report};
use proptest::prelude::*;

#[test]
fn each_says_where_and_what_and_what_instead() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/wrong_licks");
    let mut files: Vec<_> =
        fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.sort();
    assert!(files.len() >= 8);
    for path in files {
        let name = path.file_stem().unwrap().to_str().unwrap();
        let source =
            Source::new(format!("{name}.toml"), fs::read_to_string(&path).unwrap()).unwrap();
        let mut problems = Problems::new();
        let licks = read_licks(&source, &mut problems);
        assert!(licks.is_none() && !problems.is_empty(), "{name} is taken for sound");
        for problem in problems.in_order() {
            assert!(!problem.message.is_empty() && !problem.help.is_empty(), "{problem:?}");
        }
        insta::assert_snapshot!(name, report(&source, &problems, false));
    }
}

proptest! {
    /// Licks, or what is wrong with them: never both, never neither, whatever the text.
    #[test]
    fn no_text_does_harm(text in any::<String>(), tab in "[tims0-9:hp+.()!x| -]{0,40}", arrives in "[tim1-5:0-9]{0,6}") {
        let lick = format!(
            "[[lick]]\nname = 'a'\nfor = 'lead-in'\nchord = 'G'\nto = 'C'\ntab = '{tab}'\narrives = '{arrives}'\n"
        );
        for text in [text, lick] {
            let Ok(source) = Source::new("t.toml", text) else { continue };
            let mut problems = Problems::new();
            let licks = read_licks(&source, &mut problems);
            prop_assert_eq!(licks.is_none(), !problems.is_empty());
        }
    }
}
