//! QR symbols (ISO/IEC 18004): dark on a white square of its own, a quiet zone of four modules.

use qrcodegen::{QrCode, QrCodeEcc};

use super::svg::{Svg, modules_path, short};

const QUIET: usize = 4;

/// How much of the symbol may be lost.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Recovery {
    /// 15 %: a ticket in a pocket.
    Medium,
    /// 25 %: a tag that hangs for weeks.
    Quartile,
}

/// What is too long for a symbol.
#[derive(Debug, thiserror::Error)]
#[error("the text is too long for a QR symbol")]
pub struct TooLong;

/// The symbol as SVG; `module_mm` is the width of one module.
///
/// # Errors
/// When the text is too long.
pub fn qr(text: &str, recovery: Recovery, module_mm: f64) -> Result<Svg, TooLong> {
    let level = match recovery {
        Recovery::Medium => QrCodeEcc::Medium,
        Recovery::Quartile => QrCodeEcc::Quartile,
    };
    let code = QrCode::encode_text(text, level).map_err(|_| TooLong)?;
    let size = usize::try_from(code.size()).map_err(|_| TooLong)?;
    let whole = size + 2 * QUIET;
    let mut rows = vec![vec![false; whole]; whole];
    for (y, row) in (0..).zip(rows.iter_mut().skip(QUIET).take(size)) {
        for (x, module) in (0..).zip(row.iter_mut().skip(QUIET).take(size)) {
            *module = code.get_module(x, y);
        }
    }
    let width_mm = f64::from(u32::try_from(whole).unwrap_or(0)) * module_mm;
    Ok(Svg::new(format!(
        r##"<svg class="qr" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {whole} {whole}" width="{0}mm" height="{0}mm" shape-rendering="crispEdges" role="img" aria-label="QR code of this job's private page"><rect width="{whole}" height="{whole}" fill="#fff"/><path fill="#000" d="{1}"/></svg>"##,
        short(width_mm),
        modules_path(&rows, 1.0)
    )))
}
