//! How strings and amounts are said in a sentence.

/// "string 3", "strings 1, 2 and 5", or "all strings".
pub(super) fn said_strings(strings: &[usize], all: usize) -> String {
    match strings {
        [] => "no string".to_owned(),
        _ if strings.len() == all && all > 1 => "all strings".to_owned(),
        [only] => format!("string {only}"),
        [rest @ .., last] => {
            let rest = rest.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ");
            format!("strings {rest} and {last}")
        }
    }
}

/// "0.28 mm at string 1, 0.31 mm at strings 2 to 4".
pub(super) fn said_amounts(amounts: impl Iterator<Item = (usize, f64)>) -> String {
    let mut runs: Vec<(usize, usize, String)> = Vec::new();
    for (string, mm) in amounts {
        let mm = format!("{mm:.2}");
        match runs.last_mut() {
            Some((_, last, same)) if *last + 1 == string && *same == mm => *last = string,
            _ => runs.push((string, string, mm)),
        }
    }
    let said = runs.into_iter().map(|(first, last, mm)| match last - first {
        0 => format!("{mm} mm at string {first}"),
        1 => format!("{mm} mm at strings {first} and {last}"),
        _ => format!("{mm} mm at strings {first} to {last}"),
    });
    said.collect::<Vec<_>>().join(", ")
}

/// "0.28 mm down", "0.28 mm up".
pub(super) fn said_way(down_mm: f64) -> String {
    format!("{:.2} mm {}", down_mm.abs(), if down_mm < 0.0 { "up" } else { "down" })
}

/// "1½ turns", "1 turn", "⅜ of a turn": how far a screw is turned, whichever way, to the eighth.
pub(super) fn said_turns(turns: f64) -> String {
    let eighths = (turns.abs() * 8.0).round();
    let (whole, rest) = ((eighths / 8.0).floor(), eighths % 8.0);
    let part = ["", "⅛", "¼", "⅜", "½", "⅝", "¾", "⅞"].iter().zip(0_u8..).find(|(_, n)| f64::from(*n) == rest);
    let part = part.map_or("", |(part, _)| part);
    match (whole > 0.0, part.is_empty()) {
        (false, true) => "no turn".to_owned(),
        (false, false) => format!("{part} of a turn"),
        (true, _) if eighths == 8.0 => "1 turn".to_owned(),
        (true, _) => format!("{whole:.0}{part} turns"),
    }
}

/// With a capital letter.
pub(super) fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
