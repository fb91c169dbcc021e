//! Classical guitars and ukuleles: a bar in a slot, no rod.

use super::{Bench, Expected};

fn classical() -> Bench {
    Bench::of("classical", (650.0, 19, 12), 6, ([3.0, 3.7], 0.1, 0.12)).has("truss_rod", "none").showing(4.0, 4.6)
}

fn ukulele() -> Bench {
    Bench::of("ukulele", (380.0, 18, 14), 4, ([2.4, 2.4], 0.09, 0.05)).has("truss_rod", "none").showing(3.0, 3.0)
}

pub(super) fn all() -> Vec<Expected> {
    vec![
        Expected {
            what: "a classical with high strings in damp air",
            why: "its top has risen: it dries slowly and is read again; cut today it would be low tomorrow",
            bench: classical().higher(0.6).with_air(72.0),
            findings: &["air-damp stop -", "saddle-high work -"],
            steps: &["air-damp now", "saddle-high offer"],
        },
        Expected {
            what: "a classical with 0.6 mm of relief and no rod, strings high",
            why: "the neck bends: a saddle cut for it would be too low once the neck is straight",
            bench: classical().higher(0.6).relief(0.6),
            findings: &["neck-bends stop neck-heat", "saddle-high work -"],
            steps: &["neck-bends offer", "saddle-high offer"],
        },
        Expected {
            what: "a classical with a hair more relief than wished and no rod, strings high",
            why: "so little is lived with: there is no rod to turn, and the saddle does the rest",
            bench: classical().higher(0.6).relief(0.36),
            findings: &["relief-too-much watch -", "saddle-high work saddle-lower"],
            steps: &["saddle-high now!"],
        },
        Expected {
            what: "a classical that is hard to press at the first fret only",
            why: "the nut, by its own gap; a saddle is never cut for it",
            bench: classical().gap(0.4),
            findings: &["nut-high work nut-slots"],
            steps: &["nut-high now!"],
        },
        Expected {
            what: "a classical high on the treble side and low on the bass",
            why: "what goes under a bar lifts every string: it goes in first, the rest comes off by later readings",
            bench: classical()
                .action(1, 3.6)
                .action(2, 3.6)
                .action(3, 3.6)
                .action(4, 3.4)
                .action(5, 3.1)
                .action(6, 3.1),
            findings: &["saddle-high work saddle-lower", "saddle-low work new-saddle"],
            steps: &["saddle-low now!"],
        },
        Expected {
            what: "a classical with a crack",
            why: "the crack is quoted; neither slot nor saddle is sold behind it",
            bench: classical().higher(0.6).gap(0.4).seen("crack"),
            findings: &["crack stop crack-repair", "nut-high work -", "saddle-high work -"],
            steps: &["crack offer", "nut-high offer", "saddle-high offer"],
        },
        Expected {
            what: "a classical with a loose brace that buzzes everywhere",
            why: "structure before symptoms: the buzz is looked for once the brace holds",
            bench: classical().seen("brace-loose").heard("buzz", 4, 3).heard("buzz", 4, 8).heard("buzz", 4, 15),
            findings: &["brace-loose stop brace-reglue", "buzz watch -"],
            steps: &["brace-loose offer", "buzz offer"],
        },
        Expected {
            what: "a classical whose bridge tilts",
            why: "a glued bridge that tilts may be lifting: a strip of paper tells, before anything is cut",
            bench: classical().higher(0.6).seen("bridge-tilts"),
            findings: &["bridge-tilts watch -", "saddle-high work saddle-lower"],
            steps: &["bridge-tilts now", "saddle-high waits!"],
        },
        Expected {
            what: "a classical with a wrong neck angle, joint not noted",
            why: "a glued neck is the usual one: its reset is a specialist's",
            bench: classical().higher(0.6).seen("neck-angle"),
            findings: &["neck-angle stop neck-reset", "saddle-high work -"],
            steps: &["neck-angle offer", "saddle-high offer"],
        },
        Expected {
            what: "a classical with too little relief and no rod",
            why: "there is nothing to turn: it is told, and the plan works with it",
            bench: classical().relief(-0.02),
            findings: &["relief-too-little watch -"],
            steps: &[],
        },
        Expected {
            what: "a ukulele sharp at the first frets, its gaps high",
            why: "a high nut bends the string down: slots, not saddle",
            bench: ukulele().gap(0.35).seen("sharp-low-frets"),
            findings: &["sharp-low-frets watch -", "nut-high work nut-slots"],
            steps: &["nut-high now!"],
        },
        Expected {
            what: "a ukulele sharp at the first frets, its gaps as they should be",
            why: "the nut is not it: strings and hand are looked at before any file",
            bench: ukulele().seen("sharp-low-frets"),
            findings: &["sharp-low-frets watch -"],
            steps: &["sharp-low-frets now"],
        },
        Expected {
            what: "a tenor ukulele whose new saddle faces the wrong way",
            why: "it is turned round, not cut again",
            bench: ukulele().cents(&[9.0, 9.0, 9.0, 9.0]).seen("saddle-reversed"),
            findings: &["saddle-reversed work setup", "intonation-off work intonation"],
            steps: &["saddle-reversed now", "intonation-off waits!"],
        },
        Expected {
            what: "a ukulele with high strings that is out of tune at the 12th",
            why: "high strings read sharp: the height first",
            bench: ukulele().higher(0.7).cents(&[8.0, 8.0, 9.0, 8.0]),
            findings: &["saddle-high work saddle-lower", "intonation-off work intonation"],
            steps: &["saddle-high now!", "intonation-off waits!"],
        },
        Expected {
            what: "a ukulele with high strings and a glued saddle",
            why: "it is freed and read again before it is cut",
            bench: ukulele().higher(0.7).seen("saddle-glued"),
            findings: &["saddle-glued watch saddle-lower", "saddle-high work saddle-lower"],
            steps: &["saddle-glued now", "saddle-high waits!"],
        },
        Expected {
            what: "a ukulele that plays well and has a glued saddle",
            why: "it stays as it is; whoever plays it is told",
            bench: ukulele().seen("saddle-glued"),
            findings: &["saddle-glued watch saddle-lower"],
            steps: &["saddle-glued now"],
        },
    ]
}
