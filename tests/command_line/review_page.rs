//! The page of a review: sound, complete, and read on a phone.

use std::fs;
use std::path::Path;

use crate::common::browser;
use crate::common::reviews::{review, silent};
use openchair::page;
use quick_xml::Reader;
use quick_xml::events::Event;

/// Every element is closed, apart from those of the head that HTML never closes; every attribute has a
/// value. Gives the names of all elements, and what attributes point to.
fn well_formed(page: &str) -> (Vec<String>, Vec<String>) {
    let body = page.strip_prefix("<!DOCTYPE html>").expect("a doctype");
    let body: String = body.split_inclusive('>').filter(|tag| !tag.starts_with("<meta ")).collect();
    let mut reader = Reader::from_str(&body);
    reader.config_mut().check_end_names = true;
    let (mut names, mut targets) = (Vec::new(), Vec::new());
    loop {
        match reader.read_event().unwrap_or_else(|error| panic!("{error}")) {
            Event::Start(start) | Event::Empty(start) => {
                names.push(start.name().as_ref().to_owned());
                for attribute in start.attributes() {
                    let attribute = attribute.unwrap();
                    if matches!(attribute.key.as_ref(), "href" | "src") {
                        targets.push(attribute.value.into_owned());
                    }
                }
            }
            Event::Eof => return (names, targets),
            _ => {}
        }
    }
}

fn count(page: &str, what: &str) -> usize {
    page.matches(what).count()
}

#[test]
fn a_short_review_is_this_page() {
    let mut short = review(1);
    short.bars.truncate(2);
    short.hits.retain(|hit| hit.bar <= 2);
    let page = page::html(&short);
    let style = page.find("<style>").unwrap()..page.find("</style>").unwrap();
    let mut shown = page.clone();
    shown.replace_range(style, "<style>");
    insta::assert_snapshot!(shown.replace("><", ">\n<"));
}

#[test]
fn pages_are_well_formed_and_fetch_nothing() {
    for review in [review(1), review(16), silent()] {
        let page = page::html(&review);
        let (names, targets) = well_formed(&page);
        assert!(
            !names.iter().any(|name| ["script", "link", "img", "iframe"].contains(&name.as_str()))
        );
        assert!(targets.iter().all(|target| target.starts_with('#')), "{targets:?}");
        assert!(!page.contains("http") && !page.contains("url(") && !page.contains("@import"));
        for target in targets {
            assert_eq!(count(&page, &format!("id=\"{}\"", &target[1..])), 1, "{target}");
        }
        assert!(!page.contains("NaN") && !page.contains("inf%"));
        assert!(page.contains("Gander &amp; &lt;Lamp&gt;"), "what a song is called is text");
    }
}

#[test]
fn nothing_is_left_out() {
    let review = review(16);
    let page = page::html(&review);
    let uses = count(&page, "<use class=");
    let uses = uses + count(&page, "<use href=");
    // Each stroke in the plot of the song and in its bar; eight signs explain them.
    assert_eq!(uses, 2 * review.hits.len() + 8);
    assert_eq!(count(&page, "<li><p class=\"chords\">"), review.bars.len());
    assert_eq!(count(&page, "<h3>"), review.passes.len());
    for finding in &review.findings {
        assert!(page.contains(&finding.words), "{}", finding.words);
    }
    let advice = page.find("Work on this next").unwrap();
    assert!(advice < page.find("<h2>What went well").unwrap(), "the one thing comes first");
    assert!(page.contains("--loop 5-8 --speed 70"));
    let filled = count(&page, "<i class=\"filled\">");
    let covered: usize = review.bars.iter().map(|bar| bar.covered).sum();
    assert_eq!(filled, covered + 1, "and one in the key");
    // The histogram's table holds each stroke once.
    let table = &page[page.find("Strokes by how early").unwrap()..];
    let table = &table[..table.find("</table>").unwrap()];
    let numbers =
        table.split("<td>").filter_map(|cell| cell.split('<').next()?.parse::<usize>().ok());
    assert_eq!(numbers.sum::<usize>(), review.hits.len());
}

#[test]
fn wild_numbers_do_no_harm() {
    let mut wild = review(2);
    wild.tempo = f64::NAN;
    wild.whole.timing.mean = f64::INFINITY;
    wild.whole.timing.rushing = f64::NAN;
    wild.hits[0].late = f64::NAN;
    wild.hits[1].place = f64::NEG_INFINITY;
    wild.hits[2].bar = 9999;
    wild.meter = "no meter".to_owned();
    wild.bars[1].open = 100_000;
    well_formed(&page::html(&wild));
}

#[test]
fn nothing_is_wider_than_a_phone_or_a_screen() {
    // Left for looking at.
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR"));
    fs::write(folder.join("review_short.html"), page::html(&review(3))).unwrap();
    fs::write(folder.join("review_long.html"), page::html(&review(16))).unwrap();
    // Its last numbered bar is its last.
    let mut odd = review(15);
    odd.bars.truncate(113);
    for (review, width) in
        [(odd, 360), (review(16), 360), (review(16), 390), (review(1), 320), (review(16), 1280)]
    {
        let Some(wide) = browser::content_width("nothing_is_wider", &page::html(&review), width)
        else {
            return;
        };
        assert!(wide <= width, "{wide} pixels at a width of {width}");
    }
}
