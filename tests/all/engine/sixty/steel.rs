//! Steel-strings with a bar in a slot.

use serde_json::json;

use super::{Bench, Expected};

/// A flat-top that plays well.
fn flat_top() -> Bench {
    Bench::of("steel-string", (645.0, 20, 14), 6, ([1.9, 2.3], 0.07, 0.15)).showing(4.0, 4.6)
}

/// The same with strings 0.6 mm high at the 12th.
fn high() -> Bench {
    flat_top().higher(0.6)
}

pub(super) fn all() -> Vec<Expected> {
    vec![
        Expected {
            what: "a flat-top that plays well",
            why: "nothing is wrong, so nothing is touched",
            bench: flat_top(),
            findings: &[],
            steps: &[],
        },
        Expected {
            what: "a flat-top with high strings and four millimetres showing",
            why: "air, relief, frets and nut are right and read three times: the saddle, and it may be cut",
            bench: high(),
            findings: &["saddle-high work saddle-lower"],
            steps: &["saddle-high now!"],
        },
        Expected {
            what: "a flat-top with high strings and hardly a saddle left",
            why: "a saddle that is spent is the neck's matter: a reset is quoted, nothing is cut",
            bench: high().showing(1.8, 2.2),
            findings: &["saddle-high work -", "saddle-spent stop neck-reset"],
            steps: &["saddle-spent offer"],
        },
        Expected {
            what: "the same with a bolted neck",
            why: "a bolted neck is shimmed, never steamed off",
            bench: high().showing(1.8, 2.2).has("neck_joint", "bolted"),
            findings: &["saddle-high work -", "saddle-spent stop neck-shim"],
            steps: &["saddle-spent offer"],
        },
        Expected {
            what: "a flat-top with high strings and too much relief",
            why: "the rod turns back, a cut does not: relief first, and the heights are read again",
            bench: high().relief(0.5),
            findings: &["relief-too-much work truss-rod", "saddle-high work saddle-lower"],
            steps: &["relief-too-much now", "saddle-high waits!"],
        },
        Expected {
            what: "a flat-top with high strings that buzzes at one fret",
            why: "a fret may stand high: it is looked at before a saddle is cut over it",
            bench: high().heard("buzz", 3, 7),
            findings: &["buzz watch -", "saddle-high work saddle-lower"],
            steps: &["buzz now", "saddle-high waits!"],
        },
        Expected {
            what: "a flat-top with worn frets and high strings",
            why: "dressing takes height off the frets, so the saddle is read after it",
            bench: high().seen("frets-worn"),
            findings: &["frets-worn work fret-dress", "frets-worn watch refret", "saddle-high work saddle-lower"],
            steps: &["frets-worn now!", "saddle-high waits!"],
        },
        Expected {
            what: "a flat-top with a high fret, high strings and too much relief",
            why: "rod, then frets, then saddle: each changes the heights of the next",
            bench: high().relief(0.5).heard("fret-high", 1, 9),
            findings: &["relief-too-much work truss-rod", "fret-high work fret-level", "saddle-high work saddle-lower"],
            steps: &["relief-too-much now", "fret-high waits!", "saddle-high waits!"],
        },
        Expected {
            what: "a flat-top with high strings whose air nobody read",
            why: "in damp air a top rises: no bone is cut before the air is known",
            bench: high().no_air(),
            findings: &["reading-missing watch -", "saddle-high work saddle-lower"],
            steps: &["reading-missing now", "saddle-high waits!"],
        },
        Expected {
            what: "a flat-top with too much relief whose air nobody read",
            why: "the rod turns back: it need not wait for the air, the saddle must",
            bench: high().relief(0.5).no_air(),
            findings: &["reading-missing watch -", "relief-too-much work truss-rod", "saddle-high work saddle-lower"],
            steps: &["reading-missing now", "relief-too-much now", "saddle-high waits!"],
        },
        Expected {
            what: "a flat-top with high strings read once with a tool nobody knows",
            why: "one reading is not enough to cut by",
            bench: high().once(),
            findings: &["saddle-high work saddle-lower"],
            steps: &["readings-too-uncertain now", "saddle-high waits!"],
        },
        Expected {
            what: "the same read once with a tool whose scatter the shop measured",
            why: "how far the tool scatters is known, so the first pass keeps its distance",
            bench: high().once().known_tool(),
            findings: &["saddle-high work saddle-lower"],
            steps: &["saddle-high now!"],
        },
        Expected {
            what: "a flat-top with one height of 4.20 among 2.40s",
            why: "a slip of the scale is read again before anything uses it",
            bench: flat_top().higher(0.3).once().known_tool().misread(4, 4.2),
            findings: &["readings-disagree watch -", "saddle-high work saddle-lower"],
            steps: &["readings-disagree now", "saddle-high waits!"],
        },
        Expected {
            what: "a twelve-string whose bridge is lifting",
            why: "heights of a bridge on its way off mean nothing, and no cut is sold behind it",
            bench: Bench::of("steel-string", (645.0, 20, 14), 12, ([2.5, 2.9], 0.07, 0.15))
                .showing(4.0, 4.6)
                .seen("bridge-lifting"),
            findings: &["bridge-lifting stop bridge-reglue", "saddle-high work -"],
            steps: &["bridge-lifting offer", "saddle-high offer"],
        },
        Expected {
            what: "a dry flat-top",
            why: "its top has sunk: it recovers first and is measured again",
            bench: high().with_air(28.0),
            findings: &["air-dry stop humidify", "saddle-high work -"],
            steps: &["air-dry now", "saddle-high offer"],
        },
        Expected {
            what: "a flat-top that looks dry where the air is damp",
            why: "eye and gauge contradict each other: which it is comes before everything",
            bench: high().with_air(62.0).seen("air-dry"),
            findings: &["readings-disagree watch -", "saddle-high work saddle-lower"],
            steps: &["readings-disagree now", "saddle-high waits!"],
        },
        Expected {
            what: "a flat-top with one worn slot among good ones",
            why: "that slot is filled and cut again, or the nut is new; a shim would lift all six",
            bench: flat_top().gap_of(3, 0.0),
            findings: &["nut-low work nut-slots"],
            steps: &["nut-low now!"],
        },
        Expected {
            what: "a flat-top whose nut is high and its saddle too",
            why: "the nut stays at the nut and comes first; the saddle is felt all the way and comes last",
            bench: high().gap(0.3),
            findings: &["nut-high work nut-slots", "saddle-high work saddle-lower"],
            steps: &["nut-high now!", "saddle-high waits!"],
        },
        Expected {
            what: "a flat-top with a high nut whose heights were not read",
            why: "how low a slot may go follows from the heights",
            bench: flat_top().gap(0.3).without("action_12_mm"),
            findings: &["nut-high work nut-slots", "reading-missing watch -"],
            steps: &["reading-missing now", "nut-high waits!"],
        },
        Expected {
            what: "a flat-top that is sharp everywhere since its strings were changed",
            why: "nut or saddle went back the wrong way round: a look costs nothing",
            bench: high().seen("sharp-everywhere"),
            findings: &["sharp-everywhere watch -", "saddle-high work saddle-lower"],
            steps: &["sharp-everywhere now", "saddle-high waits!"],
        },
        Expected {
            what: "a flat-top with old strings that is out of tune at the 12th",
            why: "old strings read sharp: new ones first, then the saddle's break points are judged",
            bench: flat_top().cents(&[7.0, 8.0, 6.0, 5.0, 6.0, 7.0]).seen("strings-old"),
            findings: &["strings-old work restring", "intonation-off work intonation"],
            steps: &["strings-old now", "intonation-off waits!"],
        },
        Expected {
            what: "a flat-top whose neck bows back on a one-way rod",
            why: "the rod is let go and the neck looked at again; heat is the offer behind that",
            bench: flat_top().has("truss_rod", "one-way").relief(-0.2),
            findings: &["back-bow stop neck-heat"],
            steps: &["back-bow now", "back-bow offer"],
        },
        Expected {
            what: "a flat-top whose string frays somewhere",
            why: "where it frays is looked for: an edge is eased only at its place",
            bench: flat_top().noted(json!({"key": "fraying", "string": 2, "at": ""})),
            findings: &["fraying watch -"],
            steps: &["fraying now"],
        },
        Expected {
            what: "a flat-top whose string frays at the nut, with old strings",
            why: "the edge is eased before a new string meets it",
            bench: flat_top().noted(json!({"key": "fraying", "string": 2, "at": "nut slot"})).seen("strings-old"),
            findings: &["edge-sharp work nut-slots", "strings-old work restring"],
            steps: &["edge-sharp now!", "strings-old waits"],
        },
        Expected {
            what: "a flat-top that buzzes open, with a slot worn through",
            why: "the reading explains the buzz: the slot, and no other look is needed",
            bench: flat_top().gap_of(6, 0.0).heard("buzz", 6, 0),
            findings: &["buzz watch -", "nut-low work nut-slots"],
            steps: &["nut-low now!"],
        },
    ]
}
