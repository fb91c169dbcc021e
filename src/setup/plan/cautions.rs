//! The usual cautions a plan names, by key. Never advice of law or medicine; local rules and licensed practice come first.

/// The words of a caution; `None` for a key no plan names.
pub fn caution(key: &str) -> Option<&'static str> {
    Some(match key {
        "string-tension" => {
            "Strings under tension whip: slacken before cutting, shield the eyes, bend and bin the ends."
        }
        "bone-dust" => {
            "Bone and shell dust is fine and harmful to breathe: wet-sand or extract, and wear a fitted mask."
        }
        "fret-dust" => {
            "Metal dust and slivers: magnet or vacuum before the board is wiped; nickel can sensitise the skin."
        }
        "truss-rod" => {
            "Quarter turns, strings slackened, stop when it stiffens. A rod that turns without effect may be broken: stop and tell the owner."
        }
        "dry-instrument" => "Bring it back slowly in its closed case; never on a heater, never water on bare wood.",
        "damp-instrument" => {
            "Let it dry slowly at room temperature; never in the sun or on a heater. Above about 75 % for weeks, mould grows."
        }
        "thin-glue" => {
            "Thin cyanoacrylate: fumes sting nose and eyes and it heats on cotton. Move the air across, shield the eyes, no cotton near it."
        }
        "slacken-before-glue" => "Slacken all strings evenly before any brace, clamp, glue or heat.",
        "heat" => "Heat burns skin, finish and glue: watch the wood's temperature, not the clock.",
        _ => return None,
    })
}
