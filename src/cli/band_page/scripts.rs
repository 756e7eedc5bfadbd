//! The page's scripts: modules in `web/page`, joined to one text each, for a page that fetches nothing.

/// A module's name and its text.
pub(super) type Module = (&'static str, &'static str);

macro_rules! module {
    ($name:literal) => {
        ($name, include_str!(concat!("../../../web/page/", $name, ".js")))
    };
}

/// Each after those that it imports.
pub(super) const SOUND_WORKER: &[Module] = &[module!("engine"), module!("sound-worker")];
pub(super) const STAND_WORKER: &[Module] = &[module!("engine"), module!("stand-worker")];
pub(super) const EAR_WORKER: &[Module] = &[module!("engine"), module!("ear-worker")];
pub(super) const PAGE: &[Module] = &[
    module!("sound"),
    module!("unpack"),
    module!("band"),
    module!("stand"),
    module!("chart"),
    module!("tab"),
    module!("drawer"),
    module!("neck"),
    module!("diary"),
    module!("editor"),
    module!("keys"),
    module!("lesson"),
    module!("practise"),
    module!("midi"),
    module!("microphone"),
    module!("take"),
    module!("main"),
];

/// Modules as one script: their imports stand before them already, under the same names.
pub(super) fn joined(modules: &[Module]) -> String {
    let mut script = String::new();
    for line in modules.iter().flat_map(|(_, text)| text.lines()) {
        if !line.starts_with("import ") {
            script.push_str(line.strip_prefix("export ").unwrap_or(line));
            script.push('\n');
        }
    }
    script
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The names that a module's outermost lines make.
    fn names(text: &str) -> Vec<&str> {
        let made = |line| {
            let line: &str = str::strip_prefix(line, "export ").unwrap_or(line);
            let kinds = ["const ", "let ", "class ", "function ", "async function "];
            kinds.iter().find_map(|kind| line.strip_prefix(kind))
        };
        let names = text.lines().filter_map(made).flat_map(|rest| {
            let rest = rest.split(['=', '(', '{']).next().unwrap_or(rest);
            let rest = rest.split(" extends ").next().unwrap_or(rest);
            rest.split(['[', ']', ',', ' ', ';']).filter(|name| !name.is_empty())
        });
        names.collect()
    }

    #[test]
    fn what_a_module_imports_stands_before_it() {
        for modules in [SOUND_WORKER, STAND_WORKER, EAR_WORKER, PAGE] {
            for (at, (name, text)) in modules.iter().enumerate() {
                for line in text.lines().filter(|line| line.starts_with("import ")) {
                    let from = line.split('"').nth(1).unwrap();
                    let from =
                        from.strip_prefix("./").and_then(|it| it.strip_suffix(".js")).unwrap();
                    let before = modules[..at].iter().find(|(other, _)| *other == from);
                    let (_, exporter) = before.unwrap_or_else(|| panic!("{name} imports {from}"));
                    let wanted = line.split(['{', '}']).nth(1).unwrap();
                    for word in wanted.split(',').map(str::trim) {
                        let made = ["const", "class", "let"];
                        let found = made
                            .iter()
                            .any(|kind| exporter.contains(&format!("export {kind} {word}")));
                        assert!(found, "{name}: {from} exports no {word}");
                    }
                }
            }
        }
    }

    #[test]
    fn no_name_is_made_twice_in_one_script() {
        for modules in [SOUND_WORKER, STAND_WORKER, EAR_WORKER, PAGE] {
            let mut seen: Vec<&str> = Vec::new();
            for (module, text) in modules {
                for name in names(text) {
                    assert!(!seen.contains(&name), "{name} of {module} is there already");
                    seen.push(name);
                }
            }
        }
    }

    #[test]
    fn no_script_ends_the_element_it_stands_in() {
        for modules in [SOUND_WORKER, STAND_WORKER, EAR_WORKER, PAGE] {
            let text = joined(modules);
            assert!(!text.contains("</") && !text.contains("<!--"));
            assert!(
                !text
                    .lines()
                    .any(|line| line.starts_with("import ") || line.starts_with("export "))
            );
        }
    }
}
