//! Electrics and basses: screws, posts, springs, bolted necks.

use serde_json::json;

use super::{Bench, Expected};

fn bolt_on() -> Bench {
    Bench::of("electric", (648.0, 22, 16), 6, ([1.5, 1.9], 0.06, 0.12)).no_air().has("neck_joint", "bolted")
}

fn two_post() -> Bench {
    Bench::of("electric", (628.0, 22, 16), 6, ([1.5, 1.9], 0.06, 0.12))
        .no_air()
        .has("bridge", "two-post")
        .has("neck_joint", "glued")
        .has("post_positions_mm", json!({"treble": -11, "bass": 63}))
        .each("position_mm", &[0.0, 10.4, 20.8, 31.2, 41.6, 52.0])
}

fn bass() -> Bench {
    Bench::of("bass", (864.0, 20, 17), 4, ([1.9, 2.4], 0.09, 0.22)).no_air().has("neck_joint", "bolted")
}

pub(super) fn all() -> Vec<Expected> {
    let mut all = guitars();
    all.extend(basses());
    all
}

fn guitars() -> Vec<Expected> {
    vec![
        Expected {
            what: "a bolt-on electric with high strings",
            why: "screws turn back: nothing waits for the air, and nothing is cut",
            bench: bolt_on().higher(0.5).has("screw_pitch_mm", 0.5),
            findings: &["saddle-high work setup"],
            steps: &["saddle-high now"],
        },
        Expected {
            what: "a bolt-on electric with low strings, read once",
            why: "screws turn back: one reading is enough to turn by",
            bench: bolt_on().higher(-0.5).once(),
            findings: &["saddle-low work setup"],
            steps: &["saddle-low now"],
        },
        Expected {
            what: "a bolt-on electric with its saddles grounded and high strings",
            why: "the travel has ended: a shim at the rear of the pocket, never a file on the screws",
            bench: bolt_on().higher(0.7).showing(0.1, 0.1),
            findings: &["saddle-spent stop neck-shim", "saddle-high work -"],
            steps: &["saddle-spent offer"],
        },
        Expected {
            what: "the same with too much relief",
            why: "the rod first: it may bring the strings down far enough",
            bench: bolt_on().higher(0.7).showing(0.1, 0.1).relief(0.6),
            findings: &["relief-too-much work truss-rod", "saddle-spent watch neck-shim", "saddle-high work setup"],
            steps: &["relief-too-much now", "saddle-high waits"],
        },
        Expected {
            what: "a glued-neck electric with its bridge grounded and high strings",
            why: "no shim goes under a glued neck: the larger work is looked at and quoted",
            bench: two_post().higher(0.7).showing(0.1, 0.1),
            findings: &["saddle-spent stop neck-reset", "saddle-high work -"],
            steps: &["saddle-spent offer"],
        },
        Expected {
            what: "a bolt-on electric with a wrong neck angle and low strings",
            why: "a shim that lies there comes out, else one goes to the front",
            bench: bolt_on().higher(-0.7).seen("neck-angle"),
            findings: &["neck-angle stop neck-shim", "saddle-low work -"],
            steps: &["neck-angle offer", "saddle-low offer"],
        },
        Expected {
            what: "a two-post electric with high strings",
            why: "two posts, two amounts",
            bench: two_post().higher(0.5),
            findings: &["saddle-high work setup"],
            steps: &["saddle-high now"],
        },
        Expected {
            what: "a two-post electric with one string high off the line",
            why: "the posts do not follow one string: its own notch does, after them",
            bench: two_post().higher(0.2).action(4, 2.5),
            findings: &["saddle-high work setup"],
            steps: &["saddle-high now", "saddle-high waits!"],
        },
        Expected {
            what: "a two-post electric with one string high off the line, posts right",
            why: "the posts stand right: only its notch is left, and nobody knows of damp in a plank",
            bench: two_post().action(4, 2.5),
            findings: &["saddle-high work setup"],
            steps: &["saddle-high now!"],
        },
        Expected {
            what: "a sprung electric whose bridge stands with its rear up, strings high",
            why: "heights off balance are void: the springs first",
            bench: bolt_on().has("bridge", "sprung").higher(0.5).seen("bridge-tilts"),
            findings: &["bridge-tilts work setup", "saddle-high work setup"],
            steps: &["bridge-tilts now", "saddle-high waits"],
        },
        Expected {
            what: "a sprung electric in balance, strings high",
            why: "heights are set, and each change is balanced again",
            bench: bolt_on().has("bridge", "sprung").higher(0.5),
            findings: &["saddle-high work setup"],
            steps: &["saddle-high now"],
        },
        Expected {
            what: "an electric with a clamping nut that is low",
            why: "it is shimmed as one and unscrews again; nothing is filed",
            bench: bolt_on()
                .has("nut", "clamping")
                .gap_of(1, 0.0)
                .gap_of(2, 0.0)
                .gap_of(3, 0.0)
                .gap_of(4, 0.0)
                .gap_of(5, 0.0)
                .gap_of(6, 0.0),
            findings: &["nut-low work setup"],
            steps: &["nut-low now"],
        },
        Expected {
            what: "an electric with a zero fret that buzzes open",
            why: "the nut only guides: the zero fret is looked at, nothing is filed at the nut",
            bench: bolt_on().has("nut", "zero-fret").without("gap_at_1_stopped_at_3_mm").heard("buzz", 6, 0),
            findings: &["buzz watch -"],
            steps: &["buzz now"],
        },
        Expected {
            what: "an electric with a zero fret whose strings lie low over the 1st",
            why: "by its readings the zero fret is worn: it is replaced",
            bench: bolt_on()
                .has("nut", "zero-fret")
                .without("gap_at_1_stopped_at_3_mm")
                .first_fret(&[0.02, 0.02, 0.02, 0.03, 0.03, 0.03])
                .heard("buzz", 6, 0),
            findings: &["frets-worn work fret-level", "buzz watch -"],
            steps: &["frets-worn now!"],
        },
        Expected {
            what: "an electric that buzzes on many frets at good height and relief",
            why: "the frets are worn or uneven: they are looked along first",
            bench: bolt_on().heard("buzz", 5, 3).heard("buzz", 5, 7).heard("buzz", 5, 12),
            findings: &["buzz watch -"],
            steps: &["buzz now"],
        },
        Expected {
            what: "an electric that chokes above the joint at good height",
            why: "the board may rise: a straightedge over the last frets, not more height",
            bench: bolt_on().heard("choke", 1, 17).heard("choke", 1, 19),
            findings: &["choke watch -"],
            steps: &["choke now"],
        },
        Expected {
            what: "an electric in very dry air, strings high",
            why: "no top sinks under its bridge: its neck is watched, its screws are turned",
            bench: bolt_on().higher(0.5).with_air(25.0),
            findings: &["air-dry watch -", "saddle-high work setup"],
            steps: &["saddle-high now"],
        },
        Expected {
            what: "an electric out of tune at the 12th",
            why: "each saddle by its screw",
            bench: bolt_on().cents(&[6.0, -5.0, 7.0, 5.0, 6.0, 8.0]),
            findings: &["intonation-off work intonation"],
            steps: &["intonation-off now"],
        },
        Expected {
            what: "an electric with a slack head noted",
            why: "it has no head: what was seen is looked at again",
            bench: bolt_on().seen("head-slack"),
            findings: &["head-slack watch -"],
            steps: &["head-slack now"],
        },
        Expected {
            what: "an electric with a loose brace noted",
            why: "it has no braces: something else is loose, and no brace is sold",
            bench: bolt_on().seen("brace-loose"),
            findings: &["brace-loose stop -"],
            steps: &["brace-loose offer"],
        },
    ]
}

fn basses() -> Vec<Expected> {
    vec![
        Expected {
            what: "a bass that buzzes at the first frets, straight as a rule",
            why: "too little relief explains it: a quarter turn of the rod, no higher saddle",
            bench: bass().relief(-0.02).heard("buzz", 4, 2).heard("buzz", 4, 3),
            findings: &["relief-too-little work truss-rod", "buzz watch -"],
            steps: &["relief-too-little now"],
        },
        Expected {
            what: "a bass with too much relief and high strings",
            why: "the rod first; the screws are turned by what the strings then read",
            bench: bass().relief(0.7).higher(0.8),
            findings: &["relief-too-much work truss-rod", "saddle-high work setup"],
            steps: &["relief-too-much now", "saddle-high waits"],
        },
        Expected {
            what: "an acoustic bass with a bar in its bridge, strings high, air not read",
            why: "not every bass has screws: this one stands on a top, and its bar is bone",
            bench: bass().has("bridge", "fixed-saddle").showing(5.0, 5.0).higher(0.8),
            findings: &["reading-missing watch -", "saddle-high work saddle-lower"],
            steps: &["reading-missing now", "saddle-high waits!"],
        },
        Expected {
            what: "a fanned five-string bass, its low string sharp",
            why: "each string has its own scale, and its saddle its own screw",
            bench: Bench::of("bass", (864.0, 24, 17), 5, ([1.9, 2.4], 0.09, 0.22))
                .no_air()
                .has("scale_bass_mm", 940.0)
                .cents(&[0.0, 0.0, 0.0, 0.0, 9.0]),
            findings: &["intonation-off work intonation"],
            steps: &["intonation-off now"],
        },
        Expected {
            what: "a through-neck bass with a wrong neck angle",
            why: "no shim and no reset: it is looked at, told and decided, and nothing is sold unseen",
            bench: bass().has("neck_joint", "through").seen("neck-angle"),
            findings: &["neck-angle stop -"],
            steps: &["neck-angle offer"],
        },
    ]
}
