//! How the curve and its days came about: each day's factor, and the first day that reaches a share.

use super::{TurnaroundInput, TurnaroundOutput, as_number, variance_part};
use crate::working::{Working, Workings};

const KAPLAN_MEIER: &str = "Kaplan and Meier, J. Am. Stat. Assoc. 53 (1958) 457";
const GREENWOOD: &str = "Greenwood (1926); any text on survival analysis";

/// The working of every number but days and counts of jobs.
pub fn explain(_: &TurnaroundInput, output: &TurnaroundOutput, workings: &mut Workings) {
    let asked = [
        ("median_days", output.median_days, 0.5),
        ("p80_days", output.p80_days, 0.8),
        ("p90_days", output.p90_days, 0.9),
    ];
    for (name, days, p) in asked {
        let Some(place) = days.and_then(|days| output.curve.iter().position(|step| step.days == days)) else {
            continue;
        };
        let (Some(step), Some(days)) = (output.curve.get(place), days) else {
            continue;
        };
        let before =
            place.checked_sub(1).and_then(|before| output.curve.get(before)).map_or(1.0, |step| step.share_open);
        let of = format!("/{name}");
        workings.figure(&of, || {
            let what = format!("first day t with at most {:.0} % of the jobs still open", (1.0 - p) * 100.0);
            let told = Working::new(&of, what, "S(t) ≤ 1 − p < S(before t)")
                .put("S(t)", "share still open after that day", step.share_open, "")
                .put("p", "share ended", p, "")
                .put("S(before t)", "share still open before it", before, "")
                .gives(days, "days", KAPLAN_MEIER);
            vec![told]
        });
    }
    let (mut before, mut sum) = (1.0, 0.0);
    for (place, step) in output.curve.iter().enumerate() {
        let (finished, at_risk) = (as_number(step.finished), as_number(step.at_risk));
        let (sum_before, last) = (sum, step.finished == step.at_risk);
        sum += variance_part(step.finished, step.at_risk);
        let share_before = before;
        before = step.share_open;
        let at = format!("/curve/{place}");
        workings.detail(&at, || {
            let on = format!("day {}", step.days);
            let share =
                Working::new(format!("{at}/share_open"), format!("share still open after {on}"), "S = S_b·(1 − d/n)")
                    .put("S_b", "share still open before", share_before, "")
                    .put("d", "jobs that ended on it", finished, "")
                    .put("n", "jobs still open just before", at_risk, "")
                    .gives(step.share_open, "", KAPLAN_MEIER);
            let what = format!("Greenwood's sum up to {on}");
            let variance = if last {
                Working::new("", format!("{what}; the last job adds nothing"), "V = V_b").put(
                    "V_b",
                    "the sum before",
                    sum_before,
                    "",
                )
            } else {
                Working::new("", what, "V = V_b + d/(n·(n − d))")
                    .put("V_b", "the sum before", sum_before, "")
                    .put("d", "jobs that ended on it", finished, "")
                    .put("n", "jobs still open just before", at_risk, "")
            };
            let error = Working::new(
                format!("{at}/standard_error"),
                format!("standard error of that share, {on}"),
                "se = S·√(V)",
            )
            .put("S", "share still open", step.share_open, "")
            .put("V", "Greenwood's sum", sum, "")
            .gives(step.standard_error, "", GREENWOOD);
            vec![share, variance.gives(sum, "", GREENWOOD), error]
        });
    }
}
