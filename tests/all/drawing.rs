//! Drawings: what the symbols say, and that nothing in them breaks the page's security policy.

use thumbplane::drawing::bars::{code128, modules};
use thumbplane::drawing::inlay::{Side, inlay};
use thumbplane::drawing::qr::{Recovery, qr};
use thumbplane::drawing::side_view::{SideString, SideView, side_view};

#[test]
fn bars_follow_iso_15417() {
    // ISO/IEC 15417: start B 11010010000, stop 1100011101011; `26-0417` in set B has check value 14 and 112 modules
    let bars: String = modules("26-0417").unwrap().into_iter().map(|dark| if dark { '1' } else { '0' }).collect();
    assert_eq!(bars.len(), 112);
    assert!(bars.starts_with("11010010000"), "{bars}");
    assert!(bars.ends_with("1100011101011"), "{bars}");
    // value 14 is drawn 1-2-2-2-3-1 by the standard's table
    assert_eq!(&bars[112 - 13 - 11..112 - 13], "10011001110");
    assert!(modules("é").is_err());
}

#[test]
fn no_drawing_holds_inline_style_or_script() {
    let view = SideView {
        scale_mm: 648.0,
        frets: 20,
        body_fret: 14,
        relief_mm: 0.2,
        strings: vec![SideString { name: "<treble> & co".to_owned(), first_fret_mm: 0.45, action_12_mm: 2.0 }],
        targets_12_mm: vec![Some(1.9)],
        forecast_12_mm: vec![Some((1.8, 2.1))],
    };
    let drawn = [
        inlay(4, None, "on the bench"),
        inlay(2, Some(Side::Waiting), "quoted, waiting for \"you\""),
        code128("26-0417", 0.33).unwrap(),
        qr("https://millrace.example/s/3q2-7wZbN0fXyq1mJr8VbQ", Recovery::Medium, 0.7).unwrap(),
        side_view(&view),
    ];
    for svg in drawn {
        assert!(svg.contains("role=\"img\"") && svg.contains("aria-label="), "{svg}");
        assert!(!svg.contains("style=") && !svg.contains("<script") && !svg.contains("<treble>"), "{svg}");
    }
}

#[test]
fn the_inlay_fills_one_mark_a_stage_and_ready_is_the_double_one() {
    let filled = |stage| inlay(stage, None, "x").matches("inlay-done").count();
    assert_eq!((0..8).map(filled).collect::<Vec<_>>(), [1, 2, 3, 4, 5, 6, 8, 9]);
}

#[test]
fn a_link_of_49_characters_is_a_version_4_symbol() {
    // ISO/IEC 18004: version 4 has 33 modules a side; 4 modules of quiet zone on each side make 41
    let svg = qr("https://millrace.example/s/3q2-7wZbN0fXyq1mJr8VbQ", Recovery::Medium, 0.7).unwrap();
    assert!(svg.contains("viewBox=\"0 0 41 41\""), "{svg}");
}
