//! Backing styles: the patterns of every role for one kind of groove, as data.
//!
//! A style is one TOML file in `backing-styles/`. Its name is the word that songs call it by, and a new
//! file there is a new groove: nothing else is needed. The smallest useful one:
//!
//! ```
//! # let text = r#"
//! about  = "Bass on one and three, chop on two and four"
//! meters = ["4/4", "2/2"]
//!
//! [[bass.bar]]
//! bar = "R . 5 ."
//!
//! [[chop.bar]]
//! bar = "- x - x"
//! # "#;
//! # use openchair::{style::read_style, text::{Problems, Source}};
//! # let source = Source::new("small.toml", text)?;
//! # assert!(read_style("small", &source, &mut Problems::new()).is_some());
//! # Ok::<(), openchair::text::TooLarge>(())
//! ```
//!
//! # A bar
//!
//! A bar is a row of slots with spaces between them. The slots share the bar equally, so in 4/4 four
//! slots are quarters, eight are eighths, sixteen are sixteenths. Whole beats, halves, thirds and
//! quarters of a beat and so on will do, down to a 32nd; any other count is taken for a slip.
//! A `|` may stand between beats to help the eye.
//!
//! | write | say | and it means |
//! | --- | --- | --- |
//! | `R` | root | the chord's root, or the bass note that the chart writes under a slash |
//! | `3` `5` `6` `7` | third, fifth, ... | that degree of the chord, where the role would play it |
//! | `8` | octave | the root an octave up |
//! | `5^` `5v` | high five, low five | an octave above or below where it would be |
//! | `>` | walk | a step on the way into the next chord's root, arriving on its first beat |
//! | `D` `U` | down, up | a stroke over the upper strings |
//! | `x` | chop | a down-stroke choked at once |
//! | `R+D` | root and down | a bass note and a stroke together |
//! | `(U)` | ghost up | soft, felt more than heard |
//! | `x!` | chop, loud | an accent |
//! | `.` | ring | whatever sounds rings on through this slot |
//! | `-` | off | silence: what sounds is damped |
//!
//! `"R . D (U) 5 . D! ."` is said "root, ring, down, ghost up, five, ring, down loud, ring". The bass
//! has bass notes only, the chop strokes only, the guitar both.
//!
//! # Which bar is played
//!
//! Each role has its bars under headings `[[bass.bar]]`, `[[chop.bar]]` and `[[guitar.bar]]`:
//!
//! | key | meaning | if left out |
//! | --- | --- | --- |
//! | `bar` | the slots | must be there |
//! | `when` | conditions joined by `and`, each with `not` before it if need be | fits every bar |
//! | `chance` | how often it is played when its turn comes, 0 to 1 | 1, always |
//! | `meter` | the one meter it is for | the style's first, and 2/2 with 4/4 |
//!
//! The first bar from the top whose `when` holds is played, so write the particular before the general.
//! If its `chance` does not come up, the next that holds has its turn. Bars with the very same `when`
//! are a group and take turns, bar by bar from the start of each line. The last resort is the plain bar,
//! with no `when` and no `chance`: every role needs one for every meter of the style. In a bar of a meter
//! that the style does not have, a crooked tune's, the plain meter's bar is cut short.
//!
//! | condition | holds in a bar |
//! | --- | --- |
//! | `change next` | after which the chord changes; only such a bar may walk |
//! | `new chord` | that begins with a new chord |
//! | `split bar` | within which the chord changes |
//! | `crooked bar` | whose meter is not the song's |
//! | `phrase start`, `phrase end` | that begins or ends a line of the chart |
//! | `first bar`, `last bar` | that begins or ends a pass through a section |
//! | `break` | where an instrument leads |
//! | `singer sings`, `singer pauses` | where the voice leads, and sings or rests |
//!
//! Two walks at once get in each other's way: let the bass walk on `change next and not phrase end` and
//! the guitar on `phrase end and change next`, or the other way about.
//!
//! # The rest of the file
//!
//! | key | meaning | range | if left out |
//! | --- | --- | --- | --- |
//! | `about` | what it is good for, in a line | | must be there |
//! | `meters` | what it plays: `"4/4"`, `"2/2"`, `"2/4"`, `"3/4"`, `"6/8"` | | must be there |
//! | `tempo` | beats a minute where it feels right, `[slowest, fastest]`; advice | 10 to 400 | any |
//! | `swing` under `[feel]` | points `[quarter notes a minute, share of a quarter taken by its first eighth]`, joined by straight lines | share 0.5 to 0.75 | even |
//!
//! Under `[bass]`, `[chop]` and `[guitar]`, all of it optional:
//!
//! | key | meaning | range | bass | chop | guitar |
//! | --- | --- | --- | --- | --- | --- |
//! | `program` | General MIDI sound | 1 to 128 | 33 | 26 | 26 |
//! | `volume` | General MIDI volume | 0 to 127 | 104 | 84 | 92 |
//! | `pan` | 0 left, 64 middle, 127 right | 0 to 127 | 64 | 84 | 46 |
//! | `lean` | milliseconds behind the beat; ahead of it below 0 | -40 to 40 | 0 | 0 | 0 |
//! | `looseness` | the furthest a hit may stray from its place, ms | 0 to 30 | 8 | 8 | 8 |
//! | `length` | the share of its written length that a note sounds | 0.05 to 1 | 0.92 | 1 | 0.95 |
//! | `spread` | ms from the first string of a stroke to the last | 0 to 80 | | 8 | 18 |
//! | `clip` | the longest that anything sounds, ms | 20 to 2000 | | 90 | no limit |
//! | `down_strings` | how many of the upper strings a down-stroke takes | 2 to 6 | | whole shape | 4 |
//! | `up_strings` | how many an up-stroke takes | 2 to 6 | | 3 | 3 |
//!
//! `loudness` is a table of velocities:
//!
//! | key | meaning | range | bass | chop | guitar |
//! | --- | --- | --- | --- | --- | --- |
//! | `ghost` | in brackets | 1 to 127 | 52 | 40 | 48 |
//! | `normal` | plain | 1 to 127 | 90 | 84 | 82 |
//! | `accent` | with `!` | 1 to 127 | 104 | 100 | 98 |
//! | `vary` | the furthest a velocity may stray | 0 to 40 | 6 | 6 | 6 |
//! | `up` | an up-stroke's share of a down-stroke's velocity | 0.1 to 1 | | 0.8 | 0.8 |
//!
//! Listeners like players together: keep the `lean`s of two roles and their `looseness` under 19 ms in
//! sum ("The Tight-interlocked Rhythm Section", J. New Music Res. 46(4) 2017, 329-341). A swung short
//! eighth wants about 100 ms at least (Friberg & Sundström 2002, Music Perception 19(3) 333-349), so
//! swing goes to even as the tempo rises.

mod backing_style;
mod bar_text;
mod condition;
mod feel;
mod instrument;
mod numbers;
mod pattern;
mod read_bars;
mod read_part;
mod read_style;
mod role_style;
mod slot_word;
mod when;

pub use backing_style::Style;
pub use condition::{BarFacts, Condition, Term};
pub use feel::Feel;
pub use instrument::Instrument;
pub use pattern::{BassNote, Degree, Loud, Pattern, Slot, Strike, Stroke};
pub use read_style::read_style;
pub use role_style::{Loudness, RoleStyle};
