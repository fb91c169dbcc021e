//! Sixty instruments, and the plan that a repairer expects of each: what is found, what is done in which order, what
//! may be done now, which service is sold. Every line says its reason. All of it is common practice of the trade, no
//! source; the numbers that go with it have tests of their own.

use serde_json::{Value, json};

use super::answer;

mod electric;
mod free_bridges;
mod nylon;
mod steel;

/// One instrument with its expected plan.
pub(super) struct Expected {
    /// What stands on the bench.
    pub(super) what: &'static str,
    /// Why a repairer plans so.
    pub(super) why: &'static str,
    pub(super) bench: Bench,
    /// "key severity service" or "key severity -", without what is only fine, in the order of work.
    pub(super) findings: &'static [&'static str],
    /// "key now", "key waits" or "key offer", with "!" where it cannot be undone; what finishes every setup (oil,
    /// polish, clean) left out.
    pub(super) steps: &'static [&'static str],
}

/// An instrument with everything read three times, set up well.
#[derive(Clone)]
pub(super) struct Bench(pub(super) Value);

/// Three readings about a value.
fn three(value: f64) -> Value {
    json!([value, value + 0.01, value - 0.01])
}

impl Bench {
    pub(super) fn of(
        family: &str,
        (scale, frets, body): (f64, u32, u32),
        strings: usize,
        (action, gap, relief): ([f64; 2], f64, f64),
    ) -> Self {
        let rows: Vec<Value> = (0..strings)
            .map(|place| {
                let share = place as f64 / (strings - 1) as f64;
                json!({"action_12_mm": three(action[0] + (action[1] - action[0]) * share),
                    "gap_at_1_stopped_at_3_mm": three(gap)})
            })
            .collect();
        Self(json!({
            "instrument": {"family": family, "scale_mm": scale, "frets": frets, "body_fret": body,
                "truss_rod": "two-way", "strings": vec![json!({}); strings]},
            "style": "medium",
            "air": {"temperature_c": 20, "rh_percent": 48},
            "tool": {"resolution_mm": 0.01, "limit_mm": 0.02},
            "readings": {"relief_mm": three(relief), "strings": rows},
        }))
    }

    fn row(&mut self, string: usize) -> &mut Value {
        &mut self.0["readings"]["strings"][string - 1]
    }

    fn strings(&self) -> usize {
        self.0["instrument"]["strings"].as_array().unwrap().len()
    }

    pub(super) fn has(mut self, field: &str, value: impl Into<Value>) -> Self {
        self.0["instrument"][field] = value.into();
        self
    }

    pub(super) fn each(mut self, field: &str, values: &[f64]) -> Self {
        for (place, value) in values.iter().enumerate() {
            self.0["instrument"]["strings"][place][field] = json!(value);
        }
        self
    }

    pub(super) fn counted(mut self, field: &str, values: &[Option<usize>]) -> Self {
        for (place, value) in values.iter().enumerate() {
            if let Some(value) = value {
                self.0["instrument"]["strings"][place][field] = json!(value);
            }
        }
        self
    }

    /// Every height at the 12th by so much more.
    pub(super) fn higher(mut self, by: f64) -> Self {
        for string in 1..=self.strings() {
            let read = self.row(string)["action_12_mm"][0].as_f64().unwrap();
            self.row(string)["action_12_mm"] = three(read + by);
        }
        self
    }

    pub(super) fn action(mut self, string: usize, mm: f64) -> Self {
        self.row(string)["action_12_mm"] = three(mm);
        self
    }

    /// One slip among single readings.
    pub(super) fn misread(mut self, string: usize, mm: f64) -> Self {
        self.row(string)["action_12_mm"] = json!([mm]);
        self
    }

    pub(super) fn gap(mut self, mm: f64) -> Self {
        for string in 1..=self.strings() {
            self.row(string)["gap_at_1_stopped_at_3_mm"] = three(mm);
        }
        self
    }

    /// The string lies on its first fret, or a gap of its own.
    pub(super) fn gap_of(mut self, string: usize, mm: f64) -> Self {
        let read = if mm == 0.0 { json!([0.0, 0.0, 0.0]) } else { three(mm) };
        self.row(string)["gap_at_1_stopped_at_3_mm"] = read;
        self
    }

    /// Open heights over the 1st.
    pub(super) fn first_fret(mut self, heights: &[f64]) -> Self {
        for (place, mm) in heights.iter().enumerate() {
            self.row(place + 1)["first_fret_mm"] = json!([mm, mm, mm]);
        }
        self
    }

    pub(super) fn relief(mut self, mm: f64) -> Self {
        self.0["readings"]["relief_mm"] = three(mm);
        self
    }

    pub(super) fn showing(mut self, treble: f64, bass: f64) -> Self {
        self.0["readings"]["saddle_showing_mm"] = json!({"treble": three(treble), "bass": three(bass)});
        self
    }

    pub(super) fn cents(mut self, cents: &[f64]) -> Self {
        for (place, cents) in cents.iter().enumerate() {
            self.row(place + 1)["cents_at_12"] = json!([cents, cents]);
        }
        self
    }

    /// Read once, not three times.
    pub(super) fn once(mut self) -> Self {
        for string in 1..=self.strings() {
            for field in ["action_12_mm", "gap_at_1_stopped_at_3_mm"] {
                let read = self.row(string)[field][0].clone();
                self.row(string)[field] = json!([read]);
            }
        }
        self
    }

    /// A tool whose scatter this shop has measured.
    pub(super) fn known_tool(mut self) -> Self {
        self.0["tool"]["repeatability_mm"] = json!(0.02);
        self.0["tool"]["repeatability_degrees_of_freedom"] = json!(30);
        self
    }

    pub(super) fn without(mut self, field: &str) -> Self {
        for string in 1..=self.strings() {
            self.row(string).as_object_mut().unwrap().remove(field);
        }
        self.0["readings"].as_object_mut().unwrap().remove(field);
        self
    }

    pub(super) fn with_air(mut self, rh_percent: f64) -> Self {
        self.0["air"] = json!({"temperature_c": 20, "rh_percent": rh_percent});
        self
    }

    pub(super) fn no_air(mut self) -> Self {
        self.0.as_object_mut().unwrap().remove("air");
        self
    }

    pub(super) fn seen(self, key: &str) -> Self {
        self.noted(json!({"key": key}))
    }

    pub(super) fn heard(self, key: &str, string: usize, fret: usize) -> Self {
        self.noted(json!({"key": key, "string": string, "fret": fret}))
    }

    pub(super) fn noted(mut self, observation: Value) -> Self {
        match self.0["observations"].as_array_mut() {
            Some(list) => list.push(observation),
            None => self.0["observations"] = json!([observation]),
        }
        self
    }
}

pub(super) const FINISHING: [&str; 3] = ["tuners-dry", "polish-slots", "clean"];

fn findings(plan: &Value) -> Vec<String> {
    let all = plan["findings"].as_array().unwrap().iter().filter(|finding| finding["severity"] != "fine");
    let said = |finding: &Value| {
        let service = finding["service"].as_str().unwrap_or("-");
        format!("{} {} {service}", finding["key"].as_str().unwrap(), finding["severity"].as_str().unwrap())
    };
    all.map(said).collect()
}

fn steps(plan: &Value) -> Vec<String> {
    let all = plan["steps"].as_array().unwrap().iter();
    let kept = all.filter(|step| !FINISHING.contains(&step["key"].as_str().unwrap()));
    let said = |step: &Value| {
        let state = match step["state"].as_str().unwrap() {
            "after-measuring-again" => "waits",
            other => other,
        };
        let mark = if step["reversible"] == json!(false) && state != "offer" { "!" } else { "" };
        format!("{} {state}{mark}", step["key"].as_str().unwrap())
    };
    kept.map(said).collect()
}

/// What must hold of any of them.
fn keeps_the_principle(expected: &Expected, plan: &Value) {
    let what = expected.what;
    for step in plan["steps"].as_array().unwrap() {
        let waits = step["state"] == "after-measuring-again";
        let named = step["waits_for"].as_array().is_some_and(|waits| !waits.is_empty());
        assert_eq!(waits, named, "{what}: what waits names what would settle it: {step}");
        if waits && step["reversible"] == json!(false) {
            let first = step["waits_for"][0].as_str().unwrap();
            assert!(step["words"].as_str().unwrap().contains(first), "{what}: {step}");
        }
    }
    let works = |key: &str| plan["steps"].as_array().unwrap().iter().any(|step| step["key"] == key);
    for (one, other) in [("saddle-high", "saddle-low"), ("relief-too-much", "relief-too-little")] {
        assert!(!(works(one) && works(other)), "{what}: opposite advice");
    }
    // every complaint and every piece of work ends in a step
    let asks = |finding: &Value| {
        finding["severity"] != "watch"
            || expected.bench.0["observations"].as_array().is_some_and(|seen| !seen.is_empty())
    };
    let asked =
        plan["findings"].as_array().unwrap().iter().any(|finding| finding["severity"] != "fine" && asks(finding));
    assert!(!asked || !expected.steps.is_empty(), "{what}");
}

/// All of them.
fn all() -> Vec<Expected> {
    [steel::all(), nylon::all(), electric::all(), free_bridges::all()].into_iter().flatten().collect()
}

/// What stands on each bench, by what it is.
pub(super) fn benches() -> Vec<(&'static str, Value)> {
    all().into_iter().map(|expected| (expected.what, expected.bench.0)).collect()
}

#[test]
fn every_one_of_sixty_instruments_gets_the_plan_a_repairer_expects() {
    let all = all();
    assert!(all.len() >= 60, "{}", all.len());
    let mut wrong = Vec::new();
    for expected in &all {
        assert!(!expected.why.is_empty());
        let plan = answer("plan", &expected.bench.0);
        let (found, done) = (findings(&plan), steps(&plan));
        if found != expected.findings || done != expected.steps {
            wrong.push(format!(
                "{} ({})\n  found    {found:?}\n  expected {:?}\n  steps    {done:?}\n  expected {:?}",
                expected.what, expected.why, expected.findings, expected.steps
            ));
            continue;
        }
        keeps_the_principle(expected, &plan);
    }
    assert!(wrong.is_empty(), "{} of {}:\n{}", wrong.len(), all.len(), wrong.join("\n"));
}
