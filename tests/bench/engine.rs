//! How fast the engine is: `cargo bench`. The aims are those of a page that answers while a finger is
//! still on the glass: everything about one instrument in a quarter of a millisecond, a promise in 30 ms, and
//! `thumbplane calc plan` from start to answer in 15 ms.

#![expect(clippy::unwrap_used, reason = "a bench that cannot go on says where")]

use std::collections::BTreeMap;
use std::hint::black_box;
use std::io::Write as _;
use std::process::{Command, Stdio};

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use serde_json::{Value, json};
use thumbplane::calc::{CALCULATIONS, USUAL_TARGETS, calc};
use thumbplane::forecast::promise::{PromiseInput, promise};
use thumbplane::forecast::turnaround::{TurnaroundInput, turnaround};
use thumbplane::setup::clearance::{ClearanceInput, Direction, Pluck, StringHeights, clearance};
use thumbplane::setup::cut::{CutInput, cut};
use thumbplane::setup::intonation::{IntonationInput, intonation};
use thumbplane::setup::plan::{HouseTargets, PlanInput, plan};

const STRINGS: u32 = 12;
const FRETS: usize = 24;

/// Twelve strings, all readings three times, and something wrong in every stage.
fn bench_of_twelve() -> PlanInput {
    let three = |value: f64| json!([value, value + 0.01, value - 0.01]);
    let strings: Vec<Value> = (0..STRINGS)
        .map(|string| {
            let share = f64::from(string) / f64::from(STRINGS - 1);
            json!({"action_12_mm": three(2.5 + 0.5 * share), "first_fret_mm": [],
                "gap_at_1_stopped_at_3_mm": three(0.07), "cents_at_12": [6.0]})
        })
        .collect();
    let pitches = ["E4", "E4", "B3", "B3", "G4", "G3", "D4", "D3", "A3", "A2", "E3", "E2"];
    let instrument: Vec<Value> = pitches
        .iter()
        .zip(0..)
        .map(|(pitch, place)| {
            json!({"pitch": pitch, "material": "steel", "diameter_mm": 0.3, "position_mm": 4.5 * f64::from(place)})
        })
        .collect();
    serde_json::from_value(json!({
        "instrument": {"family": "steel-string", "scale_mm": 648, "frets": FRETS, "body_fret": 14,
            "truss_rod": "two-way", "saddle_setback_mm": 2.0, "strings": instrument},
        "style": "medium", "air": {"temperature_c": 20, "rh_percent": 47},
        "tool": {"resolution_mm": 0.01, "limit_mm": 0.02},
        "readings": {"relief_mm": three(0.15), "saddle_showing_mm": {"treble": [5], "bass": [6]}, "strings": strings},
        "observations": [{"key": "buzz", "string": 3, "fret": 7}, {"key": "tuners-dry"}, {"key": "sharp-low-frets"}],
    }))
    .unwrap()
}

fn clearance_of_twelve() -> ClearanceInput {
    let heights = |string: u32| StringHeights { first_fret_mm: 0.5, action_12_mm: 2.0 + 0.04 * f64::from(string) };
    ClearanceInput {
        scale_mm: 648.0,
        frets: FRETS,
        body_fret: 14,
        relief_mm: 0.15,
        fall_away_mm: 0.1,
        high_frets_mm: BTreeMap::new(),
        strings: (0..STRINGS).map(heights).collect(),
        pluck: Some(Pluck { at_fraction_from_saddle: 0.17, amplitude_mm: 0.5, direction: Direction::Either }),
    }
}

fn intonation_of_one() -> IntonationInput {
    serde_json::from_value(json!({"scale_mm": 648, "frets": FRETS, "first_fret_mm": 0.5, "action_12_mm": 2.2,
        "relief_mm": 0.15, "body_fret": 14,
        "string": {"pitch": "B3", "material": "steel", "diameter_mm": 0.33}}))
    .unwrap()
}

fn setup(criterion: &mut Criterion) {
    let house = HouseTargets::read(USUAL_TARGETS).unwrap();
    let (bench, gaps, string) = (bench_of_twelve(), clearance_of_twelve(), intonation_of_one());
    let mut group = criterion.benchmark_group("twelve strings, 24 frets");
    group.bench_function("plan", |timer| timer.iter(|| plan(black_box(&bench), &house).unwrap()));
    group.bench_function("clearance with pluck", |timer| timer.iter(|| clearance(black_box(&gaps)).unwrap()));
    group.bench_function("intonation of one string", |timer| timer.iter(|| intonation(black_box(&string)).unwrap()));
    group.bench_function("all together (aim: 250 µs)", |timer| {
        timer.iter(|| {
            let planned = plan(black_box(&bench), &house).unwrap();
            let cleared = clearance(black_box(&gaps)).unwrap();
            let tuned: Vec<_> = (0..STRINGS).map(|_| intonation(black_box(&string)).unwrap()).collect();
            (planned, cleared, tuned)
        });
    });
    group.finish();

    let saddle: CutInput = serde_json::from_value(json!({"place": "saddle", "scale_mm": 648,
        "showing_mm": {"treble": 4, "bass": 5}, "least_showing_mm": 1.5,
        "strings": (0..STRINGS).map(|place| json!({"position_mm": 4.5 * f64::from(place), "action_12_mm": 2.5 + 0.02 * f64::from(place * place % 7),
            "target_mm": 2.0, "standard_uncertainty_mm": 0.02, "degrees_of_freedom": 7.5})).collect::<Vec<_>>()}))
    .unwrap();
    criterion.bench_function("cut, twelve strings", |timer| timer.iter(|| cut(black_box(&saddle)).unwrap()));
}

fn forecasts(criterion: &mut Criterion) {
    let hours: Vec<f64> = (1..=40).map(|hour| f64::from(hour) / 4.0).collect();
    let queue: PromiseInput =
        serde_json::from_value(json!({"start": "2026-06-01", "week_hours": [6, 6, 6, 6, 6, 0, 0],
        "jobs": vec![json!({"hours": hours}); 60], "draws": 10_000, "seed": 1}))
        .unwrap();
    criterion.bench_function("promise, 10 000 draws of 60 jobs (aim: 30 ms)", |timer| {
        timer.iter(|| promise(black_box(&queue)).unwrap());
    });
    let jobs = TurnaroundInput {
        durations_days: (0..10_000_u32).map(|job| f64::from(job.wrapping_mul(2_654_435_761) % 4000) / 40.0).collect(),
        finished: (0..10_000).map(|job| job % 5 != 0).collect(),
    };
    criterion.bench_function("turnaround, 10 000 jobs", |timer| timer.iter(|| turnaround(black_box(&jobs)).unwrap()));
}

/// JSON in, JSON out, by the example that each calculation carries.
fn contract(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("json in, json out");
    for calculation in CALCULATIONS.iter() {
        let text = calculation.example().to_string();
        group.throughput(Throughput::Bytes(text.len() as u64));
        group.bench_function(calculation.name, |timer| {
            timer.iter(|| calc(calculation.name, black_box(text.as_bytes())).unwrap());
        });
    }
    let text = serde_json::to_string(&bench_of_twelve()).unwrap();
    group.throughput(Throughput::Bytes(text.len() as u64));
    group.bench_function("plan of twelve strings", |timer| {
        timer.iter(|| calc("plan", black_box(text.as_bytes())).unwrap());
    });
    group.finish();
}

/// The program itself, from its start to its answer.
fn command_line(criterion: &mut Criterion) {
    let text = serde_json::to_string(&bench_of_twelve()).unwrap();
    criterion.bench_function("thumbplane calc plan, start to answer (aim: 15 ms)", |timer| {
        timer.iter(|| {
            let mut program = Command::new(env!("CARGO_BIN_EXE_thumbplane"))
                .args(["calc", "plan"])
                .stdin(Stdio::piped())
                .stdout(Stdio::piped())
                .spawn()
                .unwrap();
            program.stdin.take().unwrap().write_all(text.as_bytes()).unwrap();
            let answered = program.wait_with_output().unwrap();
            assert!(answered.status.success());
            answered.stdout
        });
    });
}

criterion_group!(benches, setup, forecasts, contract, command_line);
criterion_main!(benches);
