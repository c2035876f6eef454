//! From lines to sessions: where one begins, what is taken in, where it ends.

use std::collections::VecDeque;
use std::io::{self, BufRead, Read};

use thiserror::Error;

use super::line::{LineError, TagLine, Told, understand};
use crate::at::At;
use crate::interpret::Said;
use crate::plan::Command;
use crate::run::HeardTimes;
use crate::session::Input;

/// Bytes of one line at most; a note may be long.
const LONGEST_LINE: usize = 64 << 10;
/// Tags of one session at most: two a second for days.
const MOST_TAGS: u32 = 1_000_000;

/// Why tags cannot be replayed.
#[derive(Debug, Error)]
pub enum TagsError {
    /// The file cannot be read on.
    #[error("the tags cannot be read")]
    Read(#[from] io::Error),
    /// A line cannot be taken.
    #[error("line {line}: {problem}")]
    Line {
        /// Its number, counted from 1.
        line: u64,
        /// What is wrong.
        problem: LineError,
    },
}

/// What comes next.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Step {
    /// A session with this number comes next.
    Begin { session: u64 },
    /// It will begin at this step.
    StartAt(u8),
    /// Something was said or pressed, and when it was heard.
    Take(At, Input, Option<HeardTimes>),
    /// The session is over.
    End(At),
}

/// A session that has not ended.
struct Open {
    session: u64,
    latest: At,
    tags: u32,
}

pub(super) struct Reader<R> {
    lines: R,
    line: u64,
    text: Vec<u8>,
    open: Option<Open>,
    /// The number of the latest session.
    session: u64,
    ready: VecDeque<Step>,
    /// Whether sessions are of one sitting, several at a time.
    several: bool,
    /// Of several: what was turned to by the line before, and when the sitting ended.
    turned: Option<(At, Input)>,
    ended: Option<At>,
    /// A command that may have begun the session: it waits for the line after it, which tells at which step.
    begins: Option<Step>,
}

impl<R: BufRead> Reader<R> {
    pub(super) fn new(lines: R) -> Self {
        let ready = VecDeque::new();
        Reader {
            lines,
            line: 0,
            text: Vec::new(),
            open: None,
            session: 0,
            ready,
            several: false,
            turned: None,
            ended: None,
            begins: None,
        }
    }

    /// Lines of sittings: a name turns to another session, which its own line tells again.
    pub(super) fn of_several(mut self) -> Self {
        self.several = true;
        self
    }

    /// Whether the line follows from what came before it in the same sitting.
    fn follows_in_sitting(&mut self, at: At, told: &Told) -> bool {
        let ends = match told {
            Told::Finished => true,
            Told::Input(Input::Tagged { said: Said::Command { command }, .. }) => {
                *command == Command::Finish
            }
            _ => false,
        };
        match told {
            Told::Input(Input::Elsewhere(_)) => true,
            Told::Input(
                input @ Input::Tagged { said: Said::Behaviour { .. } | Said::Animal { .. }, .. },
            ) => {
                let turned = Some((at, input.clone()));
                let again = turned == self.turned;
                self.turned = turned.filter(|_| !again);
                again
            }
            // Each session of it ends with a line of its own.
            _ if ends => self.ended.replace(at) == Some(at) && self.open.is_none(),
            _ => false,
        }
    }

    /// The next step; nothing at the end, when the last session has ended too.
    pub(super) fn next(&mut self) -> Result<Option<Step>, TagsError> {
        loop {
            if let Some(step) = self.ready.pop_front() {
                return Ok(Some(step));
            }
            if !self.read_line()? {
                self.ready.extend(self.begins.take());
                self.ready.extend(self.open.take().map(|open| Step::End(open.latest)));
                return Ok(self.ready.pop_front());
            }
            self.take_line().map_err(|problem| TagsError::Line { line: self.line, problem })?;
        }
    }

    /// Reads a line into `text`; false at the end of the file.
    fn read_line(&mut self) -> Result<bool, TagsError> {
        self.text.clear();
        self.line += 1;
        // With its end, and one byte more to tell a line that is too long.
        let mut limited = (&mut self.lines).take(LONGEST_LINE as u64 + 2);
        let read = limited.read_until(b'\n', &mut self.text)?;
        Ok(read > 0)
    }

    fn take_line(&mut self) -> Result<(), LineError> {
        let text = self.text.strip_suffix(b"\n").unwrap_or(&self.text);
        if text.len() > LONGEST_LINE {
            return Err(LineError::TooLong(LONGEST_LINE));
        }
        let text = std::str::from_utf8(text).map_err(|_| LineError::NotText)?.trim();
        if text.is_empty() {
            return Ok(());
        }
        let TagLine { at, mut session, heard, before, told } = understand(text)?;
        if self.several {
            if self.follows_in_sitting(at, &told) {
                return Ok(());
            }
            session = session.filter(|_| self.open.is_none());
        }
        if let Told::Began(step) = told {
            self.begin_at(at, session, step)?;
        }
        self.ready.extend(self.begins.take());
        match told {
            Told::Follows | Told::Began(_) => {}
            Told::Finished => {
                let ends = |open: &Open| session.is_none_or(|session| session == open.session);
                if let Some(open) = self.open.take_if(|open| ends(open)) {
                    runs_on(open.latest, at)?;
                    self.ready.push_back(Step::End(at));
                }
            }
            Told::Input(input) => {
                // Before the start a command about steps tells where it stood; after that it follows.
                if before.is_some() {
                    self.begin_at(at, session, before)?;
                }
                self.take_input(at, session, heard, input)?;
            }
        }
        Ok(())
    }

    /// The session that a line of `at` belongs to, opened where none is.
    fn open(&mut self, at: At, session: Option<u64>) -> Result<&mut Open, LineError> {
        let is_other = |open: &Open| session.is_some_and(|session| session != open.session);
        if let Some(open) = self.open.take_if(|open| is_other(open)) {
            self.ready.extend(self.begins.take());
            self.ready.push_back(Step::End(open.latest));
        }
        let open = match &mut self.open {
            Some(open) => {
                runs_on(open.latest, at)?;
                open
            }
            closed => {
                self.session = session.unwrap_or(self.session.saturating_add(1));
                self.ready.push_back(Step::Begin { session: self.session });
                closed.insert(Open { session: self.session, latest: at, tags: 0 })
            }
        };
        open.latest = at;
        Ok(open)
    }

    /// The session began at this step: known before the tag that begins it is taken in.
    fn begin_at(
        &mut self,
        at: At,
        session: Option<u64>,
        step: Option<u8>,
    ) -> Result<(), LineError> {
        self.open(at, session)?;
        self.ready.extend(step.map(Step::StartAt));
        Ok(())
    }

    fn take_input(
        &mut self,
        at: At,
        session: Option<u64>,
        heard: Option<HeardTimes>,
        input: Input,
    ) -> Result<(), LineError> {
        let open = self.open(at, session)?;
        open.tags += 1;
        if open.tags > MOST_TAGS {
            return Err(LineError::TooMany(MOST_TAGS));
        }
        let said = |command| matches!(&input, Input::Tagged { said: Said::Command { command: said }, .. } if *said == command);
        let said_over = said(Command::Finish);
        if said(Command::Begin) {
            self.begins = Some(Step::Take(at, input, heard));
            return Ok(());
        }
        self.ready.push_back(Step::Take(at, input, heard));
        if said_over {
            self.open = None;
            self.ready.push_back(Step::End(at));
        }
        Ok(())
    }
}

fn runs_on(before: At, at: At) -> Result<(), LineError> {
    if at < before {
        let (at_s, before_s) = (at.as_secs_f64(), before.as_secs_f64());
        return Err(LineError::GoesBack { at_s, before_s });
    }
    Ok(())
}
