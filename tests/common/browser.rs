//! A browser without a window, where there is one.
#![allow(dead_code, missing_docs)]

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use super::skip::skipped;

/// How wide a page's content is in a frame so many pixels wide; `None`, with word of it, without a browser.
pub fn content_width(test: &str, page: &str, width: u32) -> Option<u32> {
    let Some(browser) = browser() else {
        skipped(test, "there is no chromium");
        return None;
    };
    let folder = tempfile::tempdir().unwrap();
    let inside = page.replace('&', "&amp;").replace('"', "&quot;");
    let outside = format!(
        "<!DOCTYPE html><body style='margin:0'><iframe srcdoc=\"{inside}\" style='border:0;width:{width}px;\
         height:700px'></iframe><p id=told></p><script>onload = () => {{ const page = \
         document.querySelector('iframe').contentDocument.documentElement; told.textContent = \
         page.scrollWidth; }}</script>"
    );
    let file = folder.path().join("frame.html");
    fs::write(&file, outside).unwrap();
    let dom = dom(&browser, folder.path(), &file);
    let width = dom.as_deref().and_then(|dom| {
        let told = dom.split("<p id=\"told\">").nth(1)?;
        told.split('<').next()?.parse().ok()
    });
    if width.is_none() {
        skipped(test, "chromium shows no page here");
    }
    width
}

fn browser() -> Option<PathBuf> {
    ["/usr/bin/chromium", "/usr/bin/chromium-browser"]
        .iter()
        .map(PathBuf::from)
        .find(|it| it.is_file())
}

/// The page as the browser has it once its scripts have run.
fn dom(browser: &Path, folder: &Path, file: &Path) -> Option<String> {
    let out = folder.join("dom");
    let mut child = Command::new(browser)
        .args(["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"])
        .args(["--disable-background-networking", "--disable-component-update", "--disable-sync"])
        .arg(format!("--user-data-dir={}", folder.join("profile").display()))
        .args(["--virtual-time-budget=5000", "--window-size=1400,900", "--dump-dom"])
        .arg(file)
        .stdout(fs::File::create(&out).ok()?)
        .stderr(Stdio::null())
        .spawn()
        .ok()?;
    // A browser that hangs is no fault of the page.
    let since = Instant::now();
    while child.try_wait().ok()?.is_none() {
        if since.elapsed() > Duration::from_secs(60) {
            _ = child.kill();
            _ = child.wait();
            return None;
        }
        std::thread::sleep(Duration::from_millis(50));
    }
    fs::read_to_string(out).ok()
}
