use std::collections::BTreeMap;
use std::io::{self, Write};

use flate2::Compression;
use flate2::write::ZlibEncoder;
use pdf_writer::types::{CidFontType, FontFlags, SystemInfo, TextRenderingMode, UnicodeCmap};
use pdf_writer::{Content, Filter, Finish, Name, Pdf, Rect, Ref, Str, TextStr};

use super::font::{FILES, Faces};
use super::{Anchor, Mark, Page, Run};

/// The type in both weights: what a page calls it, and its name.
const TYPE: [(&[u8], &[u8]); 2] =
    [(b"R", b"DejaVuSansCondensed"), (b"B", b"DejaVuSansCondensed-Bold")];
/// How dark what is softer is, 0 being black.
const GREY: f32 = 0.33;

/// Which glyphs stand on the pages, and for what letter.
type Used = [BTreeMap<u16, char>; 2];

/// Pages as a PDF, with its type inside. The same pages give the same bytes.
///
/// # Errors
/// None that memory does not give.
pub fn pdf(title: &str, pages: &[Page]) -> io::Result<Vec<u8>> {
    let faces = Faces::new();
    let mut next = 1..;
    let mut take = || Ref::new(next.next().unwrap_or(1));
    let (catalog, tree, info) = (take(), take(), take());
    let mut pdf = Pdf::new();
    pdf.catalog(catalog).pages(tree).lang(TextStr("en"));
    let mut about = pdf.document_info(info);
    about.title(TextStr(title)).creator(TextStr("openchair")).producer(TextStr("openchair"));
    about.finish();
    let places: Vec<(Ref, Ref)> = pages.iter().map(|_| (take(), take())).collect();
    pdf.pages(tree)
        .kids(places.iter().map(|(page, _)| *page))
        .count(i32::try_from(pages.len()).unwrap_or(i32::MAX));
    let types = [take(), take()];
    let mut used: Used = [BTreeMap::new(), BTreeMap::new()];
    for (page, (at, content)) in pages.iter().zip(&places) {
        let drawn = packed(&drawn(page, &faces, &mut used))?;
        pdf.stream(*content, &drawn).filter(Filter::FlateDecode);
        let mut written = pdf.page(*at);
        written
            .parent(tree)
            .media_box(Rect::new(0.0, 0.0, page.width as f32, page.height as f32))
            .contents(*content);
        let mut resources = written.resources();
        let mut named = resources.fonts();
        for ((name, _), at) in TYPE.iter().zip(types) {
            named.pair(Name(name), at);
        }
    }
    for ((bold, at), used) in [false, true].into_iter().zip(types).zip(&used) {
        let rest = [take(), take(), take(), take()];
        embed(&mut pdf, &faces, bold, at, rest, used)?;
    }
    Ok(pdf.finish())
}

fn packed(bytes: &[u8]) -> io::Result<Vec<u8>> {
    let mut out = ZlibEncoder::new(Vec::new(), Compression::best());
    out.write_all(bytes)?;
    out.finish()
}

/// What draws a page. PDF counts from the lower left corner.
fn drawn(page: &Page, faces: &Faces, used: &mut Used) -> Vec<u8> {
    let up = |y: f64| (page.height - y) as f32;
    let mut content = Content::new();
    for mark in &page.marks {
        match mark {
            Mark::Text { x, y, anchor, width, runs, kind } => {
                let left = match anchor {
                    Anchor::Start => *x,
                    Anchor::Middle => x - width / 2.0,
                    Anchor::End => x - width,
                };
                content.set_fill_gray(if kind.is_grey() { GREY } else { 0.0 });
                words(&mut content, (left as f32, up(*y)), runs, faces, used);
            }
            Mark::Line { from, to, thick, is_grey } => {
                content.set_stroke_gray(if *is_grey { GREY } else { 0.0 });
                content.set_line_width(*thick as f32);
                content.move_to(from.0 as f32, up(from.1));
                content.line_to(to.0 as f32, up(to.1));
                content.stroke();
            }
            Mark::Dot { at, radius } => {
                content.set_fill_gray(0.0);
                dot(&mut content, (at.0 as f32, up(at.1)), *radius as f32);
            }
        }
    }
    content.finish().to_vec()
}

/// Pieces of words on one line. A reader that copies them gets them without a break, whatever is raised.
fn words(content: &mut Content, at: (f32, f32), runs: &[Run], faces: &Faces, used: &mut Used) {
    let said: String = runs.iter().map(|run| run.words.as_str()).collect();
    let is_in_pieces = runs.len() > 1;
    if is_in_pieces {
        let mut marked = content.begin_marked_content_with_properties(Name(b"Span"));
        marked.properties().actual_text(TextStr(&said));
    }
    content.begin_text();
    content.next_line(at.0, at.1);
    for run in runs {
        let (name, _) = TYPE[usize::from(run.bold)];
        content.set_font(Name(name), run.size as f32);
        content.set_rise(run.rise as f32);
        if run.outline > 0.0 {
            content.set_text_rendering_mode(TextRenderingMode::FillStroke);
            content.set_stroke_gray(0.0);
            content.set_line_width(run.outline as f32);
        } else {
            content.set_text_rendering_mode(TextRenderingMode::Fill);
        }
        let mut glyphs = Vec::with_capacity(2 * run.words.len());
        for letter in run.words.chars() {
            let glyph = faces.glyph(letter, run.bold);
            used[usize::from(run.bold)].entry(glyph).or_insert(letter);
            glyphs.extend(glyph.to_be_bytes());
        }
        content.show(Str(&glyphs));
    }
    content.set_rise(0.0);
    content.end_text();
    if is_in_pieces {
        content.end_marked_content();
    }
}

/// A circle of four curves.
fn dot(content: &mut Content, (x, y): (f32, f32), radius: f32) {
    /// How far a curve's handles lie off for a quarter of a circle: 4 (√2 − 1) / 3.
    const HANDLE: f32 = 0.552_284_8;
    let (r, h) = (radius, radius * HANDLE);
    content.move_to(x + r, y);
    content.cubic_to(x + r, y + h, x + h, y + r, x, y + r);
    content.cubic_to(x - h, y + r, x - r, y + h, x - r, y);
    content.cubic_to(x - r, y - h, x - h, y - r, x, y - r);
    content.cubic_to(x + h, y - r, x + r, y - h, x + r, y);
    content.fill_nonzero();
}

/// Puts a weight of the type into the file.
fn embed(
    pdf: &mut Pdf,
    faces: &Faces,
    bold: bool,
    at: Ref,
    [cid, descriptor, letters, file]: [Ref; 4],
    used: &BTreeMap<u16, char>,
) -> io::Result<()> {
    const SYSTEM: SystemInfo<'_> =
        SystemInfo { registry: Str(b"Adobe"), ordering: Str(b"Identity"), supplement: 0 };
    let (_, name) = TYPE[usize::from(bold)];
    pdf.type0_font(at)
        .base_font(Name(name))
        .encoding_predefined(Name(b"Identity-H"))
        .descendant_font(cid)
        .to_unicode(letters);
    let mut font = pdf.cid_font(cid);
    font.subtype(CidFontType::Type2).base_font(Name(name)).system_info(SYSTEM);
    font.font_descriptor(descriptor).cid_to_gid_map_predefined(Name(b"Identity"));
    let mut widths = font.widths();
    for &glyph in used.keys() {
        widths.consecutive(glyph, [faces.glyph_width(glyph, bold) as f32]);
    }
    widths.finish();
    font.finish();
    let per_mille = |units: i16, per_em: u16| f32::from(units) * 1000.0 / f32::from(per_em.max(1));
    if let Some(face) = faces.face(bold) {
        let (bounds, per_em) = (face.global_bounding_box(), face.units_per_em());
        let to = |units| per_mille(units, per_em);
        pdf.font_descriptor(descriptor)
            .name(Name(name))
            .flags(FontFlags::SYMBOLIC)
            .bbox(Rect::new(to(bounds.x_min), to(bounds.y_min), to(bounds.x_max), to(bounds.y_max)))
            .italic_angle(0.0)
            .ascent(to(face.ascender()))
            .descent(to(face.descender()))
            .cap_height(to(face.capital_height().unwrap_or_else(|| face.ascender())))
            .stem_v(if bold { 160.0 } else { 85.0 })
            .font_file2(file);
    }
    let mut map = UnicodeCmap::new(Name(b"Letters"), SYSTEM);
    for (&glyph, &letter) in used {
        map.pair(glyph, letter);
    }
    let map = packed(&map.finish())?;
    pdf.stream(letters, &map).filter(Filter::FlateDecode);
    let bytes = FILES[usize::from(bold)];
    let drawn = packed(bytes)?;
    let length = i32::try_from(bytes.len()).unwrap_or(i32::MAX);
    pdf.stream(file, &drawn).filter(Filter::FlateDecode).pair(Name(b"Length1"), length);
    Ok(())
}
