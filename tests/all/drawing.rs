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

/// Widths of the elements of each value in Code 128, bar and space in turn; ISO/IEC 15417, table 1, from memory. Stop
/// has a last bar of two more.
const CODE_128: &str = "212222 222122 222221 121223 121322 131222 122213 122312 132212 221213 221312 231212 112232 \
    122132 122231 113222 123122 123221 223211 221132 221231 213212 223112 312131 311222 321122 321221 312212 322112 \
    322211 212123 212321 232121 111323 131123 131321 112313 132113 132311 211313 231113 231311 112133 112331 132131 \
    113123 113321 133121 313121 211331 231131 213113 213311 213131 311123 311321 331121 312113 312311 332111 314111 \
    221411 431111 111224 111422 121124 121421 141122 141221 112214 112412 122114 122411 142112 142211 241211 221114 \
    413111 241112 134111 111242 121142 121241 114212 124112 124211 411212 421112 421211 212141 214121 412121 111143 \
    111341 131141 114113 114311 411113 411311 113141 114131 311141 411131 211412 211214 211232";

/// The values of a symbol without its stop: start, data, check.
fn values_of(bars: &[bool]) -> Vec<usize> {
    let mut widths: Vec<usize> = Vec::new();
    let mut last = None;
    for dark in bars {
        if last == Some(*dark) {
            *widths.last_mut().unwrap() += 1;
        } else {
            widths.push(1);
        }
        last = Some(*dark);
    }
    let said = |widths: &[usize]| widths.iter().map(ToString::to_string).collect::<String>();
    let stop = widths.split_off(widths.len() - 7);
    assert_eq!(said(&stop), "2331112");
    let table: Vec<&str> = CODE_128.split_whitespace().collect();
    assert_eq!(table.len(), 106);
    widths.chunks(6).map(|six| table.iter().position(|value| *value == said(six)).unwrap()).collect()
}

#[test]
fn the_check_character_is_that_of_the_published_symbols() {
    use barcoders::sym::code128::Code128;
    // in set B as we draw it; in A and C the encoder under it. Start, sum, check: worked symbols of ISO/IEC 15417 as
    // encyclopaedias and printers' manuals print them; `PJJ123C` from memory, its sum worked by hand; the job number
    // worked by hand (value = ASCII − 32)
    let as_drawn = |text: &str| modules(text).unwrap();
    let encoded = |text: &str| -> Vec<bool> {
        Code128::new(text).unwrap().encode().into_iter().map(|module| module == 1).collect()
    };
    for (said, bars, start, sum, check) in [
        ("abcdef in B", as_drawn("abcdef"), 104, 1539, 97),
        ("26-0417 in B", as_drawn("26-0417"), 104, 632, 14),
        ("ABCDEF in A", encoded("\u{c0}ABCDEF"), 103, 866, 42),
        ("345678 in C", encoded("\u{106}345678"), 105, 485, 73),
        ("HI in A, 345678 in C", encoded("\u{c0}HI\u{106}345678"), 103, 1406, 67),
        ("PJJ123C in A", encoded("\u{c0}PJJ123C"), 103, 878, 54),
    ] {
        let values = values_of(&bars);
        let (data, last) = (&values[1..values.len() - 1], values[values.len() - 1]);
        let found: usize = values[0] + data.iter().enumerate().map(|(place, value)| (place + 1) * value).sum::<usize>();
        assert_eq!((values[0], found, last), (start, sum, check), "{said}");
        assert_eq!(sum % 103, check, "{said}: the rule itself");
        assert_eq!(bars.len(), 11 * values.len() + 13, "{said}: eleven modules each, thirteen the stop");
    }
    assert_eq!(values_of(&as_drawn("26-0417"))[1..8], [18, 22, 13, 16, 20, 17, 23]);
}

/// A drawing's dark modules, from its path.
fn dark(svg: &str) -> Vec<(usize, usize)> {
    let path = svg.split("d=\"").nth(1).unwrap().split('"').next().unwrap();
    let mut found = Vec::new();
    for run in path.split('M').skip(1) {
        let (x, rest) = run.split_once(' ').unwrap();
        let (y, rest) = rest.split_once('h').unwrap();
        let (x, y): (usize, usize) = (x.parse().unwrap(), y.parse().unwrap());
        let length: usize = rest.split_once('v').unwrap().0.parse().unwrap();
        found.extend((x..x + length).map(|x| (x, y)));
    }
    found
}

/// An attribute of the drawing itself, without its unit.
fn attribute(svg: &str, name: &str) -> String {
    let value = svg.split(&format!(" {name}=\"")).nth(1).unwrap().split('"').next().unwrap();
    value.trim_end_matches("mm").to_owned()
}

#[test]
fn bars_have_white_on_both_sides_and_are_high_enough() {
    // ISO/IEC 15417: ten modules; label printers' manuals: a quarter inch, from memory; the larger counts
    for module_mm in [0.25, 25.4 * 4.0 / 300.0, 0.375, 0.5, 1.0] {
        let svg = code128("26-0417", module_mm).unwrap();
        let whole: usize = attribute(&svg, "viewBox").split_whitespace().nth(2).unwrap().parse().unwrap();
        let found = dark(&svg);
        let (first, last) = (found.first().unwrap().0, found.last().unwrap().0);
        for white in [first, whole - 1 - last] {
            let white_mm = f64::from(u32::try_from(white).unwrap()) * module_mm;
            assert!(white >= 10 && white_mm >= 6.35, "{white} modules of {module_mm} mm");
        }
        // 12 mm or 15 % of the length: from memory
        let (width, height): (f64, f64) =
            (attribute(&svg, "width").parse().unwrap(), attribute(&svg, "height").parse().unwrap());
        let symbol = width - 2.0 * f64::from(u32::try_from(first).unwrap()) * module_mm;
        assert!(height >= 12.0 && height >= 0.15 * symbol.min(92.0), "{height} for {symbol}");
    }
}

#[test]
fn a_qr_symbol_says_its_recovery_level_and_has_four_modules_of_white() {
    // ISO/IEC 18004: the format information is XORed with 101010000010010, its first two bits are the level:
    // 01 low, 00 medium, 11 quartile, 10 high; they stand left in row 8 of the symbol. Quiet zone: four modules
    let link = "https://millrace.example/s/3q2-7wZbN0fXyq1mJr8VbQ";
    for (recovery, level) in [(Recovery::Medium, (false, false)), (Recovery::Quartile, (true, true))] {
        let svg = qr(link, recovery, 0.7).unwrap();
        let found: std::collections::BTreeSet<(usize, usize)> = dark(&svg).into_iter().collect();
        let is_dark = |x: usize, y: usize| found.contains(&(x + 4, y + 4));
        assert_eq!((!is_dark(0, 8), is_dark(1, 8)), level, "{recovery:?}");
        let whole: usize = attribute(&svg, "viewBox").split_whitespace().nth(2).unwrap().parse().unwrap();
        assert!(found.iter().all(|(x, y)| (4..whole - 4).contains(x) && (4..whole - 4).contains(y)), "{recovery:?}");
        // the three finder patterns: a ring of seven
        for (x, y) in [(0, 0), (whole - 8 - 7, 0), (0, whole - 8 - 7)] {
            assert!((0..7).all(|step| is_dark(x + step, y) && is_dark(x, y + step)), "{recovery:?}");
            assert!((1..6).all(|step| !is_dark(x + step, y + 1)), "{recovery:?}");
        }
        assert!(svg.contains("<rect") && svg.contains("fill=\"#fff\""), "dark on a white ground of its own");
    }
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
        over_chord_mm: Vec::new(),
    };
    let at_size = saddle_at_size(&shape);
    // strings 50 mm apart, 4 mm of bar and 4 mm of white on both sides: one unit of the drawing is one millimetre
    assert!(at_size.contains(r#"viewBox="0 0 66 "#) && at_size.contains(r#"width="66mm""#), "{at_size}");
    // the foot lies at 4 + 4.464 mm, where the bar is tallest; 4 mm beyond string 1 the first pass is 0.46 mm
    assert!(at_size.contains(r#"<path class="size-first" d="M4 8.004L62 7.424"/>"#), "{at_size}");
    assert!(at_size.contains("h50m"), "{at_size}");
    // over a curved board the top is an arc: string 3 shows 3.92 mm on the straight line and 0.8 over it, string 4, the
    // highest, 4.08 and 0.8; what is shaped there is dashed a tenth lower
    let curved = SaddleShape { over_chord_mm: vec![0.0, 0.5, 0.8, 0.8, 0.5, 0.0], ..shape.clone() };
    let curved = saddle_at_size(&curved);
    assert!(curved.contains("L28 4.160L38 4.000L"), "{curved}");
    assert!(curved.contains("L28 4.260L38 4.100L"), "{curved}");
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
    let filled = |stage| inlay(stage, None, "x").matches("h0").count();
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
