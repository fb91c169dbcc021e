//! Two wheels or posts under one bridge: two amounts that together come nearest to all strings. What is left to a
//! string is its own notch's, and one string that no bridge could reach does not drag the others with it.

use super::heights::{Off, Way, lonely, removal_forecast, report, report_left, wish};
use super::screws::{eighths, finish, travel_ends};
use crate::setup::cut::{CutInput, CutOutput, CutPlace, CutString, Ends, worked_out};
use crate::setup::nearest_line::{NearestLine, Posts};
use crate::setup::plan::across::{Across, StringWish};
use crate::setup::plan::bench::Bench;
use crate::setup::plan::judged::Judged;
use crate::setup::plan::output::PostsWithout;
use crate::setup::plan::stand::Stand;
use crate::setup::plan::walk::{
    Adjustment, EndAmounts, PostsDown, Removal, Stage, StringAmounts, Todo, Walk, said_amounts, said_strings,
    said_turns, said_way,
};

/// A bridge that would move by less at both posts stands where it should, mm. Chosen here.
const LEAST_MOVE_MM: f64 = 0.1;
/// Below this two lengths are the same, mm: what is left is the computer's rounding.
const SAME_MM: f64 = 1e-9;
const TURN_LATER: &str = "Turn the posts to bring the bridge nearest to all strings, once the heights are read again.";
const NOTCH_LATER: &str =
    "Deepen the notches that are still high, once the posts are set and the heights are read again.";

/// Where the posts go.
#[derive(Debug, Clone)]
pub(in crate::setup::plan) struct Fit {
    pub(in crate::setup::plan) across: Across,
    pub(in crate::setup::plan) line: NearestLine,
    /// Without the one string that draws the bridge away from the others.
    pub(in crate::setup::plan) without: Option<(usize, Across, NearestLine)>,
    /// Where the amounts are told: at the posts, else under the outer strings that were read.
    pub(in crate::setup::plan) at: (f64, f64),
    pub(in crate::setup::plan) posts_known: bool,
}

impl Fit {
    /// The line that is set: without the string that is left out, where there is one.
    pub(in crate::setup::plan) fn set(&self) -> (&Across, &NearestLine) {
        match &self.without {
            Some((_, across, line)) => (across, line),
            None => (&self.across, &self.line),
        }
    }
}

/// `None` where no height was read.
pub(in crate::setup::plan) fn fit(bench: &Bench<'_>) -> Option<Fit> {
    let strings = (0..bench.strings.len()).filter_map(|place| {
        let (down, action) = wish(bench, place)?;
        Some(StringWish::new(place, bench.position_mm(place), down, &action, bench.saddle_factor(place)))
    });
    let mut across = Across { strings: strings.collect(), limits: None };
    let posts = bench.input.instrument.post_positions_mm;
    let at = posts.map_or_else(|| across.outer(), |posts| (posts.treble, posts.bass));
    across.limits = bench.showing.filter(|_| at.1 > at.0).map(|(treble, bass)| Posts {
        treble: at.0,
        bass: at.1,
        most: (treble.value, bass.value),
    });
    let line = across.nearest()?;
    let without = leaving_out(bench, &across, &line);
    Some(Fit { across, line, without, at, posts_known: posts.is_some() })
}

/// The string without which the greatest miss is half or less, where it stands farther off the others' line than a
/// string may.
fn leaving_out(bench: &Bench<'_>, across: &Across, line: &NearestLine) -> Option<(usize, Across, NearestLine)> {
    let allowed = bench.targets.action_tolerance_mm * bench.saddle_factor(0);
    if across.strings.len() < 4 || 2.0 * line.miss_mm <= allowed {
        return None;
    }
    let mut each: Vec<(usize, Across, NearestLine)> = across
        .strings
        .iter()
        .filter_map(|string| {
            let rest = across.without(string.place);
            let line = rest.nearest()?;
            Some((string.place, rest, line))
        })
        .collect();
    each.sort_by(|(_, _, one), (_, _, other)| one.miss_mm.total_cmp(&other.miss_mm));
    let mut each = each.into_iter();
    let (place, rest, without) = each.next()?;
    // where it might as well be another string, it is no one string's notch
    let is_the_one = each.next().is_none_or(|(_, _, second)| second.miss_mm > without.miss_mm + SAME_MM);
    let left_out = across.strings.iter().find(|string| string.place == place)?;
    let off = (left_out.wish.mm - without.line.at(left_out.wish.position)).abs();
    let is_half = without.miss_mm <= line.miss_mm / 2.0;
    (is_the_one && is_half && off > allowed).then_some((place, rest, without))
}

/// What each string's own notch is off once the posts are set, mm: plus is to be deepened.
pub(in crate::setup::plan) fn notches_off(fit: &Fit) -> Vec<(usize, f64)> {
    let (_, line) = fit.set();
    fit.across
        .strings
        .iter()
        .map(|string| (string.place, string.wish.mm - line.line.at(string.wish.position)))
        .collect()
}

/// What `cut` is asked of the notches that are deepened: their heights at the 12th as they will stand once the posts
/// are set.
pub(in crate::setup::plan) fn notches_cut_input(bench: &Bench<'_>, fit: &Fit, deepened: &[usize]) -> CutInput {
    let (_, line) = fit.set();
    let strings = (0..bench.strings.len()).map(|place| {
        let action = bench.action(place).filter(|_| deepened.contains(&(place + 1)));
        let moved = line.line.at(bench.position_mm(place)) / bench.saddle_factor(place);
        CutString {
            position_mm: Some(bench.position_mm(place)),
            action_12_mm: action.map(|action| (action.value - moved).max(0.0)),
            target_mm: bench.action_target(place),
            standard_uncertainty_mm: action.map_or(0.0, |action| action.uncertainty),
            degrees_of_freedom: action.and_then(|action| action.freedom),
            repeats: action.map(|action| action.repeats),
            ..bench.run_of(place)
        }
    });
    CutInput {
        strings: strings.collect(),
        first_pass_risk: bench.risk_of_the_chosen(),
        ..bench.cut_input(CutPlace::Saddle)
    }
}

pub(super) fn look(bench: &Bench<'_>, judged: &Judged, walk: &mut Walk, off: &Off) {
    let Some(fit) = fit(bench) else { return };
    let (across, line) = fit.set();
    let set = across.ends(line, fit.at);
    let moves = set.mm.treble.abs().max(set.mm.bass.abs()) >= LEAST_MOVE_MM;
    let notches = Notches::of(bench, &fit);
    if !moves && notches.is_empty() {
        let words = "One bridge stands as near to all of them as its posts bring it: it is left.";
        report_left(bench, walk, &off.high, Way::Down, words);
        report_left(bench, walk, &off.low, Way::Up, words);
        return;
    }
    report(bench, walk, &off.high, Way::Down, Some("setup"));
    report(bench, walk, &off.low, Way::Up, Some("setup"));
    let ended = held_back(bench, judged, &fit);
    if !ended.is_empty() && travel_ends(bench, walk, &ended) {
        return;
    }
    walk.caution(Stage::BridgeAdjusted, "string-tension");
    if moves {
        let (first, last) = across.outer();
        let goes_down = line.line.at(first) + line.line.at(last) > -SAME_MM;
        let key = if goes_down { "saddle-high" } else { "saddle-low" };
        let words = words(bench, &fit, &set, finish(bench));
        let down = posts_down(bench, &fit);
        let todo = Todo::adjusting(Stage::BridgeAdjusted, key, words, Adjustment::Posts(Box::new(down)));
        walk.step(todo.while_waiting(TURN_LATER).expecting_while_waiting(removal_forecast(bench, walk)));
    }
    notches.steps(bench, walk);
}

/// Strings that stay high because a post can go no further.
fn held_back(bench: &Bench<'_>, judged: &Judged, fit: &Fit) -> Vec<usize> {
    let free = Across { limits: None, ..fit.across.clone() };
    let Some(unheld) = free.nearest().filter(|_| fit.across.limits.is_some()) else {
        return Vec::new();
    };
    let high = judged.heights_that(Stand::High);
    let stays = |place: usize| {
        let position = bench.position_mm(place);
        let allowed = bench.targets.action_tolerance_mm * bench.saddle_factor(place);
        unheld.line.at(position) - fit.line.line.at(position) > allowed
    };
    high.into_iter().filter(|number| stays(number - 1)).collect()
}

fn said_ends(bench: &Bench<'_>, fit: &Fit, mm: Ends) -> String {
    let pitch = bench.input.instrument.screw_pitch_mm.filter(|_| fit.posts_known);
    let said = |mm: f64| match pitch {
        Some(pitch) => format!("{} ({})", said_way(mm), said_turns(eighths(mm, pitch))),
        None => said_way(mm),
    };
    let (treble, bass) = (said(mm.treble), said(mm.bass));
    if fit.posts_known {
        return format!("the treble post {treble}, the bass post {bass}");
    }
    let strings = (fit.across.strings.first(), fit.across.strings.last());
    let number = |string: Option<&StringWish>| string.map_or(1, |string| string.place + 1);
    format!("{treble} under string {}, {bass} under string {}", number(strings.0), number(strings.1))
}

fn words(bench: &Bench<'_>, fit: &Fit, set: &EndAmounts, finish: &str) -> String {
    let left_out = fit.without.as_ref().map_or_else(String::new, |(place, ..)| {
        format!(
            " String {} is left out: no post reaches it without drawing the others away, and its own notch is the matter.",
            place + 1
        )
    });
    let finish = match bench.input.instrument.screw_pitch_mm {
        None => {
            format!("Down, towards the top lowers the strings: read after half a turn, and the turns follow. {finish}")
        }
        Some(_) => finish.to_owned(),
    };
    format!("Slacken, then turn the posts: {}.{left_out} {finish}", said_ends(bench, fit, set.mm))
}

fn posts_down(bench: &Bench<'_>, fit: &Fit) -> PostsDown {
    let (across, line) = fit.set();
    let pitch = bench.input.instrument.screw_pitch_mm;
    let turns = |mm: Ends| pitch.map(|pitch| Ends { treble: eighths(mm.treble, pitch), bass: eighths(mm.bass, pitch) });
    let all = fit.across.ends(&fit.line, fit.at);
    let without = fit.without.as_ref().map(|(place, across, line)| {
        let ends = across.ends(line, fit.at).mm;
        let position = bench.position_mm(*place);
        let wished =
            fit.across.strings.iter().find(|string| string.place == *place).map_or(0.0, |string| string.wish.mm);
        PostsWithout {
            string: place + 1,
            treble_mm: ends.treble,
            bass_mm: ends.bass,
            turns: turns(ends),
            miss_mm: line.miss_mm,
            notch_mm: wished - line.line.at(position),
        }
    });
    let under = |place: usize| fit.across.strings.iter().find(|string| string.place == place);
    let read = |place: usize| under(place).map(|string| line.line.at(string.wish.position));
    let unsure = |place: usize| {
        under(place).map(|string| across.ends(line, (string.wish.position, string.wish.position)).expanded_mm.treble)
    };
    let places = 0..bench.strings.len();
    let set = across.ends(line, fit.at).mm;
    PostsDown {
        down: StringAmounts { mm: places.clone().map(read).collect(), expanded_mm: places.map(unsure).collect() },
        posts: fit.posts_known.then_some(all),
        turns: turns(all.mm).filter(|_| fit.posts_known),
        miss_mm: fit.line.miss_mm,
        without,
        travel_left: across
            .limits
            .map(|limits| Ends { treble: limits.most.0 - set.treble, bass: limits.most.1 - set.bass }),
    }
}

/// What the posts leave to single strings, from 1.
struct Notches {
    too_deep: Vec<usize>,
    /// With what is asked of them, and what comes off.
    deepened: Vec<usize>,
    amounts: CutOutput,
}

impl Notches {
    fn of(bench: &Bench<'_>, fit: &Fit) -> Self {
        let expanded = |place: usize| bench.action(place).map_or(0.0, |read| read.expanded);
        let stays_off = |(place, off): &(usize, f64)| {
            let allowed = bench.targets.action_tolerance_mm + expanded(*place);
            off.abs() > allowed * bench.saddle_factor(*place)
        };
        let off: Vec<(usize, f64)> = notches_off(fit).into_iter().filter(stays_off).collect();
        let of_sign = |sign: f64| -> Vec<usize> {
            off.iter().filter(|(_, off)| off * sign > 0.0).map(|(place, _)| place + 1).collect()
        };
        let shallow = of_sign(1.0);
        let amounts = worked_out(&notches_cut_input(bench, fit, &shallow));
        let is_sure =
            |number: &usize| amounts.strings.get(*number - 1).is_some_and(|string| string.first_pass_mm > 0.0);
        let deepened = shallow.into_iter().filter(is_sure).collect();
        // each notch by itself: no straight cut at a foot
        let mut amounts = CutOutput { foot: None, foot_first_pass: None, raise: Vec::new(), ..amounts };
        for string in &mut amounts.strings {
            string.on_top_mm = None;
        }
        Self { too_deep: of_sign(-1.0), deepened, amounts }
    }

    fn is_empty(&self) -> bool {
        self.too_deep.is_empty() && self.deepened.is_empty()
    }

    fn steps(self, bench: &Bench<'_>, walk: &mut Walk) {
        if !self.too_deep.is_empty() {
            let words = format!(
                "The notch of {} is too deep for the others: fill it and cut it again, or exchange that part of the bridge. Quote what the bench finds.",
                said_strings(&self.too_deep, bench.strings.len())
            );
            walk.step(Todo::offer(Stage::Bridge, "saddle-low", words));
        }
        if self.deepened.is_empty() {
            return;
        }
        lonely(bench, walk, &self.deepened);
        walk.caution(Stage::Bridge, "string-tension");
        let pass = |number: &usize| Some((*number, self.amounts.strings.get(*number - 1)?.first_pass_mm));
        let words = format!(
            "What the posts leave is the string's own notch: deepen it, ramped towards the tail, first pass {}. String back in, tuned; read the height again before the rest.",
            said_amounts(self.deepened.iter().filter_map(pass))
        );
        let todo = Todo::removing(Stage::Bridge, "saddle-high", words, Removal::Cut(Box::new(self.amounts)));
        walk.step(todo.while_waiting(NOTCH_LATER));
    }
}
