//! Pages for a browser: a review as one HTML file that needs nothing beside it, to be read on a phone,
//! on a screen and on paper.
//!
//! Plots are SVG of the full width and a fixed height: what lies along the width is in percent, so letters
//! and dots keep their size on every screen. No script, and nothing is fetched.

mod bar_strip;
mod document;
mod figures;
mod heard;
mod histogram;
mod milliseconds;
mod progress_page;
mod review_page;
mod timing_plot;

pub use progress_page::progress_html;
pub use review_page::html;
