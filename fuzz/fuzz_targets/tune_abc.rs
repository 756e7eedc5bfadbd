#![no_main]

use openchair::interchange::Format;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| doorways::tunes(Format::Abc, bytes));
