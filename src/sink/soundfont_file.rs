/// What is wrong with the bytes of a soundfont, or nothing, as far as its frame goes: every chunk lies
/// within the one around it, and every list's numbers lead into the next list and never backward.
///
/// The layout is that of the "SoundFont Technical Specification" 2.04, chapters 3 to 7 (from memory).
/// A file that passes may still be refused by the reader; one that does not would lead it astray.
pub(super) fn fault(bytes: &[u8]) -> Option<&'static str> {
    look(bytes).err()
}

fn look(bytes: &[u8]) -> Result<(), &'static str> {
    if bytes.get(..4) != Some(b"RIFF") || bytes.get(8..12) != Some(b"sfbk") {
        return Err("it does not begin as a soundfont does (RIFF … sfbk)");
    }
    let (_, whole, _) = chunk(bytes)?;
    let mut lists = None;
    let mut rest = whole.get(4..).unwrap_or_default();
    while !rest.is_empty() {
        let (_, list, after) = chunk(rest)?;
        rest = after;
        let kind = list.get(..4);
        let mut inner = list.get(4..).unwrap_or_default();
        if kind == Some(b"pdta") {
            lists = Some(inner);
        }
        while !inner.is_empty() {
            (_, _, inner) = chunk(inner)?;
        }
    }
    Lists::read(lists.ok_or("it lists no sounds (no pdta chunk)")?)?.lead_forward()
}

/// A chunk's name and contents, and what comes after it.
type Chunk<'a> = ([u8; 4], &'a [u8], &'a [u8]);

/// The first chunk.
fn chunk(bytes: &[u8]) -> Result<Chunk<'_>, &'static str> {
    const CUT: &str = "it is cut off, or a part of it claims to be longer than the file";
    let (head, rest) = bytes.split_first_chunk::<8>().ok_or(CUT)?;
    let [a, b, c, d, size @ ..] = *head;
    let size = usize::try_from(u32::from_le_bytes(size)).map_err(|_| CUT)?;
    let (contents, after) = rest.split_at_checked(size).ok_or(CUT)?;
    Ok(([a, b, c, d], contents, after))
}

/// The lists by which presets lead to zones, zones to generators and instruments.
#[derive(Default)]
struct Lists<'a> {
    presets: &'a [u8],
    preset_zones: &'a [u8],
    preset_generators: &'a [u8],
    instruments: &'a [u8],
    instrument_zones: &'a [u8],
    instrument_generators: &'a [u8],
}

impl<'a> Lists<'a> {
    fn read(mut rest: &'a [u8]) -> Result<Self, &'static str> {
        let mut lists = Self::default();
        while !rest.is_empty() {
            let (name, contents, after) = chunk(rest)?;
            rest = after;
            match &name {
                b"phdr" => lists.presets = contents,
                b"pbag" => lists.preset_zones = contents,
                b"pgen" => lists.preset_generators = contents,
                b"inst" => lists.instruments = contents,
                b"ibag" => lists.instrument_zones = contents,
                b"igen" => lists.instrument_generators = contents,
                _ => {}
            }
        }
        Ok(lists)
    }

    fn lead_forward(&self) -> Result<(), &'static str> {
        // Sizes of a record, and where in it the number of the next list's record stands.
        leads(self.presets, 38, 24, self.preset_zones.len() / 4)?;
        leads(self.preset_zones, 4, 0, self.preset_generators.len() / 4)?;
        leads(self.instruments, 22, 20, self.instrument_zones.len() / 4)?;
        leads(self.instrument_zones, 4, 0, self.instrument_generators.len() / 4)
    }
}

/// Every record's number is at least the one before it and below `count`, the number of records led
/// to, of which the last only marks the end. A list may be empty but for that mark.
fn leads(list: &[u8], size: usize, at: usize, count: usize) -> Result<(), &'static str> {
    const ASTRAY: &str = "its lists of sounds are damaged";
    let mut last = 0;
    if list.len() < size || !list.len().is_multiple_of(size) {
        return Err(ASTRAY);
    }
    for record in list.chunks_exact(size) {
        let number = match record.get(at..at + 2) {
            Some(&[low, high]) => usize::from(u16::from_le_bytes([low, high])),
            _ => return Err(ASTRAY),
        };
        if number < last || number > count.saturating_sub(1) {
            return Err(ASTRAY);
        }
        last = number;
    }
    Ok(())
}
