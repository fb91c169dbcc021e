//! Drawings: SVG from numbers. No `style` attributes (the page's security policy forbids them); colours
//! are classes of the style sheet, and every drawing has a text alternative and prints in black and white.

pub mod bars;
pub mod clearance_map;
pub mod curves;
pub mod day_shares;
pub mod fretboard;
pub mod history_chart;
pub mod inlay;
pub mod intonation_chart;
pub mod limits;
pub mod outline;
pub mod qr;
pub mod saddle_shape;
pub mod side_view;
mod svg;
pub mod tension_bars;

pub use svg::Svg;
