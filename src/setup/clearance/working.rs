//! How each clearance and each largest clean pluck came about.

use super::{
    ClearanceInput, ClearanceOutput, Direction, Pluck, StoppedClearance, StringClearance, board, excursion_of_one,
};
use crate::setup::frame::{self, Frame, StringLine};
use crate::working::{Working, Workings, below};

const SWING: &str =
    "derived here from d'Alembert's solution of the wave equation for a plucked ideal string; any acoustics text";
const STRAIGHT: &str = frame::working::STRAIGHT_STRING;

/// The working of every number but fret numbers. Heights at nut and saddle and the largest clean pluck of
/// every stop always have theirs; clearances and what a pluck leaves of them while there is room.
pub fn explain(input: &ClearanceInput, output: &ClearanceOutput, workings: &mut Workings) {
    let board = board(input);
    let frame = Frame::new(input.scale_mm, input.frets, &board);
    workings.shared(
        (1..=input.frets.max(12))
            .flat_map(|fret| {
                let symbol = format!("x{}", below(fret));
                let position = frame::working::position("", &symbol, input.scale_mm, fret);
                [position, frame::working::top(&frame, input.frets, &board, fret)]
            })
            .collect(),
    );
    let told = |place: usize, string: &StringClearance| -> Option<Told<'_>> {
        let heights = input.strings.get(place)?;
        let line = frame.string(heights.first_fret_mm, heights.action_12_mm);
        Some(Told { input, frame: &frame, line, saddle_mm: string.saddle_mm, number: place + 1 })
    };
    for (place, string) in output.strings.iter().enumerate() {
        let (Some(told), Some(heights)) = (told(place, string), input.strings.get(place)) else {
            continue;
        };
        let at = format!("/strings/{place}");
        workings.figure(&format!("{at}/nut_mm"), || {
            let read = (heights.first_fret_mm, heights.action_12_mm);
            frame::working::line(&frame, read, &told.line, format!("{at}/nut_mm"))
        });
        workings.figure(&format!("{at}/saddle_mm"), || vec![told.saddle(format!("{at}/saddle_mm"))]);
        for (stop, stopped) in string.stopped.iter().enumerate() {
            let of = format!("{at}/stopped/{stop}/largest_clean_pluck_mm");
            let plucked =
                input.pluck.as_ref().zip(stopped.touches_fret.flatten()).zip(stopped.largest_clean_pluck_mm.flatten());
            if let Some(((pluck, touches), largest)) = plucked {
                workings.figure(&of, || vec![told.largest(of.clone(), stopped.fret, touches, pluck, largest)]);
            }
        }
    }
    for (place, string) in output.strings.iter().enumerate() {
        let Some(told) = told(place, string) else {
            continue;
        };
        for (stop, stopped) in string.stopped.iter().enumerate() {
            for (over, _) in stopped.clearance_mm.iter().enumerate() {
                let at = format!("/strings/{place}/stopped/{stop}");
                workings.detail(&at, || told.one(&at, stopped, over));
            }
        }
    }
}

/// One string on its board.
struct Told<'a> {
    input: &'a ClearanceInput,
    frame: &'a Frame,
    line: StringLine,
    saddle_mm: f64,
    number: usize,
}

impl Told<'_> {
    fn saddle(&self, of: String) -> Working {
        Working::new(of, format!("height of string {} at the saddle", self.number), "z_L = z₀ + m·L")
            .put("z₀", "height at the nut", self.line.nut_mm, "mm")
            .put("m", "slope of the string", self.line.slope, "")
            .put("L", "nominal scale", self.input.scale_mm, "mm")
            .gives(self.saddle_mm, "mm", STRAIGHT)
    }

    /// The gap over one fret: what is to be put into its formula.
    fn gap(&self, fret: usize, over: usize, working: Working) -> Working {
        let (x, top) = (self.frame.position_mm(over), self.frame.top_mm(over));
        if fret == 0 {
            return working
                .put("z₀", "height at the nut", self.line.nut_mm, "mm")
                .put("m", "slope of the string", self.line.slope, "")
                .put("x_j", format!("position of fret {over}"), x, "mm")
                .put("u_j", format!("top of fret {over} over the line"), top, "mm");
        }
        working
            .put("u_n", format!("top of fret {fret} over the line"), self.frame.top_mm(fret), "mm")
            .put("z_L", "height at the saddle", self.saddle_mm, "mm")
            .put("x_j", format!("position of fret {over}"), x, "mm")
            .put("x_n", format!("position of fret {fret}"), self.frame.position_mm(fret), "mm")
            .put("L", "nominal scale", self.input.scale_mm, "mm")
            .put("u_j", format!("top of fret {over} over the line"), top, "mm")
    }

    fn gap_formula(fret: usize) -> &'static str {
        if fret == 0 { "z₀ + m·x_j − u_j" } else { "u_n + (z_L − u_n)·(x_j − x_n)/(L − x_n) − u_j" }
    }

    /// Clearance over one fret, and what the pluck leaves of it.
    fn one(&self, at: &str, stopped: &StoppedClearance, place: usize) -> Vec<Working> {
        let Some(gap) = stopped.clearance_mm.get(place) else {
            return Vec::new();
        };
        let fret = stopped.fret;
        let over = fret + 1 + place;
        let stop = if fret == 0 { "open".to_owned() } else { format!("stopped at {fret}") };
        let told = Working::new(
            format!("{at}/clearance_mm/{place}"),
            format!("clearance over fret {over}, string {} {stop}", self.number),
            format!("g = {}", Self::gap_formula(fret)),
        );
        let mut chain = vec![self.gap(fret, over, told).gives(*gap, "mm", STRAIGHT)];
        let spare = stopped.spare_mm.iter().flatten().flatten().nth(place);
        if let Some((pluck, spare)) = self.input.pluck.as_ref().zip(spare) {
            let what = format!("swing over fret {over} of a pluck of 1 mm, string {} {stop}", self.number);
            let swing = self.swing(fret, over, pluck);
            let excursion = Working::new("", what, format!("E = {}", swing.formula));
            chain.push(swing.put_into(excursion).gives(swing.value, "", SWING));
            chain.push(
                Working::new(
                    format!("{at}/spare_mm/{place}"),
                    format!("what the pluck leaves over fret {over}, string {} {stop}", self.number),
                    "g_s = g − A·E",
                )
                .put("g", "clearance", *gap, "mm")
                .put("A", "pluck", pluck.amplitude_mm, "mm")
                .put("E", "swing of a pluck of 1 mm", swing.value, "")
                .gives(*spare, "mm", SWING),
            );
        }
        chain
    }

    fn largest(&self, of: String, fret: usize, touches: usize, pluck: &Pluck, largest: f64) -> Working {
        let stop = if fret == 0 { "open".to_owned() } else { format!("stopped at {fret}") };
        let swing = self.swing(fret, touches, pluck);
        let what =
            format!("largest clean pluck, string {} {stop}: a larger one touches fret {touches} first", self.number);
        let told = Working::new(of, what, format!("p = max(({})/({}), 0)", Self::gap_formula(fret), swing.formula));
        swing.put_into(self.gap(fret, touches, told)).gives(largest, "mm", SWING)
    }

    fn swing(&self, fret: usize, over: usize, pluck: &Pluck) -> Swing {
        let scale = self.input.scale_mm;
        let (s, sounding) = (scale - self.frame.position_mm(over), scale - self.frame.position_mm(fret));
        let d = pluck.at_fraction_from_saddle * scale;
        let near = if s <= d { "s/d" } else { "(ℓ − s)/(ℓ − d)" };
        let far = if sounding - s <= d { "(ℓ − s)/d" } else { "s/(ℓ − d)" };
        let formula = match pluck.direction {
            Direction::Towards => near.to_owned(),
            Direction::Away => far.to_owned(),
            Direction::Either => format!("max({near}, {far})"),
        };
        Swing { over, s, sounding, d, formula, value: excursion_of_one(s, sounding, d, pluck.direction) }
    }
}

/// The swing at a fret, and what is to be put into its formula.
struct Swing {
    over: usize,
    s: f64,
    sounding: f64,
    d: f64,
    formula: String,
    value: f64,
}

impl Swing {
    fn put_into(&self, working: Working) -> Working {
        let mut working = working;
        for (symbol, meaning, value) in [
            ("s", format!("fret {} from the saddle", self.over), self.s),
            ("ℓ", "sounding length".to_owned(), self.sounding),
            ("d", "where it is plucked, from the saddle".to_owned(), self.d),
        ] {
            if self.formula.contains(symbol) {
                working = working.put(symbol, meaning, value, "mm");
            }
        }
        working
    }
}
