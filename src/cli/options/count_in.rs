/// More bars of clicks than anyone waits for.
const MOST: u32 = 16;

/// A number of bars of clicks, or what to write.
pub(in crate::cli) fn count_in(text: &str) -> Result<u32, String> {
    let bars = text.trim().parse().ok().filter(|bars| *bars <= MOST);
    bars.ok_or_else(|| format!("write a number of bars from 0 to {MOST}"))
}
