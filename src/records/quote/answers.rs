//! What the customer says to a quote: each answer with who said it, who heard it and what was shown.

use serde::Serialize;
use time::Date;

use super::super::column::words;
use super::super::event::{self, AuditContext};
use super::super::fold::canonical;
use super::super::stage::Stage;
use super::super::work::{self, LineState};
use super::super::{Error, JobId, QuoteId, Result, WorkLineId, WriteTx, account, job};
use super::sums::{Sums, agreed_revision, sums_of};
use super::{Answer, AnsweredHow, Quote, QuoteLine, alternatives, find, lines, of_job};
use crate::quantity::{Instant, Money, TaxRate};
use crate::records::column::as_json;

words! {
    /// What came back.
    Said {
        /// Yes, to all or to some.
        Agreed = "agreed" => "agreed",
        /// No.
        Declined = "declined" => "declined",
        /// A question.
        Asked = "asked" => "asked",
    }
}

/// An answer as it came.
#[derive(Debug, Clone, Copy)]
pub struct QuoteAnswer<'a> {
    /// The lines said yes to; none: a no.
    pub yes_to: &'a [WorkLineId],
    /// How it came.
    pub how: AnsweredHow,
    /// Who said it.
    pub answered_by: &'a str,
    /// What else they said.
    pub words: &'a str,
    /// What those lines came to with tax where they were shown; `None` where nothing was.
    pub shown_total: Option<Money>,
    /// The shop's day: on the private page a quote ends with its last day.
    pub today: Date,
}

/// Writes the customer's answer down: yes to the lines named, no to the others. What was begun with a yes stays agreed.
///
/// # Errors
/// Refused when the revision was already answered otherwise or superseded, when more than one alternative is chosen, and
/// on the private page after its last day; [`Error::ChangedMeanwhile`] where the lines come to another total than was
/// shown.
pub async fn answer(tx: &mut WriteTx, by: &AuditContext, id: QuoteId, new: QuoteAnswer<'_>) -> Result<JobId> {
    let quote = find(&mut **tx, id).await?;
    let frozen = lines(&mut **tx, id).await?;
    let yes_to = new.yes_to;
    if !yes_to.iter().all(|yes| frozen.iter().any(|line| line.work_line_id == *yes)) {
        return Err(Error::NotFound("line of this quote"));
    }
    let yes = if yes_to.is_empty() { Answer::Declined } else { Answer::Agreed };
    let standing = work::of_job(&mut **tx, quote.job_id).await?;
    let is_kept = |id: WorkLineId| standing.iter().any(|line| line.id == id && line.is_kept());
    let said: Vec<(WorkLineId, Answer)> = frozen
        .iter()
        .map(|line| line.work_line_id)
        .map(|line| (line, yes == Answer::Agreed && (yes_to.contains(&line) || is_kept(line))))
        .map(|(line, agreed)| (line, if agreed { Answer::Agreed } else { Answer::Declined }))
        .collect();
    if quote.answer == Some(yes) && frozen.iter().zip(&said).all(|(line, (_, said))| line.answer == Some(*said)) {
        return Ok(quote.job_id); // pressed twice
    }
    job::in_the_house(&mut **tx, quote.job_id, "no answer is taken any more").await?;
    if let Some(earlier) = quote.answer {
        return Err(Error::refused(format!(
            "Revision {} is already {earlier}. Make a new revision to change what was said.",
            quote.revision
        )));
    }
    if new.how == AnsweredHow::Link && quote.valid_until < new.today {
        return Err(Error::refused(
            "This quote held until its last day, and that is past. Call us: we look at it anew.",
        ));
    }
    let agreed = || frozen.iter().zip(&said).filter(|(_, (_, said))| *said == Answer::Agreed).map(|(line, _)| line);
    let names = alternatives(&frozen);
    if names.iter().filter(|name| agreed().any(|line| line.alternative == **name)).count() > 1 {
        return Err(Error::refused(format!("One of these is chosen, not more: {}.", names.join("; "))));
    }
    let sums = sums_of(&quote, agreed())?;
    if new.shown_total.is_some_and(|shown| shown != sums.total) {
        return Err(Error::ChangedMeanwhile("quote"));
    }
    keep(tx, by, &quote, &frozen, &said, yes, sums, new).await?;
    if yes == Answer::Agreed {
        job::follow(tx, by, quote.job_id, Stage::Quoted, Stage::Agreed).await?;
    }
    Ok(quote.job_id)
}

/// What was shown with an answer.
#[derive(Debug, Serialize)]
struct Shown<'a> {
    revision: i64,
    yes_to: Vec<(&'a str, Money)>,
    no_to: Vec<(&'a str, Money)>,
    net: Money,
    tax: Money,
    total: Money,
}

impl<'a> Shown<'a> {
    fn of(quote: &Quote, frozen: &'a [QuoteLine], said: &[(WorkLineId, Answer)], sums: Sums) -> Self {
        let with = |wanted: Answer| {
            let lines = frozen.iter().zip(said).filter(|(_, (_, said))| *said == wanted);
            lines.map(|(line, _)| (line.words.as_str(), line.charged())).collect()
        };
        let Sums { net, tax, total } = sums;
        Self { revision: quote.revision, yes_to: with(Answer::Agreed), no_to: with(Answer::Declined), net, tax, total }
    }
}

async fn keep(
    tx: &mut WriteTx,
    by: &AuditContext,
    quote: &Quote,
    frozen: &[QuoteLine],
    said: &[(WorkLineId, Answer)],
    yes: Answer,
    sums: Sums,
    new: QuoteAnswer<'_>,
) -> Result<()> {
    let id = quote.id;
    let answered_by = canonical(new.answered_by);
    sqlx::query!(
        "UPDATE quote SET answer = ?, answered_at = ?, answered_how = ?, answered_by = ?, answer_staff_id = ?, version = version + 1
         WHERE id = ?",
        yes,
        by.at,
        new.how,
        answered_by,
        by.staff,
        id,
    )
    .execute(&mut **tx)
    .await?;
    let standing = work::of_job(&mut **tx, quote.job_id).await?;
    let is_kept = |id: WorkLineId| standing.iter().any(|line| line.id == id && line.is_kept());
    for (line, said) in said {
        sqlx::query!("UPDATE quote_line SET answer = ? WHERE quote_id = ? AND work_line_id = ?", said, id, line)
            .execute(&mut **tx)
            .await?;
        match said {
            Answer::Agreed => work::answered(tx, *line, LineState::Agreed).await?,
            Answer::Declined | Answer::Superseded if is_kept(*line) => {}
            Answer::Declined | Answer::Superseded => no_longer_agreed(tx, *line).await?,
        }
    }
    let heard = if yes == Answer::Agreed { Said::Agreed } else { Said::Declined };
    write(tx, by, id, heard, new, &Shown::of(quote, frozen, said, sums), sums.total).await?;
    keep_in_account(tx, quote.job_id).await?;
    let after = (id, yes, new.how, answered_by, said);
    event::write(tx, by, "quote answered", "job", quote.job_id.0, None, Some(&after)).await
}

async fn write(
    tx: &mut WriteTx,
    by: &AuditContext,
    id: QuoteId,
    said: Said,
    new: QuoteAnswer<'_>,
    shown: &Shown<'_>,
    shown_total: Money,
) -> Result<()> {
    let (answered_by, words, shown) = (canonical(new.answered_by), canonical(new.words), as_json(shown)?);
    sqlx::query!(
        "INSERT INTO quote_answer (quote_id, said, how, answered_by, words, heard_by, shown, shown_total, answered_at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
        id,
        said,
        new.how,
        answered_by,
        words,
        by.staff,
        shown,
        shown_total,
        by.at,
    )
    .execute(&mut **tx)
    .await?;
    Ok(())
}

/// Writes a question about a quote down. It answers nothing; the same words sent twice are kept once.
///
/// # Errors
/// Refused without words, once the instrument has left the house, and about a revision that another one replaced.
pub async fn ask(
    tx: &mut WriteTx,
    by: &AuditContext,
    id: QuoteId,
    how: AnsweredHow,
    asked_by: &str,
    words: &str,
) -> Result<JobId> {
    let quote = find(&mut **tx, id).await?;
    job::in_the_house(&mut **tx, quote.job_id, "nothing is asked of this quote any more").await?;
    if quote.answer == Some(Answer::Superseded) {
        return Err(Error::refused("A newer quote took the place of this one: look at it first."));
    }
    let words = canonical(words);
    if words.is_empty() {
        return Err(Error::refused("Write down what is asked."));
    }
    let is_there = sqlx::query_scalar!(
        r#"SELECT EXISTS (SELECT 1 FROM quote_answer WHERE quote_id = ? AND said = 'asked' AND words = ?) AS "is!: bool""#,
        id,
        words,
    )
    .fetch_one(&mut **tx)
    .await?;
    if is_there {
        return Ok(quote.job_id);
    }
    let frozen = lines(&mut **tx, id).await?;
    let sums = Sums { net: quote.net, tax: quote.tax, total: quote.total };
    let shown = Shown::of(&quote, &frozen, &[], sums);
    let asked = QuoteAnswer {
        yes_to: &[],
        how,
        answered_by: asked_by,
        words: &words,
        shown_total: None,
        today: quote.valid_until,
    };
    write(tx, by, id, Said::Asked, asked, &shown, quote.total).await?;
    event::write(tx, by, "question about the quote", "job", quote.job_id.0, None, Some(&(id, how, &words))).await?;
    Ok(quote.job_id)
}

/// Agrees to a new revision without asking, where all lines stay within what the shop may add by itself to what the
/// customer agreed to last: `margin` is in thousandths of a percent, nought where a new answer is always asked for. Growth
/// by such steps does not add up, because it is measured from the customer's own yes.
pub(super) async fn agree_within_margin(tx: &mut WriteTx, by: &AuditContext, id: QuoteId, margin: i64) -> Result<()> {
    let quote = find(&mut **tx, id).await?;
    let revisions = of_job(&mut **tx, quote.job_id).await?;
    let own_yes = revisions
        .iter()
        .find(|known| known.answer == Some(Answer::Agreed) && known.answered_how != Some(AnsweredHow::Margin));
    let Some(own_yes) = own_yes.filter(|_| margin > 0) else { return Ok(()) };
    let frozen = lines(&mut **tx, id).await?;
    let agreed = lines(&mut **tx, own_yes.id).await?;
    let agreed_total = super::agreed_sums(own_yes, &agreed)?.total;
    let may_add = TaxRate(margin).of(agreed_total).unwrap_or(Money(0));
    let sums = sums_of(&quote, frozen.iter())?;
    let is_within = sums.total.0 <= agreed_total.0.saturating_add(may_add.0);
    if !is_within || agreed_total.0 == 0 || !alternatives(&frozen).is_empty() {
        return Ok(());
    }
    let yes_to: Vec<WorkLineId> = frozen.iter().map(|line| line.work_line_id).collect();
    let said: Vec<(WorkLineId, Answer)> = yes_to.iter().map(|line| (*line, Answer::Agreed)).collect();
    let new = QuoteAnswer {
        yes_to: &yes_to,
        how: AnsweredHow::Margin,
        answered_by: "",
        words: "",
        shown_total: Some(sums.total),
        today: quote.valid_until,
    };
    keep(tx, by, &quote, &frozen, &said, Answer::Agreed, sums, new).await?;
    job::follow(tx, by, quote.job_id, Stage::Quoted, Stage::Agreed).await
}

/// The customer says no to one line after all, also after a yes: a slip at the counter, or a mind changed. It counts
/// no more. Pressed twice it is declined once.
///
/// # Errors
/// Refused without a reason, once the instrument has left the house, and when work on the line was begun.
pub async fn decline_line(
    tx: &mut WriteTx,
    by: &AuditContext,
    job_id: JobId,
    id: WorkLineId,
    reason: &str,
) -> Result<()> {
    let line = work::find(tx, job_id, id).await?;
    job::in_the_house(&mut **tx, job_id, "its lines stay as they are").await?;
    if line.state == LineState::Declined {
        return Ok(()); // pressed twice
    }
    let reason = canonical(reason);
    if reason.is_empty() {
        return Err(Error::refused("Say why: who said no, and when."));
    }
    if !line.may_decline() {
        let (why, way) = match (line.state, line.is_begun) {
            (LineState::Proposed, false) => ("no quote names it yet", "Take it off instead"),
            (_, true) => ("time or parts went into it", "Settle the price with the customer in a new revision"),
            _ => ("it is ticked off", "If it was not done, the bench opens it again first"),
        };
        return Err(Error::refused(format!("“{}” cannot be declined, because {why}. {way}.", line.words)));
    }
    no_longer_agreed(tx, id).await?;
    keep_in_account(tx, job_id).await?;
    event::write(tx, by, "work line declined", "job", job_id.0, None, Some(&(line.words, line.state, reason))).await
}

async fn no_longer_agreed(tx: &mut WriteTx, line: WorkLineId) -> Result<()> {
    sqlx::query!("UPDATE quote_line SET answer = 'declined' WHERE work_line_id = ? AND answer = 'agreed'", line)
        .execute(&mut **tx)
        .await?;
    work::answered(tx, line, LineState::Declined).await
}

/// Keeps what a job comes to in its account.
async fn keep_in_account(tx: &mut WriteTx, job: JobId) -> Result<()> {
    let agreed = agreed_revision(&mut **tx, job).await?;
    account::keep_agreed(tx, job, agreed.map(|(at, sums)| (at, sums.net, sums.total))).await
}

/// An answer or a question as it is told afterwards.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "each field is the column of the same name")]
pub struct GivenAnswer {
    #[serde(skip)]
    pub quote_id: QuoteId,
    pub revision: i64,
    pub said: Said,
    pub how: AnsweredHow,
    pub answered_by: String,
    pub words: String,
    /// Who heard it.
    pub heard_by: Option<String>,
    pub shown_total: Money,
    pub answered_at: Instant,
}

/// What came back to the quotes of a job, the newest first.
pub async fn answers_of_job(executor: impl sqlx::SqliteExecutor<'_>, job: JobId) -> Result<Vec<GivenAnswer>> {
    Ok(sqlx::query_as!(
        GivenAnswer,
        r#"SELECT quote_id AS "quote_id: QuoteId", quote.revision, said AS "said: Said", how AS "how: AnsweredHow",
                  quote_answer.answered_by, words, staff.name AS "heard_by?", shown_total AS "shown_total: Money",
                  quote_answer.answered_at AS "answered_at: Instant"
           FROM quote CROSS JOIN quote_answer ON quote_answer.quote_id = quote.id
           LEFT JOIN staff ON staff.id = quote_answer.heard_by
           WHERE quote.job_id = ? ORDER BY quote_answer.id DESC"#,
        job,
    )
    .fetch_all(executor)
    .await?)
}
