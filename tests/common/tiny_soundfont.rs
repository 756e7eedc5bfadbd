//! A soundfont of one sine wave, written byte by byte.
#![allow(dead_code)]

fn chunk(name: &[u8; 4], contents: &[u8]) -> Vec<u8> {
    let mut out = name.to_vec();
    out.extend((contents.len() as u32).to_le_bytes());
    out.extend(contents);
    out
}

fn list(name: &[u8; 4], chunks: &[Vec<u8>]) -> Vec<u8> {
    let mut contents = name.to_vec();
    contents.extend(chunks.concat());
    chunk(b"LIST", &contents)
}

fn name(text: &str) -> Vec<u8> {
    let mut out = text.as_bytes().to_vec();
    out.resize(20, 0);
    out
}

fn words(numbers: &[u16]) -> Vec<u8> {
    numbers.iter().flat_map(|number| number.to_le_bytes()).collect()
}

fn longs(numbers: &[u32]) -> Vec<u8> {
    numbers.iter().flat_map(|number| number.to_le_bytes()).collect()
}

/// One preset, one instrument, one looped sample: A4 (440 Hz would be 100 frames at 44 kHz).
pub fn tiny_soundfont() -> Vec<u8> {
    const FRAMES: u32 = 4_400;
    let wave: Vec<u8> = (0..FRAMES + 46)
        .flat_map(|n| {
            let turn = f64::from(n % FRAMES) / 100.0 * std::f64::consts::TAU;
            let sample = if n < FRAMES { (20_000.0 * turn.cos()) as i16 } else { 0 };
            sample.to_le_bytes()
        })
        .collect();
    let info = list(
        b"INFO",
        &[
            chunk(b"ifil", &words(&[2, 1])),
            chunk(b"isng", b"EMU8000\0"),
            chunk(b"INAM", b"One wave"),
        ],
    );
    let sound = list(b"sdta", &[chunk(b"smpl", &wave)]);
    let preset = |text, zone| [name(text), words(&[0, 0, zone]), longs(&[0, 0, 0])].concat();
    let instrument = |text, zone| [name(text), words(&[zone])].concat();
    let sample =
        [name("wave"), longs(&[0, FRAMES, 0, FRAMES, 44_000]), vec![69, 0], words(&[0, 1])]
            .concat();
    let end = [name("EOS"), vec![0; 26]].concat();
    // Generators: 41 is the instrument, 54 the loop, 53 the sample.
    let lists = list(
        b"pdta",
        &[
            chunk(b"phdr", &[preset("One", 0), preset("EOP", 1)].concat()),
            chunk(b"pbag", &words(&[0, 0, 1, 0])),
            chunk(b"pmod", &[0; 10]),
            chunk(b"pgen", &words(&[41, 0, 0, 0])),
            chunk(b"inst", &[instrument("One", 0), instrument("EOI", 1)].concat()),
            chunk(b"ibag", &words(&[0, 0, 2, 0])),
            chunk(b"imod", &[0; 10]),
            chunk(b"igen", &words(&[54, 1, 53, 0, 0, 0])),
            chunk(b"shdr", &[sample, end].concat()),
        ],
    );
    let mut whole = b"sfbk".to_vec();
    whole.extend([info, sound, lists].concat());
    chunk(b"RIFF", &whole)
}
