//! A progress bar that appears once work has lasted two seconds, on the terminal only.

use std::sync::OnceLock;
use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

/// Work shorter than this shows no bar.
const PATIENCE: Duration = Duration::from_secs(2);

/// What is done out of what is to do.
#[derive(Debug)]
pub struct Progress {
    bar: ProgressBar,
    since: Instant,
    shown: OnceLock<()>,
}

impl Progress {
    /// A bar for `total` of something.
    pub fn of(total: u64, what: &str) -> Self {
        let bar = ProgressBar::with_draw_target(Some(total), ProgressDrawTarget::hidden());
        let template = format!("{{wide_bar}} {{human_pos}}/{{human_len}} {what}, {{eta}} left");
        if let Ok(style) = ProgressStyle::with_template(&template) {
            bar.set_style(style);
        }
        Self {
            bar,
            since: Instant::now(),
            shown: OnceLock::new(),
        }
    }

    /// Does the work, which tells how many were done since it last told, from any thread; the bar is gone behind it.
    pub fn during<T>(self, work: impl FnOnce(&(dyn Fn(u64) + Sync)) -> T) -> T {
        work(&|done| self.advance(done))
    }

    /// How many were done since the last call; any thread may call.
    pub fn advance(&self, done: u64) {
        self.bar.inc(done);
        if self.since.elapsed() > PATIENCE {
            self.shown.get_or_init(|| {
                self.bar.set_draw_target(ProgressDrawTarget::stderr());
            });
        }
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        self.bar.finish_and_clear();
    }
}
