/// The most that a recording can be delayed, in milliseconds, in either direction.
const MOST: f64 = 2000.0;

/// A delay in milliseconds.
pub(in crate::cli) fn milliseconds(text: &str) -> Result<f64, String> {
    match text.trim().parse::<f64>() {
        Ok(millis) if millis.abs() <= MOST => Ok(millis),
        _ => Err(format!("write milliseconds from -{MOST} to {MOST}")),
    }
}
