//! Mandolins, archtops, banjos and what nobody has a name for: bridges that stand free.

use serde_json::json;

use super::{Bench, Expected};

fn mandolin() -> Bench {
    let pairs = [Some(1), Some(1), Some(2), Some(2), Some(3), Some(3), Some(4), Some(4)];
    // pairs of one height, courses from 1.4 to 1.8
    let mut mandolin = Bench::of("mandolin", (352.0, 20, 12), 8, ([1.4, 1.8], 0.06, 0.05)).counted("course", &pairs);
    for course in 0..4 {
        let height = 1.4 + 0.4 * f64::from(course) / 3.0;
        let first = usize::try_from(2 * course + 1).unwrap();
        mandolin = mandolin.action(first, height).action(first + 1, height);
    }
    mandolin
        .has("post_positions_mm", json!({"treble": -10, "bass": 51.5}))
        .each("position_mm", &[0.0, 2.5, 13.0, 15.5, 26.0, 28.5, 39.0, 41.5])
}

fn archtop() -> Bench {
    Bench::of("steel-string", (648.0, 20, 14), 6, ([1.9, 2.3], 0.07, 0.15)).has("bridge", "loose-bridge")
}

fn banjo() -> Bench {
    let fifth = [None, None, None, None, Some(5)];
    Bench::of("banjo", (670.0, 22, 19), 5, ([2.4, 2.6], 0.08, 0.12))
        .no_air()
        .has("neck_joint", "rods")
        .counted("starts_at_fret", &fifth)
        // one straight bridge carries them all: the short fifth comes down lower over the 12th
        .action(5, 1.77)
}

pub(super) fn all() -> Vec<Expected> {
    vec![
        Expected {
            what: "a mandolin with high strings",
            why: "its wheels turn back",
            bench: mandolin().higher(0.4),
            findings: &["saddle-high work setup"],
            steps: &["saddle-high now"],
        },
        Expected {
            what: "a mandolin with one string of a course high, its slot high",
            why: "a course uneven at the nut is the slot's; wheels are not turned for one string",
            bench: mandolin().gap_of(3, 0.3).action(3, 1.75),
            findings: &["nut-high work nut-slots", "saddle-high work setup"],
            steps: &["nut-high now!", "saddle-high waits!"],
        },
        Expected {
            what: "a mandolin out of tune at the 12th",
            why: "its bridge stands free: it is moved, treble and bass apart",
            bench: mandolin().cents(&[8.0, 8.0, 9.0, 9.0, 10.0, 10.0, 12.0, 12.0]),
            findings: &["intonation-off work intonation"],
            steps: &["intonation-off now"],
        },
        Expected {
            what: "an archtop whose bridge leans, strings high",
            why: "it is stood upright with its feet flush before a height means anything",
            bench: archtop().higher(0.6).seen("bridge-tilts"),
            findings: &["bridge-tilts work setup", "saddle-high work bridge-height"],
            steps: &["bridge-tilts now", "saddle-high waits!"],
        },
        Expected {
            what: "an archtop with high strings",
            why: "a lower bridge, or this one taken down: that does not come back, and all of it was read",
            bench: archtop().higher(0.6),
            findings: &["saddle-high work bridge-height"],
            steps: &["saddle-high now!"],
        },
        Expected {
            what: "an archtop with high strings, sharp since its strings were changed",
            why: "the bridge moved while the strings were off: a look before anything is taken down",
            bench: archtop().higher(0.6).seen("sharp-everywhere"),
            findings: &["sharp-everywhere watch -", "saddle-high work bridge-height"],
            steps: &["sharp-everywhere now", "saddle-high waits!"],
        },
        Expected {
            what: "a banjo that is low and dull",
            why: "the head is slack and the bridge sinks into it: the head before the bridge, never the rods",
            bench: banjo().higher(-0.7).seen("head-slack"),
            findings: &["head-slack work head-tension", "saddle-low work bridge-height"],
            steps: &["head-slack now", "saddle-low waits"],
        },
        Expected {
            what: "a banjo with high strings",
            why: "a lower bridge, or this one's feet; its bridge is never filed on a reading of the air, which moves no head",
            bench: banjo().higher(0.6),
            findings: &["saddle-high work bridge-height"],
            steps: &["saddle-high now!"],
        },
        Expected {
            what: "a banjo with high strings, read once",
            why: "wood that is taken down does not come back: it is read again",
            bench: banjo().higher(0.6).once(),
            findings: &["saddle-high work bridge-height"],
            steps: &["readings-too-uncertain now", "saddle-high waits!"],
        },
        Expected {
            what: "a banjo with low strings",
            why: "another bridge goes on and comes off again",
            bench: banjo().higher(-0.6),
            findings: &["saddle-low work bridge-height"],
            steps: &["saddle-low now"],
        },
        Expected {
            what: "a banjo out of tune at the 12th",
            why: "the bridge is moved",
            bench: banjo().cents(&[5.0, 6.0, 8.0, 11.0, 0.0]),
            findings: &["intonation-off work intonation"],
            steps: &["intonation-off now"],
        },
        Expected {
            what: "a banjo whose short fifth lies on the 6th fret",
            why: "its own nut, not the bridge",
            bench: banjo().gap_of(5, 0.0).heard("buzz", 5, 0),
            findings: &["buzz watch -", "nut-low work nut-slots"],
            steps: &["nut-low now!"],
        },
        Expected {
            what: "a banjo with a wrong neck angle",
            why: "its rods trim tenths, and turn back",
            bench: banjo().higher(0.6).seen("neck-angle"),
            findings: &["neck-angle work setup", "saddle-high work bridge-height"],
            steps: &["neck-angle now", "saddle-high waits!"],
        },
        Expected {
            what: "a thing with frets whose bridge nobody noted, strings high",
            why: "what is done about a height hangs on the bridge: it is asked",
            bench: Bench::of("other", (600.0, 18, 12), 4, ([2.8, 3.2], 0.09, 0.1)),
            findings: &["reading-missing watch -", "saddle-high work -"],
            steps: &["reading-missing now"],
        },
    ]
}
