//! `promise-record`: were promises kept as often as was said?
//!
//! Exact (Clopper–Pearson) 95 % interval of the kept share; the stated confidence is called honest when it
//! lies inside. Wilson's narrower limits beside it are for showing. Kupiec's proportion-of-failures statistic (1995, from memory), χ² with one degree of freedom.
//! The rank rule of exchangeable jobs: the k-th smallest of n past values with k = ⌈(n + 1)c⌉ covers the
//! next with probability c at least.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use statrs::function::erf::erfc;

use super::limits::{NORMAL_QUANTILE, TAIL, clopper_pearson, wilson};
use crate::problem::Problems;
use crate::working::{Working, Workings};

/// Promises in one record, at most.
const MOST_PROMISES: u64 = 100_000;
/// Past jobs of the rank rule, at most.
const MOST_JOBS: usize = 100_000;
/// A rounding hair, so that 20 × 0.95 counts as 19.
const HAIR: f64 = 1e-9;

/// What `promise-record` takes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PromiseRecordInput {
    /// Promises kept.
    pub kept: u64,
    /// Promises made whose day is past.
    pub promised: u64,
    /// With which they were made: 0.9 is nine of ten.
    pub confidence: f64,
    /// How long past jobs of the kind took, days: gives the rank rule's promise.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub past_days: Option<Vec<f64>>,
}

/// What `promise-record` answers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PromiseRecordOutput {
    /// Kept share.
    pub share: f64,
    /// Where the true share lies, with 95 %: least and most.
    pub interval: [f64; 2],
    /// The same by Wilson's rule, for a figure that is shown: 95 % on average rather than at least.
    pub wilson_interval: [f64; 2],
    /// Whether the stated confidence lies inside.
    pub honest: bool,
    /// Kupiec's test of the misses.
    pub kupiec: Kupiec,
    /// The rank rule's promise, when past jobs were given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rank: Option<Rank>,
}

/// A likelihood ratio and how often chance alone gives as much.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Kupiec {
    /// LR = 2·[ln L(x/n) − ln L(α)].
    pub statistic: f64,
    /// Small is: not as was said.
    pub p: f64,
}

/// The rank rule.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Rank {
    /// Of the values in rising order, from 1.
    pub k: usize,
    /// The k-th smallest; null when there are too few jobs.
    pub promised_days: Option<f64>,
    /// Why there is none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

/// The record of promises.
///
/// # Errors
/// When nothing was promised, more was kept than promised, or a number is out of range.
pub fn promise_record(input: &PromiseRecordInput) -> Result<PromiseRecordOutput, Problems> {
    let mut problems = Problems::default();
    let possible = (1..=MOST_PROMISES).contains(&input.promised);
    problems.require(possible, "/promised", format_args!("must be from 1 to {MOST_PROMISES}"));
    problems.require(input.kept <= input.promised, "/kept", "must not be more than promised");
    problems.within("/confidence", input.confidence, 0.01, 0.999);
    if let Some(past) = &input.past_days {
        problems.count("/past_days", past.len(), 0, MOST_JOBS);
        for (place, days) in past.iter().enumerate() {
            problems.within(format_args!("/past_days/{place}"), *days, 0.0, 100_000.0);
        }
    }
    problems.check()?;
    let (kept, promised) = (as_number(input.kept), as_number(input.promised));
    let interval = clopper_pearson(input.kept, input.promised);
    Ok(PromiseRecordOutput {
        share: kept / promised,
        interval,
        wilson_interval: wilson(input.kept, input.promised),
        honest: (interval[0]..=interval[1]).contains(&input.confidence),
        kupiec: kupiec(promised - kept, promised, 1.0 - input.confidence),
        rank: input.past_days.as_deref().map(|past| rank(past, input.confidence)),
    })
}

/// `misses` of `n` against a stated share of misses.
fn kupiec(misses: f64, n: f64, stated: f64) -> Kupiec {
    let share = misses / n;
    // 0·ln 0 is 0
    let term = |count: f64, share: f64| if count > 0.0 { count * share.ln() } else { 0.0 };
    let log_likelihood = |p: f64| term(misses, p) + term(n - misses, 1.0 - p);
    let statistic = (2.0 * (log_likelihood(share) - log_likelihood(stated))).max(0.0);
    Kupiec { statistic, p: erfc((statistic / 2.0).sqrt()) }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a hundred thousand at most by the checked ranges, and not negative"
)]
fn rank(past: &[f64], confidence: f64) -> Rank {
    let count = as_number(u64::try_from(past.len()).unwrap_or(u64::MAX));
    let k = ((count + 1.0) * confidence - HAIR).ceil().max(1.0) as usize;
    let mut sorted = past.to_vec();
    sorted.sort_by(f64::total_cmp);
    let promised_days = sorted.get(k - 1).copied();
    Rank { k, promised_days, reason: promised_days.is_none().then(|| "Too few jobs.".to_owned()) }
}

fn as_number(count: u64) -> f64 {
    f64::from(u32::try_from(count).unwrap_or(u32::MAX))
}

/// The working of every number.
pub fn explain(input: &PromiseRecordInput, output: &PromiseRecordOutput, workings: &mut Workings) {
    let (kept, promised) = (as_number(input.kept), as_number(input.promised));
    workings.figure("/share", || {
        let told = Working::new("/share", "share of promises kept", "p = k/n")
            .put("k", "kept", kept, "")
            .put("n", "promised", promised, "")
            .gives(output.share, "", "a share");
        vec![told]
    });
    workings.figure("/interval", || interval_working(kept, promised, output.interval));
    workings.figure("/wilson_interval", || wilson_working(kept, promised, output.wilson_interval));
    workings.figure("/kupiec", || kupiec_working(promised - kept, promised, 1.0 - input.confidence, output.kupiec));
    if let Some((rank, past)) = output.rank.as_ref().zip(input.past_days.as_ref()) {
        workings.figure("/rank/k", || {
            let told = Working::new("/rank/k", "rank whose value covers the next job", "k = max(⌈(n + 1)·c − ϵ⌉, 1)")
                .put("n", "past jobs", as_number(u64::try_from(past.len()).unwrap_or(u64::MAX)), "")
                .put("c", "confidence", input.confidence, "")
                .put("ϵ", "a rounding hair", HAIR, "")
                .gives(as_number(u64::try_from(rank.k).unwrap_or(u64::MAX)), "", "rank rule of exchangeable jobs");
            vec![told]
        });
    }
}

fn interval_working(kept: f64, promised: f64, interval: [f64; 2]) -> Vec<Working> {
    const EXACT: &str = "Clopper and Pearson, Biometrika 26 (1934)";
    let least = if kept > 0.0 {
        Working::new("/interval/0", "least true share", "I(p; k, n − k + 1) = q").put("q", "in the tail", TAIL, "")
    } else {
        Working::new("/interval/0", "least true share where none was kept", "p = k/n")
    };
    let most = if kept < promised {
        let upper = 1.0 - TAIL;
        Working::new("/interval/1", "most true share", "I(p; k + 1, n − k) = q").put("q", "below the tail", upper, "")
    } else {
        Working::new("/interval/1", "most true share where all were kept", "p = k/n")
    };
    let both = [least, most].into_iter().zip(interval);
    let put = |(working, result): (Working, f64)| {
        working.put("k", "kept", kept, "").put("n", "promised", promised, "").gives(result, "", EXACT)
    };
    both.map(put).collect()
}

fn wilson_working(kept: f64, promised: f64, interval: [f64; 2]) -> Vec<Working> {
    let end = |place: usize, what: &str, formula: &str, is_end: bool, result: f64| {
        let told = Working::new(format!("/wilson_interval/{place}"), what, if is_end { "p = k/n" } else { formula });
        let told = told.put("k", "kept", kept, "").put("n", "promised", promised, "");
        let told = if is_end { told } else { told.put("z", "normal quantile of 97.5 %", NORMAL_QUANTILE, "") };
        told.gives(result, "", "Wilson, J. Am. Stat. Assoc. 22 (1927)")
    };
    let [least, most] = interval;
    const LEAST: &str = "p = (k + z²/2 − z·√(k·(n − k)/n + z²/4))/(n + z²)";
    const MOST: &str = "p = (k + z²/2 + z·√(k·(n − k)/n + z²/4))/(n + z²)";
    vec![
        end(0, "least true share by Wilson's rule", LEAST, kept <= 0.0, least),
        end(1, "most true share by Wilson's rule", MOST, kept >= promised, most),
    ]
}

fn kupiec_working(misses: f64, promised: f64, stated: f64, found: Kupiec) -> Vec<Working> {
    const KUPIEC: &str = "Kupiec (1995), proportion of failures, from memory";
    // 0·ln 0 is 0, so its term is left out
    let formula = if misses <= 0.0 {
        "LR = max(−2·n·ln(1 − α), 0)"
    } else if misses >= promised {
        "LR = max(−2·n·ln(α), 0)"
    } else {
        "LR = max(2·(x·ln(x/n) + (n − x)·ln(1 − x/n) − x·ln(α) − (n − x)·ln(1 − α)), 0)"
    };
    let mut statistic = Working::new("/kupiec/statistic", "likelihood ratio of the misses", formula)
        .put("n", "promised", promised, "")
        .put("α", "stated share of misses", stated, "");
    if misses > 0.0 && misses < promised {
        statistic = statistic.put("x", "missed", misses, "");
    }
    vec![
        statistic.gives(found.statistic, "", KUPIEC),
        Working::new("/kupiec/p", "how often chance alone gives as much", "normal(1 − p/2) = √(LR)")
            .put("LR", "likelihood ratio", found.statistic, "")
            .gives(found.p, "", "χ² with one degree of freedom is the square of a normal number"),
    ]
}
