//! What a step turns, moves or puts under rather than cuts, as pages and papers show it: turns, posts, a nut or a
//! bridge that goes as one, a shim, a set-back.

use super::readings_view::string_name;
use super::working_view::WorkingLinks;
use crate::setup::cut::Ends;
use crate::setup::plan::Step;
use crate::setup::reading::supported;

/// A table of such amounts, each with its unit.
#[derive(Debug, Clone)]
pub struct Adjusted {
    /// What is done, in words.
    pub caption: &'static str,
    /// Above the cells; the first is what somebody acts on.
    pub heads: Vec<&'static str>,
    /// One a string, or one an end.
    pub rows: Vec<AdjustedRow>,
    /// What is left, and to whom.
    pub notes: Vec<String>,
}

/// One string, or one end.
#[derive(Debug, Clone)]
pub struct AdjustedRow {
    /// "1 E4", "treble post".
    pub what: String,
    /// Under the heads.
    pub cells: Vec<String>,
    /// Where the working stands; "" on paper.
    pub how: String,
}

/// What a figure of a step is called on the page of workings, below the step's own pointer.
pub(super) fn figures(step: &Step, names: &[String]) -> Vec<(String, String)> {
    let mut figures = Vec::new();
    for (field, what, amounts) in [
        ("turn_down_mm", "down", &step.turn_down_mm),
        ("turns", "turns", &step.turns),
        ("setback_now_mm", "set-back now", &step.setback_now_mm),
        ("setback_to_add_mm", "set-back to add", &step.setback_to_add_mm),
    ] {
        for (place, _) in amounts.iter().flatten().enumerate().filter(|(_, amount)| amount.is_some()) {
            figures.push((format!("/{field}/{place}"), format!("string {}, {what}", string_name(names, place))));
        }
    }
    for (field, what, ends) in [
        ("posts_down_mm", "post, down", step.posts_down_mm),
        ("posts_turns", "post, turns", step.posts_turns),
        ("travel_left_mm", "end, travel left", step.travel_left_mm),
        ("raise_nut_mm", "end of the nut, up", step.raise_nut_mm),
        ("move_bridge_mm", "end of the bridge, away from the frets", step.move_bridge_mm),
    ] {
        for end in ends.iter().flat_map(|_| ["treble", "bass"]) {
            figures.push((format!("/{field}/{end}"), format!("{end} {what}")));
        }
    }
    if let Some(without) = step.posts_without {
        let others = format!("string {} left out", string_name(names, without.string.saturating_sub(1)));
        for (field, what) in [
            ("treble_mm", "treble post, down"),
            ("bass_mm", "bass post, down"),
            ("turns/treble", "treble post, turns"),
            ("turns/bass", "bass post, turns"),
            ("miss_mm", "left to the worst of the others"),
            ("notch_mm", "its own notch"),
        ] {
            figures.push((format!("/posts_without/{field}"), format!("{others}: {what}")));
        }
    }
    for (field, what, is_there) in [
        ("posts_miss_mm", "left to the worst string", step.posts_miss_mm.is_some()),
        ("move_bridge_miss_mm", "left to the worst string", step.move_bridge_miss_mm.is_some()),
        ("shim_mm", "shim, at its thick end", step.shim_mm.is_some()),
    ] {
        if is_there {
            figures.push((format!("/{field}"), what.to_owned()));
        }
    }
    figures
}

/// The table of a step; `None` where it cuts, or only reads.
pub(super) fn adjusted(step: &Step, names: &[String], how: &WorkingLinks<'_>) -> Option<Adjusted> {
    posts(step, names, how)
        .or_else(|| turned(step, names, how))
        .or_else(|| set_back(step, names, how))
        .or_else(|| moved(step, how))
        .or_else(|| nut(step, how))
        .or_else(|| shim(step, how))
}

fn turned(step: &Step, names: &[String], how: &WorkingLinks<'_>) -> Option<Adjusted> {
    let amounts = step.turn_down_mm.as_ref()?;
    let at = |list: &Option<Vec<Option<f64>>>, place: usize| list.as_ref().and_then(|list| *list.get(place)?);
    let rows = amounts.iter().enumerate().filter_map(|(place, amount)| {
        let amount = (*amount)?;
        let turns = step.turns.as_ref().map(|_| at(&step.turns, place).map_or_else(dash, said_turns));
        let (down, unsure) = lengths(amount, at(&step.turn_down_expanded_mm, place), ["down", "up"]);
        Some(AdjustedRow {
            what: string_name(names, place),
            cells: turns.into_iter().chain([down, unsure]).collect(),
            how: how.at(&format!("/turn_down_mm/{place}")),
        })
    });
    let rows = rows.collect();
    Some(Adjusted {
        caption: "Turn, string by string",
        heads: turn_heads(step.turns.is_some()),
        rows,
        notes: left(step),
    })
}

/// What is set is the fit without the one string that draws the posts away from the others, where there is one.
fn posts(step: &Step, names: &[String], how: &WorkingLinks<'_>) -> Option<Adjusted> {
    let whole = step.posts_down_mm?;
    let unsure = step.posts_down_expanded_mm;
    let (set, turns, under, miss) = match step.posts_without {
        Some(without) => {
            let set = Ends { treble: without.treble_mm, bass: without.bass_mm };
            (set, without.turns, ["/posts_without/treble_mm", "/posts_without/bass_mm"], Some(without.miss_mm))
        }
        None => (whole, step.posts_turns, ["/posts_down_mm/treble", "/posts_down_mm/bass"], step.posts_miss_mm),
    };
    let mut notes: Vec<String> =
        miss.map(|miss| format!("The worst string then stays {miss:.2} mm off.")).into_iter().collect();
    if let Some(without) = step.posts_without {
        let string = string_name(names, without.string.saturating_sub(1));
        let way = if without.notch_mm >= 0.0 { "too high" } else { "too low" };
        notes.push(format!(
            "String {string} is left out: its own notch is {:.2} mm {way}. With it the posts would go treble {}, bass {}, and the worst string would stay {:.2} mm off.",
            without.notch_mm.abs(),
            said_length(whole.treble, ["down", "up"]),
            said_length(whole.bass, ["down", "up"]),
            step.posts_miss_mm.unwrap_or_default(),
        ));
    }
    notes.extend(left(step));
    let row = |what: &str, mm: f64, turns: Option<f64>, unsure: Option<f64>, under: &str| {
        let (down, unsure) = lengths(mm, unsure, ["down", "up"]);
        let cells = turns.map(said_turns).into_iter().chain([down, unsure]).collect();
        AdjustedRow { what: what.to_owned(), cells, how: how.at(under) }
    };
    let rows = vec![
        row("treble post", set.treble, turns.map(|turns| turns.treble), unsure.map(|ends| ends.treble), under[0]),
        row("bass post", set.bass, turns.map(|turns| turns.bass), unsure.map(|ends| ends.bass), under[1]),
    ];
    Some(Adjusted { caption: "Turn the posts or wheels", heads: turn_heads(turns.is_some()), rows, notes })
}

fn set_back(step: &Step, names: &[String], how: &WorkingLinks<'_>) -> Option<Adjusted> {
    let amounts = step.setback_to_add_mm.as_ref()?;
    let at = |list: &Option<Vec<Option<f64>>>, place: usize| list.as_ref().and_then(|list| *list.get(place)?);
    let is_known = step.setback_now_mm.as_ref().is_some_and(|now| now.iter().any(Option::is_some));
    let rows = amounts.iter().enumerate().filter_map(|(place, amount)| {
        let amount = (*amount)?;
        let (add, unsure) = lengths(amount, at(&step.setback_to_add_expanded_mm, place), ["away", "towards"]);
        let now = at(&step.setback_now_mm, place).map_or_else(dash, |now| format!("{now:+.1} mm").replace('-', "−"));
        Some(AdjustedRow {
            what: string_name(names, place),
            cells: [add, unsure].into_iter().chain(is_known.then_some(now)).collect(),
            how: how.at(&format!("/setback_to_add_mm/{place}")),
        })
    });
    let heads = ["add to set-back", "±"].into_iter().chain(is_known.then_some("stands now")).collect();
    let rows = rows.collect();
    Some(Adjusted { caption: "Away from the frets, or towards them", heads, rows, notes: Vec::new() })
}

fn moved(step: &Step, how: &WorkingLinks<'_>) -> Option<Adjusted> {
    let rows = ends(step.move_bridge_mm?, step.move_bridge_expanded_mm, ["away", "towards"], "/move_bridge_mm", how);
    let notes = step.move_bridge_miss_mm.map(|miss| format!("The worst string then stays {miss:.1} mm off its place."));
    let caption = "Move the bridge away from the frets, or towards them";
    Some(Adjusted { caption, heads: vec!["move", "±"], rows, notes: notes.into_iter().collect() })
}

fn nut(step: &Step, how: &WorkingLinks<'_>) -> Option<Adjusted> {
    let rows = ends(step.raise_nut_mm?, step.raise_nut_expanded_mm, ["up", "down"], "/raise_nut_mm", how);
    Some(Adjusted { caption: "The nut as one", heads: vec!["nut", "±"], rows, notes: Vec::new() })
}

fn shim(step: &Step, how: &WorkingLinks<'_>) -> Option<Adjusted> {
    let thickness = step.shim_mm?;
    let cells = vec![format!("{thickness:.2} mm")];
    let rows = vec![AdjustedRow { what: "shim".to_owned(), cells, how: how.at("/shim_mm") }];
    let notes = vec!["A taper over the whole pocket: nothing at the other end.".to_owned()];
    Some(Adjusted { caption: "Under the neck", heads: vec!["at its thick end"], rows, notes })
}

fn ends(mm: Ends, unsure: Option<Ends>, ways: [&str; 2], under: &str, how: &WorkingLinks<'_>) -> Vec<AdjustedRow> {
    let row = |end: &str, mm: f64, unsure: Option<f64>| {
        let (said, unsure) = lengths(mm, unsure, ways);
        AdjustedRow { what: end.to_owned(), cells: vec![said, unsure], how: how.at(&format!("{under}/{end}")) }
    };
    vec![
        row("treble", mm.treble, unsure.map(|unsure| unsure.treble)),
        row("bass", mm.bass, unsure.map(|unsure| unsure.bass)),
    ]
}

fn turn_heads(in_turns: bool) -> Vec<&'static str> {
    if in_turns { vec!["turn", "that is", "±"] } else { vec!["turn", "±"] }
}

/// What screws, wheels or posts can still go down afterwards.
fn left(step: &Step) -> Vec<String> {
    let left = step
        .travel_left_mm
        .map(|left| format!("Travel left then: {:.2} mm at the treble, {:.2} mm at the bass.", left.treble, left.bass));
    left.into_iter().collect()
}

/// An amount with its way and unit, and how sure it is.
fn lengths(mm: f64, expanded: Option<f64>, ways: [&str; 2]) -> (String, String) {
    match expanded.filter(|expanded| *expanded > 0.0) {
        Some(expanded) => {
            let said = supported(mm.abs(), expanded);
            (with_way(&said.value, mm, ways), format!("{} mm", said.expanded))
        }
        None => (said_length(mm, ways), dash()),
    }
}

fn said_length(mm: f64, ways: [&str; 2]) -> String {
    with_way(&format!("{:.2}", mm.abs()), mm, ways)
}

fn with_way(said: &str, mm: f64, ways: [&str; 2]) -> String {
    let is_nothing = said.chars().all(|letter| matches!(letter, '0' | '.'));
    let way = if mm >= 0.0 { ways[0] } else { ways[1] };
    if is_nothing { "leave it".to_owned() } else { format!("{said} mm {way}") }
}

fn dash() -> String {
    "–".to_owned()
}

/// "½ turn down", "1¼ turns up": a turn to the eighth, as it is made at the bench.
fn said_turns(turns: f64) -> String {
    const EIGHTHS: [&str; 8] = ["", "⅛", "¼", "⅜", "½", "⅝", "¾", "⅞"];
    let eighths = (turns.abs() * 8.0).round();
    if eighths < 1.0 {
        return "leave it".to_owned();
    }
    let whole = (eighths / 8.0).floor();
    let part =
        (0_u8..).zip(EIGHTHS).find(|(part, _)| f64::from(*part) + whole * 8.0 == eighths).map_or("", |(_, said)| said);
    let count = if whole < 1.0 { part.to_owned() } else { format!("{whole:.0}{part}") };
    let noun = if eighths <= 8.0 { "turn" } else { "turns" };
    format!("{count} {noun} {}", if turns > 0.0 { "down" } else { "up" })
}

#[cfg(test)]
mod tests {
    use super::said_turns;

    #[test]
    fn a_turn_is_said_as_it_is_made() {
        for (turns, said) in [
            (0.5, "½ turn down"),
            (-0.125, "⅛ turn up"),
            (1.0, "1 turn down"),
            (1.25, "1¼ turns down"),
            (-2.875, "2⅞ turns up"),
            (0.0, "leave it"),
        ] {
            assert_eq!(said_turns(turns), said);
        }
    }
}
