//! After the work: the final readings against what the plan led to expect.
//!
//! Where the plan had work, its house's target band is expected; where it had none, what was read before,
//! moved by what the steps upstream do. A place whose reading, with its expanded uncertainty, reaches
//! neither becomes part of a finding that weighs the likely reasons and says which to check first.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::bench::Bench;
use super::built::BridgeKind;
use super::input::{PlanAir, PlanInput, Readings};
use super::intonation::CENTS_PER_LENGTH;
use super::output::{Cause, Finding, PlanOutput, Range, Severity, Step, StepState};
use super::plan;
use super::read::{Read, StringRead};
use super::relief;
use super::targets::HouseTargets;
use super::walk::{range, said_strings};
use crate::problem::Problems;
use crate::setup::air::moisture_content_percent;
use crate::setup::reading::supported;

/// Air that asks for this much more or less moisture, % of dry mass, is other air. Chosen here: about six
/// points of humidity, more than a room's daily swing and a gauge's error.
const OTHER_AIR_PERCENT: f64 = 1.0;

/// What the final readings say of the plan.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct AfterWork {
    /// Every place that was read stands where it was expected; false where nothing was read.
    pub proved: bool,
    /// Places that were read before the work and not again.
    pub unread: usize,
    /// Place by place.
    pub places: Vec<ComparedPlace>,
    /// `not-as-forecast`, once for each quantity that is off, with its likely reasons.
    pub findings: Vec<Finding>,
}

/// One place before and after.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ComparedPlace {
    /// `relief_mm`, `gap_at_1_stopped_at_3_mm`, or where no gap was read `first_fret_mm`, `action_12_mm`;
    /// `cents_at_12`, whose numbers are cents.
    pub quantity: String,
    /// From 1; null for relief.
    pub string: Option<usize>,
    /// What the plan led to expect, mm.
    pub expected_mm: Range,
    /// What the house wishes there, mm.
    pub wished_mm: Range,
    /// Read, mm.
    pub value_mm: f64,
    /// Of the reading, mm.
    pub expanded_mm: f64,
    /// Whether the two meet.
    pub proved: bool,
}

impl ComparedPlace {
    fn new(quantity: &str, string: Option<usize>, expected: Range, good: Range, read: Read) -> Self {
        let meets = |band: Range| read.value + read.expanded >= band.least && read.value - read.expanded <= band.most;
        Self {
            quantity: quantity.to_owned(),
            string,
            expected_mm: expected,
            wished_mm: good,
            value_mm: read.value,
            expanded_mm: read.expanded,
            // better than expected is no fault
            proved: meets(expected) || meets(good),
        }
    }

    /// How far the reading lies over (plus) or under (minus) what was expected, mm.
    fn off_mm(&self) -> f64 {
        self.value_mm - self.value_mm.clamp(self.expected_mm.least, self.expected_mm.most)
    }
}

/// Compares final readings with what the plan of the first readings led to expect; without first readings
/// with what the house wishes. `left_alone` are the findings whose work was declined or not done: what they
/// were about is expected as it was.
///
/// # Errors
/// When a number of either input is out of range, or the two are not of one instrument's size.
pub fn compare_after_work(
    before: Option<&PlanInput>,
    finals: &PlanInput,
    house: &HouseTargets,
    left_alone: &[String],
) -> Result<AfterWork, Problems> {
    match before {
        Some(before) => compare(before, finals, house, |planned| Worked::of(planned, left_alone)),
        None => {
            // nothing was read before: every place is new, and only the house's wishes are known
            let unread = PlanInput { readings: Readings::default(), ..finals.clone() };
            compare(&unread, finals, house, |planned| Worked::of(planned, left_alone))
        }
    }
}

/// The same after the step in hand alone: what the plan left for later is expected as it was, moved by what the
/// step does to it. A saddle may stand anywhere between its first pass and its target.
///
/// # Errors
/// As [`compare_after_work`].
pub fn compare_after_step(before: &PlanInput, after: &PlanInput, house: &HouseTargets) -> Result<AfterWork, Problems> {
    compare(before, after, house, Worked::in_hand)
}

fn compare(
    before: &PlanInput,
    finals: &PlanInput,
    house: &HouseTargets,
    worked: impl FnOnce(&PlanOutput) -> Worked,
) -> Result<AfterWork, Problems> {
    let planned = plan(before, house)?;
    let (first, last) = (Bench::read(before, house)?, Bench::read(finals, house)?);
    let mut problems = Problems::default();
    problems.require(
        first.strings.len() == last.strings.len(),
        "/instrument/strings",
        "must be as many as before the work",
    );
    problems.check()?;
    let comparison = Comparison { worked: worked(&planned), first, last };
    let all =
        [comparison.relief(), comparison.gaps(), comparison.first_frets(), comparison.actions(), comparison.cents()];
    let places: Vec<ComparedPlace> = all.into_iter().flatten().collect();
    let findings = ["relief_mm", "gap_at_1_stopped_at_3_mm", "first_fret_mm", "action_12_mm", "cents_at_12"];
    Ok(AfterWork {
        proved: !places.is_empty() && places.iter().all(|place| place.proved),
        unread: comparison.unread(),
        findings: findings.into_iter().filter_map(|quantity| comparison.finding(quantity, &places)).collect(),
        places,
    })
}

/// Which places the plan had work for.
#[derive(Debug, Clone)]
struct Worked {
    relief: bool,
    nut: bool,
    saddle: bool,
    intonation: bool,
    /// What a first pass takes off the saddle under each string, mm, where it may have been left at that.
    first_pass_mm: Vec<f64>,
    /// How far the bridge came down under each string, mm, where it was turned: one bridge on two posts does not
    /// bring every string to its target.
    turned_mm: Vec<Option<f64>>,
    /// How far a bridge that moved whole may be from where the worst string wishes it, mm.
    bridge_miss_mm: f64,
}

impl Worked {
    fn by<'s>(steps: impl Iterator<Item = &'s Step> + Clone) -> Self {
        let has = |keys: [&str; 2]| steps.clone().any(|step| keys.contains(&step.key.as_str()));
        Self {
            relief: has(["relief-too-much", "relief-too-little"]),
            nut: has(["nut-high", "nut-low"]),
            saddle: has(["saddle-high", "saddle-low"]),
            intonation: has(["intonation-off"; 2]),
            first_pass_mm: Vec::new(),
            turned_mm: steps.clone().find_map(|step| step.turn_down_mm.clone()).unwrap_or_default(),
            bridge_miss_mm: steps.clone().filter_map(|step| step.move_bridge_miss_mm).fold(0.0, f64::max),
        }
    }

    /// A plan that stopped had none: what was offered instead is another job.
    fn of(planned: &PlanOutput, left_alone: &[String]) -> Self {
        let is_done = |step: &&Step| step.state != StepState::Offer && !left_alone.contains(&step.key);
        Self::by(planned.steps.iter().filter(is_done))
    }

    /// Only what may be done now.
    fn in_hand(planned: &PlanOutput) -> Self {
        let now = planned.steps.iter().filter(|step| step.state == StepState::Now);
        let passes = now.clone().filter(|step| step.key == "saddle-high").find_map(|step| step.cut.as_ref());
        Self {
            first_pass_mm: passes
                .map(|cut| cut.strings.iter().map(|string| string.first_pass_mm).collect())
                .unwrap_or_default(),
            ..Self::by(now)
        }
    }
}

struct Comparison<'a> {
    worked: Worked,
    first: Bench<'a>,
    last: Bench<'a>,
}

impl Comparison<'_> {
    fn relief(&self) -> Vec<ComparedPlace> {
        let targets = &self.first.targets;
        let good = Range { least: targets.relief_least_mm, most: targets.relief_most_mm };
        let expected = self.first.relief.filter(|_| !self.worked.relief).map_or(good, as_before);
        let place = |read: Read| {
            let compared = ComparedPlace::new("relief_mm", None, expected, good, read);
            // a rod is turned until relief is in its range: that it moved there is not enough
            let is_there = !self.worked.relief || (good.least..=good.most).contains(&read.value);
            ComparedPlace { proved: compared.proved && is_there, ..compared }
        };
        self.last.relief.map(place).into_iter().collect()
    }

    /// The change of relief the rod was to make, mm.
    fn relief_change_mm(&self) -> f64 {
        match self.first.relief {
            Some(relief) if self.worked.relief => self.first.targets.relief_mm - relief.value,
            _ => 0.0,
        }
    }

    fn gaps(&self) -> Vec<ComparedPlace> {
        let targets = &self.first.targets;
        let good = Range { least: targets.gap_least_mm, most: targets.gap_most_mm };
        let strings = self.first.strings.iter().zip(&self.last.strings).enumerate();
        let places = strings.filter_map(|(place, (before, after))| {
            let felt = relief::felt(self.first.frame(place).relief_at_gap(), self.relief_change_mm());
            let expected = match before.gap {
                Some(gap) if !self.worked.nut => moved(gap, felt),
                _ => good,
            };
            Some(ComparedPlace::new("gap_at_1_stopped_at_3_mm", Some(place + 1), expected, good, after.gap?))
        });
        places.collect()
    }

    fn actions(&self) -> Vec<ComparedPlace> {
        let tolerance = self.first.targets.action_tolerance_mm;
        let strings = self.first.strings.iter().zip(&self.last.strings).enumerate();
        let places = strings.filter_map(|(place, (before, after))| {
            let target = self.first.action_target(place);
            let good = Range { least: target - tolerance, most: target + tolerance };
            let expected = match before.action {
                Some(action) if !self.worked.saddle => self.left_alone(place, action, before, after),
                Some(action) => self.brought_down(place, action, good),
                None => good,
            };
            Some(ComparedPlace::new("action_12_mm", Some(place + 1), expected, good, after.action?))
        });
        places.collect()
    }

    /// A height whose bridge was not touched: what came off the nut is felt there, and what the rod did.
    fn left_alone(&self, place: usize, action: Read, before: &StringRead, after: &StringRead) -> Range {
        let felt = relief::felt_at_12(&self.first, place, self.relief_change_mm());
        let frame = self.first.frame(place);
        let nut = before.gap.zip(after.gap).filter(|_| self.worked.nut);
        let nut_mm = nut.map_or(0.0, |(before, after)| {
            let change = frame.nut_from_gap_mm(after.value) - frame.nut_from_gap_mm(before.value);
            change * frame.felt_from_nut(12, self.first.setback_mm(place))
        });
        moved(action, Range { least: felt.least + nut_mm, most: felt.most + nut_mm })
    }

    /// A height whose bridge was worked on: at its target, or as far down as a first pass or two posts bring it.
    fn brought_down(&self, place: usize, action: Read, good: Range) -> Range {
        let factor = self.first.saddle_factor(place);
        let pass = self.worked.first_pass_mm.get(place).map(|pass| action.value - pass / factor);
        let turned = self.worked.turned_mm.get(place).copied().flatten().map(|down| action.value - down / factor);
        let expected =
            Range { least: good.least, most: good.most.max(pass.map_or(good.most, |mm| mm + action.expanded)) };
        turned.map_or(expected, |mm| Range {
            least: expected.least.min(mm - action.expanded),
            most: expected.most.max(mm + action.expanded),
        })
    }

    /// Open heights over the 1st, where no gap tells of the nut. What the saddle's change does there is small
    /// and known from the heights at the 12th.
    fn first_frets(&self) -> Vec<ComparedPlace> {
        let tolerance = self.first.targets.first_fret_tolerance_mm;
        let strings = self.first.strings.iter().zip(&self.last.strings).enumerate();
        let places = strings.filter_map(|(place, (before, after))| {
            let frame = self.first.frame(place);
            let share = frame.felt_from_saddle(frame.own(1), 0.0) / frame.felt_from_saddle(12, 0.0);
            let target = self.first.first_target(place);
            let good = Range { least: target - tolerance, most: target + tolerance };
            let expected = match before.first {
                Some(first) if !self.worked.nut => {
                    let moved_mm =
                        before.action.zip(after.action).map_or(0.0, |(was, is)| (is.value - was.value) * share);
                    moved(first, Range { least: moved_mm, most: moved_mm })
                }
                _ => good,
            };
            let read = after.first.filter(|_| after.gap.is_none())?;
            Some(ComparedPlace::new("first_fret_mm", Some(place + 1), expected, good, read))
        });
        places.collect()
    }

    /// Cents at the 12th, where they were set or were right before: what the heights alone do to cents that
    /// were off and were left alone is not foretold closely enough to judge by.
    fn cents(&self) -> Vec<ComparedPlace> {
        let tolerance = self.first.targets.cents_tolerance;
        let strings = self.first.strings.iter().zip(&self.last.strings).enumerate();
        let places = strings.filter_map(|(place, (before, after))| {
            let left = self.worked.bridge_miss_mm * CENTS_PER_LENGTH / self.first.frame(place).scale_mm();
            let good = Range { least: -tolerance, most: tolerance };
            let expected = Range { least: good.least - left, most: good.most + left };
            let was_right = before.cents.is_none_or(|cents| cents.value.abs() - cents.expanded <= tolerance);
            let read = after.cents.filter(|_| self.worked.intonation || was_right)?;
            Some(ComparedPlace::new("cents_at_12", Some(place + 1), expected, good, read))
        });
        places.collect()
    }

    /// Places read before and not after.
    fn unread(&self) -> usize {
        let lost = |before: Option<Read>, after: Option<Read>| usize::from(before.is_some() && after.is_none());
        let strings = self.first.strings.iter().zip(&self.last.strings).map(|(before, after)| {
            // either reading at the nut tells of it
            let nut = |string: &StringRead| string.gap.or(string.first);
            lost(before.action, after.action) + lost(nut(before), nut(after)) + lost(before.cents, after.cents)
        });
        lost(self.first.relief, self.last.relief) + strings.sum::<usize>()
    }

    fn finding(&self, quantity: &str, places: &[ComparedPlace]) -> Option<Finding> {
        let of: Vec<&ComparedPlace> = places.iter().filter(|place| place.quantity == quantity).collect();
        let off: Vec<&ComparedPlace> = of.iter().copied().filter(|place| !place.proved).collect();
        let worst = off.iter().max_by(|one, other| one.off_mm().abs().total_cmp(&other.off_mm().abs()))?;
        let strings: Vec<usize> = off.iter().filter_map(|place| place.string).collect();
        let what = match quantity {
            "relief_mm" => "Relief".to_owned(),
            "action_12_mm" => format!("The height at the 12th on {}", said_strings(&strings, of.len())),
            "first_fret_mm" => format!("The height at the 1st on {}", said_strings(&strings, of.len())),
            "cents_at_12" => format!("The intonation of {}", said_strings(&strings, of.len())),
            _ => format!("The gap over the 1st on {}", said_strings(&strings, of.len())),
        };
        let unit = if quantity == "cents_at_12" { "cents" } else { "mm" };
        let words = format!(
            "{what} is not where the plan led to expect: {} {unit} at worst, where {:.2} to {:.2} {unit} was expected.",
            supported(worst.value_mm, worst.expanded_mm),
            worst.expected_mm.least,
            worst.expected_mm.most
        );
        let numbers = [
            ("value", worst.value_mm),
            ("expanded", worst.expanded_mm),
            ("expected_least", worst.expected_mm.least),
            ("expected_most", worst.expected_mm.most),
        ];
        Some(Finding {
            key: "not-as-forecast".to_owned(),
            severity: Severity::Work,
            words,
            strings,
            numbers: numbers.into_iter().map(|(name, value)| (format!("{name}_{unit}"), value)).collect(),
            causes: self.causes(quantity, &of, &off, places),
            service: None,
        })
    }

    /// The likely reasons: what the readings show first, then what they are silent of, then what they speak
    /// against; within each the least costly check first.
    fn causes(
        &self,
        quantity: &str,
        of: &[&ComparedPlace],
        off: &[&ComparedPlace],
        places: &[ComparedPlace],
    ) -> Vec<Cause> {
        let mut weighed = vec![misread(of, off), self.other_tuning(), self.other_air(off)];
        if quantity != "relief_mm" {
            weighed.push(self.relief_moved(places));
        }
        if quantity == "action_12_mm" && self.first.bridge == Some(BridgeKind::FixedSaddle) {
            weighed.push(self.saddle_seat(of, off));
        }
        weighed.sort_by_key(|(doubt, cost, _)| (*doubt, *cost));
        weighed.into_iter().map(|(_, _, cause)| cause).collect()
    }

    fn other_tuning(&self) -> Weighed {
        let check = "Tune every string to the pitch it was planned for, and read again.";
        let strings = |bench: &Bench<'_>| bench.input.instrument.strings.clone();
        let (before, after) = (strings(&self.first), strings(&self.last));
        let known = before.iter().chain(&after).all(|string| string.pitch.is_some());
        let same = before.iter().zip(&after).all(|(before, after)| {
            (&before.pitch, before.diameter_mm, before.material) == (&after.pitch, after.diameter_mm, after.material)
        });
        match (same, known) {
            (false, _) => {
                weighed(SHOWN, 0, "other-tuning", "The strings or their tuning are not those of before.", check)
            }
            (true, true) => {
                weighed(AGAINST, 0, "other-tuning", "Less likely: strings and tuning are noted as before.", check)
            }
            (true, false) => {
                weighed(SILENT, 0, "other-tuning", "Another tuning pulls the neck and top differently.", check)
            }
        }
    }

    fn other_air(&self, off: &[&ComparedPlace]) -> Weighed {
        let check = "Read the air; if it changed, let the instrument settle in it and read again.";
        let Some((before, after)) = self.first.input.air.zip(self.last.input.air) else {
            return weighed(SILENT, 1, "air-changed", "Dry air lowers the strings, damp air raises them.", check);
        };
        let moisture = |air: PlanAir| moisture_content_percent(air.temperature_c, air.rh_percent);
        let change = moisture(after) - moisture(before);
        let read = format!("the air was at {:.0} % before and {:.0} % after", before.rh_percent, after.rh_percent);
        // dry lowers, damp raises; relief is not judged by a sign
        let fits = off.iter().all(|place| place.string.is_none() || place.off_mm() * change > 0.0);
        if change.abs() >= OTHER_AIR_PERCENT && fits {
            weighed(SHOWN, 1, "air-changed", &format!("The air changed, and the right way: {read}."), check)
        } else {
            weighed(AGAINST, 1, "air-changed", &format!("Less likely: {read}."), check)
        }
    }

    fn relief_moved(&self, places: &[ComparedPlace]) -> Weighed {
        let check = "Read relief again, tuned to pitch; the neck may still be settling.";
        let relief = places.iter().find(|place| place.quantity == "relief_mm");
        match relief {
            None => weighed(SILENT, 1, "relief-moved", "Relief was not read after the work.", check),
            Some(relief) if relief.proved => {
                let reason = format!("Less likely: relief reads {:.2} mm, as expected.", relief.value_mm);
                weighed(AGAINST, 1, "relief-moved", &reason, check)
            }
            Some(relief) => {
                let reason = format!("Relief reads {:.2} mm, which was not expected.", relief.value_mm);
                weighed(SHOWN, 1, "relief-moved", &reason, check)
            }
        }
    }

    /// A bar that does not sit down lifts every string; one that is not square lifts an end.
    fn saddle_seat(&self, of: &[&ComparedPlace], off: &[&ComparedPlace]) -> Weighed {
        let check = "Slacken, look under the saddle for dust and light, and try its foot for square.";
        let touched = self.worked.saddle;
        let all_high = off.len() == of.len() && off.iter().all(|place| place.off_mm() > 0.0);
        let ends = of.first().zip(of.last()).map(|(treble, bass)| (treble.proved, bass.proved));
        let (doubt, reason) = match ends {
            _ if !touched => (AGAINST, "Less likely: the plan had no work at the saddle."),
            _ if all_high => {
                (SHOWN, "Every string stands higher than expected: the saddle may not sit down in its slot.")
            }
            Some((treble, bass)) if treble != bass && off.len() > 1 => {
                (SHOWN, "Only one side is off: the saddle may not be square, or not sit down at that end.")
            }
            _ => (SILENT, "The saddle may not be seated or not square."),
        };
        weighed(doubt, 2, "saddle-not-seated", reason, check)
    }
}

/// How sure a reason is, what its check costs, and the reason.
type Weighed = (u8, u8, Cause);
const SHOWN: u8 = 0;
const SILENT: u8 = 1;
const AGAINST: u8 = 2;

fn weighed(doubt: u8, cost: u8, key: &str, reason: &str, check: &str) -> Weighed {
    (doubt, cost, Cause { key: key.to_owned(), reason: reason.to_owned(), check: check.to_owned() })
}

/// One string off among neighbours that are right is most often the reading.
fn misread(of: &[&ComparedPlace], off: &[&ComparedPlace]) -> Weighed {
    let check = "Read it again, three times, tuned to pitch.";
    if off.len() == 1 && of.len() > 2 {
        weighed(SHOWN, 0, "misreading", "Only one string is off and its neighbours are right.", check)
    } else {
        weighed(SILENT, 0, "misreading", "A reading that is repeated costs the least.", check)
    }
}

fn as_before(read: Read) -> Range {
    range(read.value, read.value, read.expanded)
}

fn moved(read: Read, felt: Range) -> Range {
    range(read.value + felt.least, read.value + felt.most, read.expanded)
}
