/// How wide a line of prose is at most where nothing else is asked for, in letters.
pub const WIDE: usize = 80;

/// Adds words in lines of at most `wide` letters, each so far in.
pub fn paragraph(out: &mut String, indent: usize, wide: usize, words: &str) {
    let mut width = 0;
    for word in words.split_whitespace() {
        let length = word.chars().count();
        if width > 0 && width + 1 + length > wide {
            out.push('\n');
            width = 0;
        }
        if width == 0 {
            out.extend(std::iter::repeat_n(' ', indent));
            width = indent;
        } else {
            out.push(' ');
            width += 1;
        }
        out.push_str(word);
        width += length;
    }
    out.push('\n');
}
