//! Structure: what a setup cannot mend. Each ends cutting and becomes an offer.

use super::bench::Bench;
use super::types::{ObservationKey, PlanRod, Severity};
use super::walk::{Found, Stage, Todo, Walk};

/// Key, what it is, what is offered, the service, the caution.
const FAULTS: &[(ObservationKey, &str, &str, &str, &str)] = &[
    (
        ObservationKey::Crack,
        "There is a crack. Strings pull on it whatever the setup says.",
        "Quote the crack's repair: bring the moisture back first, then glue and cleat.",
        "crack-repair",
        "slacken-before-glue",
    ),
    (
        ObservationKey::BridgeLifting,
        "The bridge is lifting. Heights read now are those of a bridge on its way off.",
        "Quote the bridge: take it off cleanly and glue it again.",
        "bridge-reglue",
        "slacken-before-glue",
    ),
    (
        ObservationKey::BraceLoose,
        "A brace is loose. The top moves where it should hold.",
        "Quote the brace: glue it from inside.",
        "brace-reglue",
        "slacken-before-glue",
    ),
    (
        ObservationKey::NeckAngle,
        "The neck's line points below the bridge. No saddle mends that angle.",
        "Quote a neck reset, or leave it as it is.",
        "neck-reset",
        "slacken-before-glue",
    ),
];

pub(super) fn look(bench: &Bench<'_>, walk: &mut Walk) {
    for (key, words, offer, service, caution) in FAULTS {
        if !bench.has(*key) {
            continue;
        }
        let found = Found::new(key.key(), Severity::Stop, format!("{words} This is beyond a setup."));
        walk.find(Stage::Structure, found.on(bench.strings_seen(*key)).service(service));
        walk.caution(Stage::Structure, caution);
        walk.step(Todo::offer(Stage::Structure, key.key(), *offer));
    }
    back_bow(bench, walk);
}

/// A neck that bows back has no relief to give: only a two-way rod can push it forward.
fn back_bow(bench: &Bench<'_>, walk: &mut Walk) {
    let read = bench.relief.filter(|relief| relief.value + relief.expanded < 0.0);
    let seen = bench.has(ObservationKey::BackBow);
    if read.is_none() && !seen {
        return;
    }
    if bench.input.instrument.truss_rod == PlanRod::TwoWay {
        if read.is_some() || bench.relief.is_none() {
            let words = "The neck bows back. Its rod works both ways and can push it forward.";
            walk.find(Stage::Structure, Found::new("back-bow", Severity::Work, words).service("truss-rod"));
        }
        return;
    }
    let rod = match bench.input.instrument.truss_rod {
        PlanRod::OneWay => {
            "Its rod works one way: slackened fully, it may come forward by itself; if it does not, this is beyond a setup."
        }
        PlanRod::None | PlanRod::TwoWay => "It has no rod. This is beyond a setup.",
    };
    let mut found = Found::new("back-bow", Severity::Stop, format!("The neck bows back. {rod}")).service("fret-dress");
    if let Some(relief) = read {
        found = found.with("relief_mm", relief.value).with("expanded_mm", relief.expanded);
    }
    walk.find(Stage::Structure, found);
    walk.step(Todo::offer(
        Stage::Structure,
        "back-bow",
        "Quote the neck: levelling the frets or straightening under heat, as the bench finds.",
    ));
}
