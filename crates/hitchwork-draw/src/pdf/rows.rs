//! The rows, in short or step by step.

use hitchwork_core::steps::{Run, SaidRows};

use super::press::{Block, Style, Token};
use super::{PdfSheet, ROW, STEP, TEXT};

/// Rows that a chart tells too.
const SHORT: Style = Style::regular(9.0, 13.0);

impl PdfSheet<'_> {
    pub(super) fn rows(&mut self, told: &[&SaidRows]) {
        let mut told = told.iter().copied().peekable();
        while let Some(said) = told.next() {
            let block = match &said.words {
                None => self.row_in_full(said),
                Some(words) => match told.next_if(|next| self.fit_beside(said, next)) {
                    None => self.rows_in_short(said, words),
                    Some(next) => self.rows_beside(said, next),
                },
            };
            self.flow.place(block);
        }
    }

    /// How rows are set that one sentence tells: smaller where a chart tells them too.
    const fn short_style(&self) -> Style {
        if self.chart.tells_all { SHORT } else { TEXT }
    }

    /// Whether two lines that tell rows stand side by side in one.
    fn fit_beside(&self, said: &SaidRows, next: &SaidRows) -> bool {
        let style = self.short_style();
        let half = self.flow.width() / 2.0;
        let fits = |said: &SaidRows| {
            let words = said.words.as_ref().filter(|_| said.order_after.is_none());
            words.is_some_and(|words| style.width_behind(&said.heading(), words) <= half - 8.0)
        };
        self.chart.tells_all && fits(said) && fits(next)
    }

    fn rows_beside(&self, said: &SaidRows, next: &SaidRows) -> Block {
        let mut block = Block::new(self.flow.width());
        block.gap(2.0);
        let words = |said: &SaidRows| said.words.clone().unwrap_or_default();
        let cells = [said, next].map(|said| (said.heading(), words(said)));
        block.beside(&cells, self.short_style());
        block
    }

    /// Rows that one sentence tells stand behind their heading in one line, as far as they fit.
    fn rows_in_short(&self, said: &SaidRows, words: &str) -> Block {
        let mut block = Block::new(self.flow.width());
        block.gap(if self.chart.tells_all { 2.0 } else { 3.0 });
        let words = vec![Token::words(words)];
        block.behind(&said.heading(), words, self.short_style());
        self.order_in(&mut block, said);
        block
    }

    /// A row step by step; a step alone stands behind the heading, without a number.
    fn row_in_full(&self, said: &SaidRows) -> Block {
        let steps = self.tied.steps();
        let mut block = Block::new(self.flow.width());
        block.gap(6.0);
        let runs: Vec<&Run> = steps.rows_of(said).flat_map(|row| &row.runs).collect();
        if let [run] = runs[..] {
            let tokens = self.tokens(&run.pieces(), run.thread);
            block.behind(&said.heading(), tokens, STEP);
            if let Some(check) = self.check(said) {
                block.at_right(check, STEP);
                block.gap(2.0);
            }
            return block;
        }
        block.words(&said.heading(), ROW);
        block.glue();
        for (number, run) in (1..).zip(runs) {
            block.item(number, self.tokens(&run.pieces(), run.thread), STEP);
        }
        self.order_in(&mut block, said);
        block
    }

    fn order_in(&self, block: &mut Block, said: &SaidRows) {
        if let Some(check) = self.check(said) {
            block.glue();
            block.tokens(check, 0.0, STEP);
            block.gap(2.0);
        }
    }

    /// The order to check rows by, where it has changed.
    fn check(&self, said: &SaidRows) -> Option<Vec<Token>> {
        let order = said.order_after.as_ref()?;
        let words = Token::words("Order now: ");
        Some([vec![words], self.chips(order)].concat())
    }
}
