//! Structure: what a setup cannot mend. Each ends cutting and becomes an offer that fits how the instrument is built.

use super::bench::Bench;
use super::built::{BridgeKind, NeckJoint, PlanRod};
use super::judged::Judged;
use super::neck;
use super::observation::ObservationKey;
use super::output::Severity;
use super::stand::Stand;
use super::walk::{Found, Holds, Stage, Todo, Walk};

/// Relief that a neck without a rod may have beyond the most that is wished before the neck itself is the matter, mm.
/// Common practice, no source.
const MORE_THAN_BENDS_MM: f64 = 0.15;

pub(super) fn look(bench: &Bench<'_>, judged: &Judged, walk: &mut Walk) {
    for key in [ObservationKey::Crack, ObservationKey::BridgeLifting, ObservationKey::BraceLoose] {
        if bench.has(key) {
            broken(bench, walk, key);
        }
    }
    if bench.has(ObservationKey::NeckAngle) {
        neck_angle(bench, walk);
    }
    back_bow(bench, judged, walk);
    neck_bends(bench, judged, walk);
}

fn broken(bench: &Bench<'_>, walk: &mut Walk, key: ObservationKey) {
    let glued_bridge = bench.bridge.is_none_or(|bridge| bridge == BridgeKind::FixedSaddle);
    let (words, offer, service) = match key {
        ObservationKey::BridgeLifting if glued_bridge => (
            "The bridge is lifting. Heights read now are those of a bridge on its way off.",
            "Quote the bridge: take it off cleanly and glue it again.",
            Some("bridge-reglue"),
        ),
        ObservationKey::BridgeLifting => (
            "The bridge is lifting though it is not glued down: what holds it, screws, posts or feet, gives way.",
            "Slacken, look at what holds the bridge, and quote what it needs.",
            None,
        ),
        ObservationKey::BraceLoose if !bench.family().has_braces() => (
            "A loose brace was noted, and this body has none: something else inside is loose.",
            "Look what rattles, and quote what it needs.",
            None,
        ),
        ObservationKey::BraceLoose => (
            "A brace is loose. The top moves where it should hold.",
            "Quote the brace: glue it from inside.",
            Some("brace-reglue"),
        ),
        _ if !bench.has_wooden_top() => (
            "There is a crack. Strings pull on it whatever the setup says.",
            "Look whether it is in the finish or goes into the wood, and quote its repair.",
            Some("crack-repair"),
        ),
        _ => (
            "There is a crack. Strings pull on it whatever the setup says.",
            "Quote the crack's repair: bring the moisture back first, then glue and cleat.",
            Some("crack-repair"),
        ),
    };
    let found = Found::new(key.key(), Severity::Stop, format!("{words} This is beyond a setup."));
    walk.find(Stage::Structure, found.on(bench.strings_seen(key)).service(service));
    walk.caution(Stage::Structure, "slacken-before-glue");
    walk.step(Todo::offer(Stage::Structure, key.key(), offer));
}

/// The neck's line points away from the bridge: what that asks for hangs on how the neck is joined.
fn neck_angle(bench: &Bench<'_>, walk: &mut Walk) {
    const KEY: &str = "neck-angle";
    let found = |severity, words: &str| Found::new(KEY, severity, words);
    match bench.input.instrument.neck_joint {
        Some(NeckJoint::Bolted) => {
            let words = "The neck's line points below the bridge. No saddle mends that angle; a shim in the neck's pocket does.";
            walk.find(Stage::Structure, found(Severity::Stop, words).service("neck-shim"));
            walk.caution(Stage::Structure, "string-tension");
            neck::offer_shim(bench, walk, Stage::Structure, KEY);
        }
        Some(NeckJoint::Rods) => {
            let words = "The neck's line points below the bridge. Its rods trim a few tenths, no more.";
            walk.find(Stage::Structure, found(Severity::Work, words).service("setup"));
            walk.caution(Stage::Structure, "string-tension");
            let step = "Slacken, ease the nuts of the rods, and trim the neck's angle by a quarter turn at a time, both rods alike. Tune, and read the heights again. A wrong angle is not forced straight with them.";
            walk.step(Todo::reversible(Stage::Structure, KEY, step));
        }
        Some(NeckJoint::Through) => {
            let words = "The neck's line points below the bridge. This neck is one piece with the body: its angle cannot be set. This is beyond a setup.";
            walk.find(Stage::Structure, found(Severity::Stop, words));
            let step =
                "Look, tell, decide: a lower bridge, or the board planed to another line. Quote what the bench finds.";
            walk.step(Todo::offer(Stage::Structure, KEY, step));
        }
        None if !bench.family().has_braces() => {
            let words = "The neck's line points below the bridge. No saddle mends that angle. This is beyond a setup.";
            walk.find(Stage::Structure, found(Severity::Stop, words));
            let step = "Look how the neck is joined, and quote what fits: rods trimmed, a shim under a bolted neck, a reset of a glued one.";
            walk.step(Todo::offer(Stage::Structure, KEY, step));
        }
        Some(NeckJoint::Glued) | None => {
            let words = "The neck's line points below the bridge. No saddle mends that angle. This is beyond a setup.";
            walk.find(Stage::Structure, found(Severity::Stop, words).service("neck-reset"));
            walk.caution(Stage::Structure, "slacken-before-glue");
            let step = "Quote a neck reset by a specialist, or leave it as it is.";
            walk.step(Todo::offer(Stage::Structure, KEY, step));
        }
    }
}

/// A neck that bows back has no relief to give: a two-way rod pushes it forward; a one-way rod can only let go.
fn back_bow(bench: &Bench<'_>, judged: &Judged, walk: &mut Walk) {
    const KEY: &str = "back-bow";
    let read = bench.relief.filter(|relief| judged.relief != Stand::Doubted && relief.value + relief.expanded < 0.0);
    let seen = bench.has(ObservationKey::BackBow);
    if read.is_none() && !seen {
        return;
    }
    let rod = bench.input.instrument.truss_rod;
    if rod == PlanRod::TwoWay {
        if read.is_some() || bench.relief.is_none() {
            let words = "The neck bows back. Its rod works both ways and can push it forward.";
            walk.find(Stage::Structure, Found::new(KEY, Severity::Work, words).service("truss-rod"));
        }
        return;
    }
    // the eye alone against a gauge that says otherwise is settled at the relief
    if read.is_none() && bench.relief.is_some_and(|relief| relief.value - relief.expanded > 0.0) {
        return;
    }
    let words = if rod == PlanRod::OneWay {
        "The neck bows back. Its rod works one way: slackened fully, it may come forward by itself; if it does not, this is beyond a setup."
    } else {
        "The neck bows back. It has no rod. This is beyond a setup."
    };
    let mut found = Found::new(KEY, Severity::Stop, words);
    if let Some(relief) = read {
        found = found.with("relief_mm", relief.value).with("expanded_mm", relief.expanded);
    }
    walk.find(Stage::Structure, found.service("neck-heat"));
    if rod == PlanRod::OneWay {
        walk.caution(Stage::Structure, "truss-rod");
        let step = "Slacken the rod fully, tune to pitch, let the neck settle over a night, and read relief again.";
        walk.step(Todo::reversible(Stage::Structure, KEY, step).into_remedy());
    }
    walk.caution(Stage::Structure, "heat");
    let offer = "Quote the neck, where it does not come forward by itself: straightening under heat, or the board and its frets levelled, as the bench finds.";
    walk.step(Todo::offer(Stage::Structure, KEY, offer));
}

/// A neck without a rod that bends more than a setup can live with comes before any slot or saddle.
fn neck_bends(bench: &Bench<'_>, judged: &Judged, walk: &mut Walk) {
    const KEY: &str = "neck-bends";
    let seen = bench.has(ObservationKey::NeckBends);
    let has_rod = bench.input.instrument.truss_rod != PlanRod::None;
    let beyond = bench.targets.relief_most_mm + MORE_THAN_BENDS_MM;
    let read = bench
        .relief
        .filter(|relief| judged.relief == Stand::High && !has_rod && relief.value - relief.expanded > beyond);
    if read.is_none() && !seen {
        return;
    }
    if has_rod || (read.is_none() && judged.relief != Stand::High) {
        bends_by_eye(judged, walk, has_rod);
        return;
    }
    let mut found = Found::new(
        KEY,
        Severity::Stop,
        "The neck bends under the strings and has no rod to hold it. The neck comes first: a saddle that was cut for it would be too low afterwards. This is beyond a setup.",
    );
    if let Some(relief) = read {
        found = found
            .with("relief_mm", relief.value)
            .with("expanded_mm", relief.expanded)
            .with("most_mm", bench.targets.relief_most_mm);
    }
    walk.find(Stage::Structure, found.service("neck-heat"));
    walk.caution(Stage::Structure, "heat");
    let offer = "Look, tell, decide: lighter strings and a second look, straightening under heat, or the board planed with new frets. Quote what the bench finds.";
    walk.step(Todo::offer(Stage::Structure, KEY, offer));
}

/// Seen to bend, where a rod holds it or the gauge says otherwise.
fn bends_by_eye(judged: &Judged, walk: &mut Walk, has_rod: bool) {
    const KEY: &str = "neck-bends";
    let words = "The neck was seen to bend under the strings.";
    walk.find(Stage::Structure, Found::new(KEY, Severity::Watch, words));
    // relief is set, or read, anyway
    let goes_on = has_rod && matches!(judged.relief, Stand::High | Stand::NotRead | Stand::Unsure | Stand::Doubted);
    if goes_on {
        return;
    }
    walk.ask_for("relief_mm");
    let step = "Read relief tuned to pitch and with the strings slack: what comes back is bend under load. Then tell what it is.";
    let settles = "it is known how far the neck bends";
    walk.step(Todo::reading(Stage::Relief, KEY, step, settles, Holds::Everything));
}
