use maud::{DOCTYPE, Markup, PreEscaped, html};

/// How all pages look: light and dark, phone, screen and paper.
const LOOK: &str = include_str!("look.css");

/// A whole page: `body` under its title, with the look inside it.
pub(super) fn document(title: &str, body: &Markup) -> String {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                meta name="generator" content="openchair";
                title { (title) }
                style { (PreEscaped(LOOK)) }
            }
            body { main { (body) } }
        }
    };
    page.into_string()
}
