//! Changing a pedal file and leaving the user's own lines as they are.

use toml_edit::{DocumentMut, Item, Table, TableLike, TomlError, value};

use super::pedal::TABLE;
use super::{Action, Trigger};

/// What a new file begins with.
const HEAD: &str = "# What pedals do. `openchair learn` writes here, and so may you.\n\n[pedal]\n";

/// The pedal file `text` with one more thing taught, or with another thing taught to that trigger.
///
/// # Errors
/// The text is no TOML.
pub fn teach_in(text: &str, trigger: Trigger, action: Action) -> Result<String, TomlError> {
    let text = if text.trim().is_empty() { HEAD } else { text };
    let mut file: DocumentMut = text.parse()?;
    let table = file.entry(TABLE).or_insert(Item::Table(Table::new()));
    if table.as_table_like().is_none() {
        *table = Item::Table(Table::new());
    }
    let Some(table) = table.as_table_like_mut() else { return Ok(file.to_string()) };
    let key = keys_of(table).into_iter().find(|key| Trigger::parse(key) == Ok(trigger));
    let key = key.unwrap_or_else(|| trigger.to_string());
    match table.get_mut(&key).and_then(Item::as_value_mut) {
        Some(old) => {
            // With what stands around it: a comment behind.
            let mut new = toml_edit::Value::from(action.word());
            *new.decor_mut() = old.decor().clone();
            *old = new;
        }
        None => {
            table.insert(&key, value(action.word()));
        }
    }
    Ok(file.to_string())
}

/// The pedal file `text` without what this action was taught by.
///
/// # Errors
/// The text is no TOML.
pub fn forget_in(text: &str, action: Action) -> Result<String, TomlError> {
    let mut file: DocumentMut = text.parse()?;
    if let Some(table) = file.get_mut(TABLE).and_then(Item::as_table_like_mut) {
        for key in keys_of(table) {
            if table.get(&key).and_then(Item::as_str).and_then(Action::parse) == Some(action) {
                table.remove(&key);
            }
        }
    }
    Ok(file.to_string())
}

fn keys_of(table: &dyn TableLike) -> Vec<String> {
    table.iter().map(|(key, _)| key.to_owned()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const NOTE: Trigger = Trigger::Note { channel: 9, note: 36 };

    #[test]
    fn a_new_file_can_be_read() {
        let text = teach_in("", NOTE, Action::PauseOrGo).unwrap();
        insta::assert_snapshot!(text, @r#"
        # What pedals do. `openchair learn` writes here, and so may you.

        [pedal]
        "note 36 channel 10" = "pause"
        "#);
    }

    #[test]
    fn the_users_own_lines_stay() {
        let mine = "# left foot\n[pedal] # mine\n'Note 36  channel 10' = 'help' # the big one\n\n\
                    # right foot\n\"note 38 channel 10\" = \"tap\"\n";
        let moved = teach_in(mine, NOTE, Action::PauseOrGo).unwrap();
        insta::assert_snapshot!(moved, @r#"
        # left foot
        [pedal] # mine
        'Note 36  channel 10' = "pause" # the big one

        # right foot
        "note 38 channel 10" = "tap"
        "#);
        let forgotten = forget_in(&moved, Action::PauseOrGo).unwrap();
        assert!(!forgotten.contains("pause") && forgotten.contains("# right foot"), "{forgotten}");
        let program = Trigger::Program { channel: 0, program: 0 };
        let more = teach_in(&forgotten, program, Action::CountIn).unwrap();
        assert!(more.ends_with("= \"tap\"\n\"program 1 channel 1\" = \"count-in\"\n"), "{more}");
        assert!(teach_in("[pedal\n", NOTE, Action::Help).is_err());
    }
}
