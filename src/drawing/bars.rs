//! Code 128 (ISO/IEC 15417) for the tag: one path, a quiet zone on each side.

use barcoders::sym::code128::Code128;

use super::svg::{Svg, escaped, modules_path, short};

/// Modules of white on each side, at least.
const QUIET: usize = 10;
/// A quarter inch of white on each side, at least, as label printers' manuals ask. From memory.
const QUIET_MM: f64 = 6.4;
/// Bars are at least 12 mm high, so that a hand scanner finds them.
const HEIGHT_MM: f64 = 14.0;
/// Code set B: what job numbers are made of.
const SET_B: char = '\u{0181}';

/// What cannot be drawn as bars.
#[derive(Debug, thiserror::Error)]
#[error("“{0}” cannot be drawn as Code 128")]
pub struct NotBars(String);

/// The modules of a text in code set B, without quiet zones.
///
/// # Errors
/// When the text holds what Code 128 has no sign for.
pub fn modules(text: &str) -> Result<Vec<bool>, NotBars> {
    let code = Code128::new(format!("{SET_B}{text}")).map_err(|_| NotBars(text.to_owned()))?;
    Ok(code.encode().into_iter().map(|module| module == 1).collect())
}

/// The symbol as SVG; `module_mm` is the width of the thinnest bar.
///
/// # Errors
/// When the text holds what Code 128 has no sign for.
pub fn code128(text: &str, module_mm: f64) -> Result<Svg, NotBars> {
    // modules are a quarter millimetre and more: forty are always enough
    let quiet = (QUIET..40).find(|modules| mm(*modules, module_mm) >= QUIET_MM).unwrap_or(40);
    let mut row = vec![false; quiet];
    row.extend(modules(text)?);
    row.extend(std::iter::repeat_n(false, quiet));
    let width = row.len();
    let width_mm = mm(width, module_mm);
    Ok(Svg::new(format!(
        r##"<svg class="bars" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} 1" width="{}mm" height="{HEIGHT_MM}mm" preserveAspectRatio="none" shape-rendering="crispEdges" role="img" aria-label="{}"><rect width="{width}" height="1" fill="#fff"/><path fill="#000" d="{}"/></svg>"##,
        short(width_mm),
        escaped(&format!("Bar code {text}")),
        modules_path(&[row], 1.0)
    )))
}

fn mm(modules: usize, module_mm: f64) -> f64 {
    f64::from(u32::try_from(modules).unwrap_or(0)) * module_mm
}
