//! A finished drawing, and the few things every one needs.

use std::fmt;
use std::ops::Deref;

use askama::filters::HtmlSafe;

/// A drawing as it stands on a page. Only this folder makes one, and every text in it went through `escaped`; so
/// templates print it as it is.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Svg(String);

impl Svg {
    pub(super) fn new(drawn: String) -> Self {
        Self(drawn)
    }
}

impl fmt::Display for Svg {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl Deref for Svg {
    type Target = str;
    fn deref(&self) -> &str {
        &self.0
    }
}

impl HtmlSafe for Svg {}

/// Text made safe inside an element or a quoted attribute.
pub(super) fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            c if c.is_control() => {}
            c => safe.push(c),
        }
    }
    safe
}

/// A number as short as it can be at a hundredth.
pub(super) fn short(number: f64) -> String {
    let text = format!("{number:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// Draws a matrix of dark modules as one path; `rows` are top to bottom.
pub(super) fn modules_path(rows: &[Vec<bool>], height_each: f64) -> String {
    let mut path = String::new();
    for (y, row) in (0_u32..).zip(rows) {
        let mut x = 0_usize;
        while x < row.len() {
            let run = row[x..].iter().take_while(|dark| **dark).count();
            if run > 0 {
                path.push_str(&format!(
                    "M{x} {}h{run}v{}h-{run}z",
                    short(f64::from(y) * height_each),
                    short(height_each)
                ));
            }
            x += run.max(1);
        }
    }
    path
}
