use super::book::Entry;
use super::letters::in_letters;
use super::scripts::{EAR_WORKER, PAGE, SOUND_WORKER, STAND_WORKER, joined};
use crate::cli::failure::Failure;

/// The band as it was built for a browser: `make web` does. It is in the program, so that nobody needs the tools for
/// it; packed, as `web/page/unpack.js` unpacks it.
const ENGINE: &[u8] = include_bytes!("../../../web/band.wasm.lzma");

const TEMPLATE: &str = include_str!("../../../web/page/page.html");
const LOOK: &str = include_str!("../../../web/page/page.css");
const FEEDER: &str = include_str!("../../../web/page/feeder.js");
const RECORDER: &str = include_str!("../../../web/page/recorder.js");

/// The page with those songs, and with the sheet of a lesson if they are one's.
pub(super) fn document(songs: &[Entry], sheet: Option<&str>) -> Result<String, Failure> {
    let book = serde_json::json!({ "songs": songs }).to_string();
    let fill = [
        ("/*STYLE*/", LOOK.to_owned()),
        ("/*ENGINE*/", in_letters(ENGINE)),
        ("/*SOUND-WORKER*/", joined(SOUND_WORKER)),
        ("/*STAND-WORKER*/", joined(STAND_WORKER)),
        ("/*EAR-WORKER*/", joined(EAR_WORKER)),
        ("/*FEEDER*/", FEEDER.to_owned()),
        ("/*RECORDER*/", RECORDER.to_owned()),
        ("/*PAGE*/", joined(PAGE)),
        ("/*SONGS*/", inert(&book)),
        ("<!--SHEET-->", sheet.unwrap_or_default().to_owned()),
    ];
    let mut page = String::with_capacity(1 << 20);
    let mut rest = TEMPLATE;
    while let Some((at, (mark, text))) =
        fill.iter().filter_map(|part| Some((rest.find(part.0)?, part))).min_by_key(|(at, _)| *at)
    {
        let (before, after) = rest.split_at(at);
        page.push_str(before);
        page.push_str(text);
        rest = after.strip_prefix(mark).unwrap_or(after);
    }
    page.push_str(rest);
    Ok(page)
}

/// JSON that ends no script and begins no comment, whatever a song says: in JSON these signs stand in strings alone,
/// where they may be written so.
fn inert(json: &str) -> String {
    json.replace('<', "\\u003c").replace('\u{2028}', "\\u2028").replace('\u{2029}', "\\u2029")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_song_ends_the_script_it_stands_in() {
        let odd = "\"</script><!-- <script>\u{2028}\"";
        assert!(!inert(odd).contains('<'));
        let read: String = serde_json::from_str(&inert(odd)).unwrap();
        assert_eq!(read, serde_json::from_str::<String>(odd).unwrap());
    }

    #[test]
    fn every_place_of_the_template_is_filled() {
        let page = document(&[], None).unwrap_or_default();
        for mark in [
            "/*STYLE*/",
            "/*ENGINE*/",
            "/*PAGE*/",
            "/*SONGS*/",
            "/*FEEDER*/",
            "/*RECORDER*/",
            "-WORKER*/",
        ] {
            assert!(TEMPLATE.contains(mark) && !page.contains(mark), "{mark}");
        }
        // Eight scripts, and none ends early.
        assert_eq!(page.matches("</script>").count(), 8);
        assert_eq!(page.matches("<script").count(), 8);
    }
}
