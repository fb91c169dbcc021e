//! How the curve and its days came about: each day's factor, and the first day that reaches a share.

use super::{RestrictedMean, Step, TurnaroundInput, TurnaroundOutput, as_number, variance_part};
use crate::forecast::limits::NORMAL_QUANTILE;
use crate::working::{Working, Workings};

const LOG_LOG: &str = "Kalbfleisch and Prentice, The Statistical Analysis of Failure Time Data (1980)";
const RESTRICTED: &str = "area under the curve; any text on survival analysis";
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
    let limits = [
        ("median_least_days", output.median_least_days, "lower", 0),
        ("median_most_days", output.median_most_days, "upper", 1),
    ];
    for (name, days, end, place) in limits {
        let step = days.and_then(|days| output.curve.iter().find(|step| step.days == days));
        let (Some(days), Some(limit)) = (days, step.and_then(|step| step.limits?.get(place).copied())) else {
            continue;
        };
        let of = format!("/{name}");
        workings.figure(&of, || {
            let what = format!("first day t with the {end} limit of the share still open at one half or less");
            let told = Working::new(&of, what, "S_l(t) ≤ 1/2")
                .put("S_l(t)", format!("{end} limit of the share still open after that day"), limit, "")
                .gives(days, "days", LOG_LOG);
            vec![told]
        });
    }
    if let Some(mean) = &output.restricted_mean {
        workings.figure("/restricted_mean", || restricted_mean_working(&output.curve, mean));
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
            let mut chain = vec![share, variance.gives(sum, "", GREENWOOD), error];
            chain.extend(step.limits.iter().flat_map(|limits| limits_working(&at, &on, step, sum, *limits)));
            chain
        });
    }
}

fn limits_working(at: &str, on: &str, step: &Step, sum: f64, limits: [f64; 2]) -> Vec<Working> {
    let formulas = ["S_l = S^(exp(z·√(V)/|ln(S)|))", "S_u = S^(exp(−z·√(V)/|ln(S)|))"];
    let ends = formulas.iter().zip(["least", "most"]).zip(limits).enumerate();
    let told = ends.map(|(place, ((formula, end), limit))| {
        Working::new(format!("{at}/limits/{place}"), format!("{end} true share still open after {on}, 95 %"), *formula)
            .put("S", "share still open", step.share_open, "")
            .put("V", "Greenwood's sum", sum, "")
            .put("z", "normal quantile of 97.5 %", NORMAL_QUANTILE, "")
            .gives(limit, "", LOG_LOG)
    });
    told.collect()
}

fn restricted_mean_working(curve: &[Step], mean: &RestrictedMean) -> Vec<Working> {
    let steps: Vec<&Step> = curve.iter().filter(|step| step.days < mean.until_days).collect();
    let ends = steps.iter().skip(1).map(|step| step.days).chain([mean.until_days]);
    let widths: Vec<f64> = steps.iter().zip(ends).map(|(step, end)| end - step.days).collect();
    let shares = || steps.iter().map(|step| step.share_open);
    let area = |from: usize| -> f64 { shares().zip(&widths).skip(from).map(|(share, width)| share * width).sum() };
    let all_open = steps.first().map_or(mean.until_days, |step| step.days);
    let formula = if steps.is_empty() { "m = t" } else { "m = t + Σ(Sᵢ·wᵢ)" };
    let days = Working::new("/restricted_mean/days", "mean of the days, cut off at the longest known", formula)
        .put("t", "days until the first job ended", all_open, "days")
        .put_each("S", "share still open after step", shares(), "")
        .put_each("w", "days until the next step, after step", widths.iter().copied(), "days")
        .gives(mean.days, "days", RESTRICTED);
    let formula = if steps.is_empty() { "se = 0" } else { "se = √(Σ(Aᵢ²·gᵢ))" };
    let error = Working::new("/restricted_mean/standard_error_days", "standard error of that mean", formula)
        .put_each("A", "area under the curve after step", (0..steps.len()).map(area), "days")
        .put_each("g", "d/(n·(n − d)) of step", steps.iter().map(|step| variance_part(step.finished, step.at_risk)), "")
        .gives(mean.standard_error_days, "days", GREENWOOD);
    vec![days, error]
}
