//! How the promise came about: draws that ended by a day, of all draws.

use super::{PromiseInput, PromiseOutput, as_number};
use crate::working::{Working, Workings};

const SOURCE: &str = "relative frequency of simulated ends (Monte Carlo); any text on simulation";

/// The working of every share, and of the two days.
pub fn explain(input: &PromiseInput, output: &PromiseOutput, workings: &mut Workings) {
    let draws = as_number(input.draws);
    let ended_on = |probability: f64| (probability * draws).round();
    let asked = [
        ("", "median day", output.median_day, 0.5),
        ("/promised_share", "promised day", output.promised_day, input.confidence),
    ];
    for (of, name, day, wanted) in asked {
        workings.figure(of, || {
            let until = |last: &dyn Fn(time::Date) -> bool| -> f64 {
                output.days.iter().filter(|share| last(share.day)).map(|share| ended_on(share.probability)).sum()
            };
            let (before, on) = (until(&|of| of < day), until(&|of| of == day));
            let what = format!(
                "share of draws that had ended by {day}, the {name}: the first day with {wanted} of them or more"
            );
            let told = Working::new(of, what, "P = (K + k)/n")
                .put("K", "draws that ended on an earlier day", before, "")
                .put("k", "draws that ended on it", on, "")
                .put("n", "draws", draws, "")
                .gives((before + on) / draws, "", SOURCE);
            vec![told]
        });
    }
    for (place, share) in output.days.iter().enumerate() {
        let of = format!("/days/{place}/probability");
        workings.detail(&of, || {
            let told = Working::new(&of, format!("share of draws that end on {}", share.day), "P = k/n")
                .put("k", "draws that ended on it", ended_on(share.probability), "")
                .put("n", "draws", draws, "")
                .gives(share.probability, "", SOURCE);
            vec![told]
        });
    }
}
