//! Scores read.

use super::bars::bars;
use super::element::Element;
use crate::chart::Lead;
use crate::interchange::tune::{OwnWords, TimeSignature, Tune};
use crate::interchange::{Remarks, Tunes, one_line};
use crate::text::Source;
use crate::theory::{Key, Letter, Mode, PitchName};

/// Reads a score by its parts. `part` is the name or the id of the part that is the tune; without it, it is the first
/// that has notes.
///
/// A score that can't be read is among the strays, with why.
pub fn read_musicxml(source: &Source, part: Option<&str>) -> Tunes {
    let mut tunes = Tunes::default();
    tunes.add(Some(score(source, part)));
    tunes
}

fn score(source: &Source, wanted: Option<&str>) -> Result<Tune, (usize, String)> {
    let root = Element::read(&source.text)?;
    match root.name.as_str() {
        "score-partwise" => {}
        "score-timewise" => {
            return Err((
                root.at,
                "it is a score by bars (score-timewise); save it by parts".to_owned(),
            ));
        }
        other => return Err((root.at, format!("`{}` is no score in MusicXML", one_line(other)))),
    }
    let mut remarks = Remarks::default();
    let part = chosen(&root, wanted, &mut remarks)?;
    let read = bars(part, &mut remarks)?;
    if read.measures.is_empty() {
        return Err((part.at, "the part has no bars".to_owned()));
    }
    let title = root
        .child("work")
        .and_then(|work| work.word("work-title"))
        .or_else(|| root.word("movement-title"))
        .or_else(|| credit(&root))
        .map(one_line)
        .filter(|title| !title.is_empty());
    if title.is_none() {
        remarks.add("it has no title", root.at, None);
    }
    let identification = root.child("identification");
    let creators = identification.into_iter().flat_map(|it| it.all("creator"));
    let composers: Vec<String> = creators
        .filter(|creator| creator.attribute("type").is_none_or(|kind| kind == "composer"))
        .map(|creator| one_line(&creator.text))
        .filter(|name| !name.is_empty())
        .collect();
    let miscellaneous = identification.and_then(|it| it.child("miscellaneous"));
    let own = miscellaneous.and_then(own);
    let source = identification.and_then(|it| it.word("source"));
    let source = source.map(|from| format!("Source: {}.", one_line(from)));
    let fields = miscellaneous.into_iter().flat_map(|it| it.all("miscellaneous-field"));
    let said = fields.filter(|field| field.attribute("name") == Some("openchair-note"));
    let notes = source.into_iter().chain(said.map(|field| one_line(&field.text))).collect();
    Ok(Tune {
        number: 1,
        at: root.at,
        title: title.unwrap_or_else(|| "Tune 1".to_owned()),
        composer: (!composers.is_empty()).then(|| composers.join(", ")),
        notes,
        rhythm: None,
        key: read.key.unwrap_or(C_MAJOR),
        time: own
            .as_ref()
            .and_then(|own| own.meter)
            .or(read.time)
            .unwrap_or(TimeSignature { free: true, ..TimeSignature::COMMON }),
        tempo: read.tempo,
        measures: read.measures,
        order: Vec::new(),
        sung: read.sung,
        own,
        remarks,
    })
}

const C_MAJOR: Key = Key { tonic: PitchName::new(Letter::C, 0), mode: Mode::Major };

/// The title where it stands only as print on the page.
fn credit(root: &Element) -> Option<&str> {
    let is_title = |credit: &&Element| credit.word("credit-type") == Some("title");
    root.all("credit").find(is_title)?.word("credit-words")
}

fn chosen<'a>(
    root: &'a Element,
    wanted: Option<&str>,
    remarks: &mut Remarks,
) -> Result<&'a Element, (usize, String)> {
    let listed: Vec<&Element> =
        root.child("part-list").into_iter().flat_map(|list| list.all("score-part")).collect();
    let name = |id: &str| {
        let of_id = listed.iter().find(|part| part.attribute("id") == Some(id));
        of_id.and_then(|part| part.word("part-name")).unwrap_or_default()
    };
    let parts: Vec<&Element> = root.all("part").collect();
    let id = |part: &Element| part.attribute("id").unwrap_or_default().to_owned();
    let found = match wanted {
        Some(wanted) => {
            let is_it = |part: &&&Element| {
                id(part) == wanted || name(&id(part)).eq_ignore_ascii_case(wanted)
            };
            let known = || -> String {
                let names: Vec<String> =
                    parts.iter().map(|part| one_line(name(&id(part)))).collect();
                format!("it has no part {wanted}; it has {}", names.join(", "))
            };
            parts.iter().find(is_it).ok_or_else(|| (root.at, known()))?
        }
        None => {
            let has_notes = |part: &&&Element| {
                part.all("measure").any(|bar| bar.all("note").any(|note| note.has("pitch")))
            };
            let first = parts.iter().find(has_notes).or_else(|| parts.first());
            first.ok_or_else(|| (root.at, "the score has no part".to_owned()))?
        }
    };
    if parts.len() > 1 {
        let words = format!("{} more parts are left out; --voice takes another", parts.len() - 1);
        remarks.add(words, root.at, None);
    }
    Ok(found)
}

/// What this program wrote beside the score.
fn own(miscellaneous: &Element) -> Option<OwnWords> {
    let mut own = OwnWords::default();
    for field in miscellaneous.all("miscellaneous-field") {
        let text = field.text.trim();
        match field.attribute("name") {
            Some("openchair-style") => own.style = Some(one_line(text)),
            Some("openchair-meter") => {
                let numbers = text.split_once('/');
                own.meter = numbers.and_then(|(beats, unit)| {
                    let (beats, unit) = (beats.parse().ok()?, unit.parse().ok()?);
                    let sound =
                        (1..=64).contains(&beats) && u32::is_power_of_two(unit) && unit <= 64;
                    sound.then(|| TimeSignature::new(beats, unit))
                });
            }
            Some(name @ ("openchair-kickoff" | "openchair-ending")) => {
                own.around(name.trim_start_matches("openchair-"), text);
            }
            Some("openchair-section") => {
                if let Some((label, name)) = text.split_once(' ') {
                    own.sections.push((label.to_owned(), one_line(name)));
                }
            }
            Some("openchair-pass") => {
                let (name, lead) = text.split_once(" : ").unwrap_or((text, ""));
                own.form.push((one_line(name), Lead::parse(lead.trim())));
            }
            _ => {}
        }
    }
    (own != OwnWords::default()).then_some(own)
}
