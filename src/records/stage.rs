//! The stages of a job and the one table of moves between them.
//!
//! `checked in → measured → quoted → agreed → on the bench → final check → ready → collected`, with
//! *closed unrepaired* from any open stage. Waiting is a side track: the stage stays and the reason is kept.

use time::Date;

use super::column::words;

words! {
    /// Where a job stands.
    Stage {
        /// In the house, not looked at yet.
        CheckedIn = "checked-in" => "checked in",
        /// Readings taken.
        Measured = "measured" => "measured",
        /// A quote is out.
        Quoted = "quoted" => "quoted",
        /// The customer said yes.
        Agreed = "agreed" => "agreed",
        /// Being worked on.
        OnTheBench = "on-the-bench" => "on the bench",
        /// Work done, being proved.
        FinalCheck = "final-check" => "final check",
        /// Waits for its owner.
        Ready = "ready" => "ready",
        /// Gone home.
        Collected = "collected" => "collected",
        /// Gone home as it came.
        ClosedUnrepaired = "closed-unrepaired" => "closed unrepaired",
    }
}

words! {
    /// What a job waits for.
    WaitingFor {
        /// A part on order.
        Part = "part" => "a part",
        /// An answer.
        Customer = "customer" => "the customer",
        /// Moisture to come back.
        Wood = "wood" => "the wood to recover",
    }
}

/// How a move comes about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum How {
    /// Somebody presses a button for it.
    Pressed,
    /// It follows from a deed: readings saved, a quote made or agreed, the instrument handed over.
    Follows,
    /// Somebody presses it and says why.
    PressedWithReason,
}

/// One allowed move.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Move {
    /// From.
    pub from: Stage,
    /// To.
    pub to: Stage,
    /// How it comes about.
    pub how: How,
}

const fn allow(from: Stage, to: Stage, how: How) -> Move {
    Move { from, to, how }
}

/// Every allowed move. What is not here is answered with 409.
pub const MOVES: &[Move] = &[
    // forward
    allow(Stage::CheckedIn, Stage::Measured, How::Pressed), // also follows from the first readings
    allow(Stage::CheckedIn, Stage::Quoted, How::Follows),   // a line was chosen at the counter
    allow(Stage::Measured, Stage::Quoted, How::Follows),
    allow(Stage::Quoted, Stage::Agreed, How::Follows),
    allow(Stage::Agreed, Stage::OnTheBench, How::Pressed), // also follows from the first line done
    allow(Stage::OnTheBench, Stage::FinalCheck, How::Pressed), // also follows from final readings
    allow(Stage::FinalCheck, Stage::Ready, How::Pressed),
    allow(Stage::Ready, Stage::Collected, How::Follows),
    // one stage back, with a reason
    allow(Stage::Measured, Stage::CheckedIn, How::PressedWithReason),
    allow(Stage::Quoted, Stage::Measured, How::PressedWithReason),
    allow(Stage::Agreed, Stage::Quoted, How::PressedWithReason),
    allow(Stage::OnTheBench, Stage::Agreed, How::PressedWithReason),
    allow(Stage::FinalCheck, Stage::OnTheBench, How::PressedWithReason),
    allow(Stage::Ready, Stage::FinalCheck, How::PressedWithReason),
    // handed over by mistake, taken back on the same day
    allow(Stage::Collected, Stage::Ready, How::Follows),
    // out of the house as it came
    allow(Stage::CheckedIn, Stage::ClosedUnrepaired, How::PressedWithReason),
    allow(Stage::Measured, Stage::ClosedUnrepaired, How::PressedWithReason),
    allow(Stage::Quoted, Stage::ClosedUnrepaired, How::PressedWithReason),
    allow(Stage::Agreed, Stage::ClosedUnrepaired, How::PressedWithReason),
    allow(Stage::OnTheBench, Stage::ClosedUnrepaired, How::PressedWithReason),
    allow(Stage::FinalCheck, Stage::ClosedUnrepaired, How::PressedWithReason),
    allow(Stage::Ready, Stage::ClosedUnrepaired, How::PressedWithReason),
];

/// Whether a promise is broken: its day is past and the instrument is not ready. One rule for every list.
pub fn is_late(stage: Stage, promised_on: Option<Date>, today: Date) -> bool {
    !stage.keeps_promise() && promised_on.is_some_and(|day| day < today)
}

impl Stage {
    /// The move to `to`, where the table allows one.
    pub fn move_to(self, to: Self) -> Option<Move> {
        MOVES.iter().copied().find(|allowed| allowed.from == self && allowed.to == to)
    }

    /// The moves a person can press from here.
    pub fn pressable(self) -> impl Iterator<Item = Move> {
        MOVES.iter().copied().filter(move |allowed| allowed.from == self && allowed.how != How::Follows)
    }

    /// Whether what was promised is done: it is ready, or gone.
    pub fn keeps_promise(self) -> bool {
        matches!(self, Self::Ready | Self::Collected | Self::ClosedUnrepaired)
    }

    /// Whether the instrument is still in the shop's care.
    pub fn is_open(self) -> bool {
        !matches!(self, Self::Collected | Self::ClosedUnrepaired)
    }

    /// Place in the row of stages, 0 for checked in to 7 for collected.
    pub fn index(self) -> usize {
        Self::ALL.iter().position(|stage| *stage == self).unwrap_or(0).min(7)
    }
}
