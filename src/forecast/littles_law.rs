//! Little's law (Operations Research 9, 1961) as a check on the figures of a page: over a window, the open
//! jobs are on average those that close in a day times the days that each stays.
//!
//! It needs no distribution, only a long run. Where the two sides differ widely the window is too short, or
//! the shop takes in more than it closes, and then no turnaround that was measured will hold.

/// From what share on the two sides are said to differ. Our own choice.
pub const WIDE: f64 = 0.3;

/// One job in the house.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stay {
    /// Day of its check-in, counted from any day.
    pub from_days: f64,
    /// Day on which it ended; `None` while open.
    pub until_days: Option<f64>,
}

/// Both sides of the law.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LittlesLaw {
    /// Jobs open, on average over the window.
    pub mean_open: f64,
    /// Jobs that closed in a day of it.
    pub closed_a_day: f64,
    /// Days that those stayed, on average.
    pub mean_days: f64,
    /// The product: as many are to be expected.
    pub expected_open: f64,
    /// What was open for each that was expected, less one.
    pub difference: f64,
}

impl LittlesLaw {
    /// The two sides over a window of days; `None` where nothing closed in it.
    pub fn over(stays: &[Stay], from_days: f64, until_days: f64) -> Option<Self> {
        let window = until_days - from_days;
        let within = |stay: &Stay| {
            let until = stay.until_days.unwrap_or(until_days).min(until_days);
            (until - stay.from_days.max(from_days)).max(0.0)
        };
        let closed = stays.iter().filter_map(|stay| {
            let until = stay.until_days.filter(|until| (from_days..until_days).contains(until))?;
            Some(until - stay.from_days)
        });
        let (count, days) = closed.fold((0.0, 0.0), |(count, sum), days| (count + 1.0, sum + days));
        Self::of_sums(window, stays.iter().map(within).sum(), count, days)
    }

    /// The same from what was summed elsewhere: the days of the window, those that all jobs together stayed within it,
    /// how many closed in it, and the days that these stayed in all.
    pub fn of_sums(window_days: f64, stayed_days: f64, closed: f64, days_of_closed: f64) -> Option<Self> {
        (window_days > 0.0 && closed > 0.0 && days_of_closed > 0.0).then(|| {
            let mean_open = stayed_days / window_days;
            let expected_open = days_of_closed / window_days;
            Self {
                mean_open,
                closed_a_day: closed / window_days,
                mean_days: days_of_closed / closed,
                expected_open,
                difference: mean_open / expected_open - 1.0,
            }
        })
    }

    /// Whether the two sides differ so widely that the turnaround measured is not to be trusted.
    pub fn differs_widely(&self) -> bool {
        self.difference.abs() > WIDE
    }
}
