//! Drawings: what the symbols say, and that nothing in them breaks the page's security policy.

use thumbplane::drawing::bars::{code128, modules};
use thumbplane::drawing::fretboard::{Heard, Place, fretboard};
use thumbplane::drawing::history_chart::{HistoryChart, HistoryPoint, history_chart};
use thumbplane::drawing::inlay::{Side, inlay};
use thumbplane::drawing::intonation_chart::{IntonationChart, intonation_chart};
use thumbplane::drawing::qr::{Recovery, qr};
use thumbplane::drawing::saddle_shape::{SaddleShape, saddle_at_size, saddle_enlarged};
use thumbplane::drawing::side_view::{SideString, SideView, side_view};
use thumbplane::drawing::tension_bars::{TensionBar, tension_bars};

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
        tension_bars(&[TensionBar { name: "<treble>".to_owned(), now_n: None, next_n: 70.0 }]),
        fretboard(20, &[3, 12], &["1 <treble>".to_owned()], &[Place { string: 1, fret: 3, heard: Heard::Buzz }]),
        history_chart(&HistoryChart {
            title: "<treble>".to_owned(),
            unit: "mm".to_owned(),
            decimals: 2,
            points: vec![HistoryPoint { day: 1.0, said: "1 Oct".to_owned(), value: 2.0, is_final: false, visit: 0 }],
        }),
    ];
    for svg in drawn {
        assert!(svg.contains("role=\"img\"") && svg.contains("aria-label="), "{svg}");
        assert!(!svg.contains("style=") && !svg.contains("<script") && !svg.contains("<treble>"), "{svg}");
    }
}

#[test]
fn a_saddle_is_drawn_in_millimetres_with_its_cuts_where_they_come_off() {
    let shape = SaddleShape {
        positions_mm: vec![0.0, 10.0, 20.0, 30.0, 40.0, 50.0],
        names: ["1 E4", "2 B3", "3 G3", "4 D3", "5 A2", "6 E2"].map(str::to_owned).to_vec(),
        showing_mm: (3.6, 4.4),
        first_pass_mm: (0.5, 1.0),
        whole_mm: (0.8, 1.4),
        on_top_mm: vec![0.0, 0.05, 0.1, 0.1, 0.05, 0.0],
    };
    let at_size = saddle_at_size(&shape);
    // strings 50 mm apart, 4 mm of bar and 4 mm of white on both sides: one unit of the drawing is one millimetre
    assert!(at_size.contains(r#"viewBox="0 0 66 "#) && at_size.contains(r#"width="66mm""#), "{at_size}");
    // the foot lies at 4 + 4.464 mm, where the bar is tallest; 4 mm beyond string 1 the first pass is 0.46 mm
    assert!(at_size.contains(r#"<path class="size-first" d="M4 8.004L62 7.424"/>"#), "{at_size}");
    assert!(at_size.contains("h50m"), "{at_size}");
    let enlarged = saddle_enlarged(&shape);
    for words in ["0.50", "1.40", "first pass 0.50 mm at the treble and 1.00 mm at the bass"] {
        assert!(enlarged.contains(words), "{words} in {enlarged}");
    }
}

#[test]
fn an_intonation_chart_says_in_words_what_it_draws() {
    let chart = intonation_chart(&IntonationChart {
        name: "2 B3",
        before: &[1.4, 3.0, 7.6],
        with_saddle: &[0.9, 0.5, 0.0],
        with_pair: &[0.2, -0.1, 0.1],
    });
    assert!(chart.contains("As it stands: at most +7.6 cents, at fret 3"), "{chart}");
    assert!(chart.contains("With the best saddle and nut: at most +0.2 cents, at fret 1"), "{chart}");
    assert_eq!(chart.matches("chart-dot").count(), 3);
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

#[test]
fn bars_of_pull_are_to_one_scale_and_say_their_figures() {
    let bar = |name: &str, now_n, next_n| TensionBar { name: name.to_owned(), now_n, next_n };
    let svg = tension_bars(&[bar("1 E4", Some(50.0), 100.0), bar("2 B3", None, 25.4)]);
    let lengths: Vec<f64> = svg
        .split("width=\"")
        .skip(1)
        .map(|rest| rest.split('"').next().unwrap().parse().unwrap())
        .filter(|length| *length > 22.0)
        .collect();
    assert_eq!(lengths.len(), 3, "{svg}");
    assert!((lengths[0] / lengths[1] - 0.5).abs() < 1e-3 && (lengths[2] / lengths[1] - 0.254).abs() < 1e-3);
    assert!(svg.contains("1 E4: 50 N now, 100 N next; 2 B3: not known now, 25 N next"));
}
