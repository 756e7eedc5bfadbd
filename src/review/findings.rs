use super::figures::Sheet;
use super::{Finding, Review, found_backup, found_chords, found_hand, found_time};

/// All that was noticed, what matters most first.
pub(super) fn findings(review: &Review, sheet: &Sheet<'_>) -> Vec<Finding> {
    let mut out: Vec<Finding> = Vec::new();
    out.extend(found_time::found(review, sheet));
    out.extend(found_chords::found(sheet));
    out.extend(found_backup::found(review, sheet));
    out.extend(found_hand::found(sheet));
    out.sort_by(|one, other| one.good.cmp(&other.good).then(other.weight.total_cmp(&one.weight)));
    out
}
