//! The neck's joint: what a wrong height asks of it, once the bridge can go no further.

use super::bench::Bench;
use super::built::NeckJoint;
use super::read::as_number;
use super::walk::{Stage, Todo, Walk};
use crate::setup::neck_shim::{NeckPocket, ShimAt, USUAL_POCKET_MM};

/// A shim, and what it follows from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Shim {
    pub(super) at: ShimAt,
    pub(super) pocket: NeckPocket,
    /// What the strings are to come down at the saddle, mm; minus is up.
    pub(super) change_mm: f64,
    pub(super) saddle_at_mm: f64,
    pub(super) angle: f64,
    pub(super) thickness_mm: f64,
}

/// What each string that was read well ought to come down at the bridge, mm; minus is up.
pub(super) fn wishes(bench: &Bench<'_>) -> Vec<(usize, f64)> {
    let wish = |place: usize| {
        let action = bench.action(place)?;
        Some((place, (action.value - bench.action_target(place)) * bench.saddle_factor(place)))
    };
    (0..bench.strings.len()).filter_map(wish).collect()
}

/// The same under every string is the neck's; what differs from string to string stays the bridge's.
fn change_mm(bench: &Bench<'_>) -> Option<f64> {
    let wishes = wishes(bench);
    (!wishes.is_empty()).then(|| wishes.iter().map(|(_, wish)| wish).sum::<f64>() / as_number(wishes.len()))
}

/// The shim that the heights ask for; `None` where the neck is not bolted, nothing was read, or nothing is wished.
pub(super) fn shim(bench: &Bench<'_>) -> Option<Shim> {
    let instrument = &bench.input.instrument;
    if instrument.neck_joint != Some(NeckJoint::Bolted) {
        return None;
    }
    let change = change_mm(bench)?;
    let is_off = change.abs() > bench.targets.action_tolerance_mm * bench.saddle_factor(0);
    let frame = bench.frame(0);
    let front = frame.position_mm(instrument.body_fret);
    let pocket = instrument.neck_pocket_mm.unwrap_or(NeckPocket { front, rear: front + USUAL_POCKET_MM });
    let saddle_at_mm = bench.saddle_at_mm(0);
    let at = if change > 0.0 { ShimAt::Rear } else { ShimAt::Front };
    let (angle, thickness_mm) = pocket.shim(at, change.abs(), saddle_at_mm, 0.0);
    let is_possible = pocket.rear < saddle_at_mm && thickness_mm.is_finite();
    (is_off && is_possible).then_some(Shim { at, pocket, change_mm: change, saddle_at_mm, angle, thickness_mm })
}

/// Offers the shim, with its thickness where the heights tell it.
pub(super) fn offer_shim(bench: &Bench<'_>, walk: &mut Walk, stage: Stage, key: &'static str) {
    let words = match shim(bench) {
        Some(Shim { at: ShimAt::Rear, thickness_mm, .. }) => format!(
            "Quote a shim under the neck: a taper over the whole pocket, {thickness_mm:.2} mm at its rear edge and nothing at the front. Then relief, heights and intonation anew."
        ),
        Some(Shim { at: ShimAt::Front, thickness_mm, .. }) => format!(
            "Look for a shim that lies there already and take it out; else quote one: a taper over the whole pocket, {thickness_mm:.2} mm at its front edge and nothing at the rear. Then relief, heights and intonation anew."
        ),
        None => "Quote a shim under the neck; how thick follows from the heights, once they are read with the bridge in the middle of its travel.".to_owned(),
    };
    let thickness_mm = shim(bench).map(|shim| shim.thickness_mm);
    walk.step(Todo::offer_shim(stage, key, words, thickness_mm));
}
