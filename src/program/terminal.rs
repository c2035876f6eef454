//! The one way out to the terminal, for everything that is printed.
//!
//! What goes out here can do no harm there: control characters, and marks that turn the direction of text, may stand in
//! a name, a note, a plan or an imported table, and are made visible. And it cannot end the program: where nobody
//! reads any more, or the disk is full, what is printed is lost, a session goes on, and [`trouble`] reports it at the end.

mod columns;
mod queue;

use std::borrow::Cow;
use std::fmt;
use std::fs::File;
use std::io::{self, IsTerminal, Write};
use std::os::fd::AsFd;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, OnceLock, PoisonError};
use std::time::Duration;

pub(crate) use columns::{cut, padded, width};
use queue::{Put, Queue};

/// The first failure of the standard output.
static TROUBLE: Mutex<Option<io::Error>> = Mutex::new(None);

/// Whether the reader of the standard output went away.
static GONE: AtomicBool = AtomicBool::new(false);

/// The standard output and the standard errors, once printing must not wait.
static QUEUES: OnceLock<[Option<Queue>; 2]> = OnceLock::new();

/// Where the standard errors went when the program began, once nobody but us can write there.
static OUR_ERRORS: OnceLock<File> = OnceLock::new();

/// At the end of the program a slow reader is waited for this long.
const LAST_LINES: Duration = Duration::from_secs(2);

/// Where it goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Stream {
    Output,
    Errors,
}

/// How what could do harm is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Form {
    /// For people: `␛`, `\u{202e}`.
    Text,
    /// Within JSON: as JSON escapes, which mean the same characters.
    Json,
    /// As it is, for other programs.
    Data,
}

/// Writes to the standard output or the standard errors.
///
/// [`Out::text`], [`Out::json`] and [`Out::errors`] never fail: what cannot be written is lost.
#[derive(Debug)]
pub struct Out {
    stream: Stream,
    form: Form,
    /// The start of a character whose end has not come yet.
    begun: Vec<u8>,
}

impl Out {
    /// The standard output, for people.
    pub fn text() -> Self {
        Out::new(Stream::Output, Form::Text)
    }

    /// The standard output, for JSON documents.
    pub fn json() -> Self {
        Out::new(Stream::Output, Form::Json)
    }

    /// The standard output for files of other kinds: byte by byte, unless it is a terminal. This one tells when it
    /// cannot write, so that a long table ends early.
    pub fn data() -> Self {
        let form = if output_is_terminal() { Form::Text } else { Form::Data };
        Out::new(Stream::Output, form)
    }

    /// The standard errors, for people.
    pub fn errors() -> Self {
        Out::new(Stream::Errors, Form::Text)
    }

    fn new(stream: Stream, form: Form) -> Self {
        Out { stream, form, begun: Vec::new() }
    }

    /// What is known to be whole characters, in its form.
    fn formed<'a>(&mut self, bytes: &'a [u8]) -> Cow<'a, [u8]> {
        if self.form == Form::Data {
            return Cow::Borrowed(bytes);
        }
        if self.begun.is_empty()
            && let Ok(text) = std::str::from_utf8(bytes)
        {
            return match self.form.of(text) {
                Cow::Borrowed(text) => Cow::Borrowed(text.as_bytes()),
                Cow::Owned(text) => Cow::Owned(text.into_bytes()),
            };
        }
        self.begun.extend_from_slice(bytes);
        let mut formed = Vec::new();
        let mut rest = self.begun.as_slice();
        loop {
            let (text, wrong) = match std::str::from_utf8(rest) {
                Ok(text) => (text, None),
                Err(error) => {
                    let text =
                        std::str::from_utf8(&rest[..error.valid_up_to()]).unwrap_or_default();
                    (text, Some(error.error_len()))
                }
            };
            formed.extend_from_slice(self.form.of(text).as_bytes());
            rest = &rest[text.len()..];
            // Without a length it is a character that goes on in what is written next.
            let Some(Some(length)) = wrong else { break };
            for byte in &rest[..length] {
                formed.extend_from_slice(format!("\\x{byte:02x}").as_bytes());
            }
            rest = &rest[length..];
        }
        self.begun = rest.to_vec();
        Cow::Owned(formed)
    }

    fn put(&self, bytes: &[u8]) -> io::Result<()> {
        let written = put(self.stream, bytes);
        match written {
            Err(error) if self.form == Form::Data => Err(error),
            Err(error) => {
                remember(self.stream, error);
                Ok(())
            }
            Ok(()) => Ok(()),
        }
    }
}

impl Write for Out {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let formed = self.formed(bytes);
        self.put(&formed)?;
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// From now on nothing that is printed for another program waits until that reads: a session goes on while nobody
/// does. What a full queue does not take is left out, and reported. A terminal shows what it is given, in order, as before;
/// so does everything where the system gives no thread.
pub fn never_wait() {
    let start = |stream: Stream, is_terminal: bool| {
        let write = move |bytes: &[u8]| {
            if let Err(error) = put_now(stream, bytes) {
                remember(stream, error);
            }
        };
        (!is_terminal).then(|| Queue::start(write).ok()).flatten()
    };
    QUEUES.get_or_init(|| {
        let output = start(Stream::Output, output_is_terminal());
        [output, start(Stream::Errors, errors_are_terminal())]
    });
}

/// From now on the standard errors are ours alone. Libraries write there past us, the sound system's about every device
/// that is not there, which tells a person nothing to do; `RUST_LOG` lets them.
#[expect(clippy::disallowed_methods, reason = "this is the way out")]
pub(crate) fn keep_errors_to_us() {
    if std::env::var_os("RUST_LOG").is_some() {
        return;
    }
    let ours = io::stderr().as_fd().try_clone_to_owned();
    let nowhere = File::options().write(true).open("/dev/null");
    // Where either cannot be had, all stays as it was.
    let (Ok(ours), Ok(nowhere)) = (ours, nowhere) else { return };
    if OUR_ERRORS.set(File::from(ours)).is_ok() && rustix::stdio::dup2_stderr(nowhere).is_ok() {
        std::panic::set_hook(Box::new(|panic| errors(format_args!("{panic}\n"))));
    }
}

/// To read from and write to the terminal that the standard errors are, for a line that is written over.
pub(crate) fn for_drawing() -> Option<[File; 2]> {
    let ours = OUR_ERRORS.get()?;
    Some([ours.try_clone().ok()?, ours.try_clone().ok()?])
}

fn queue(stream: Stream) -> Option<&'static Queue> {
    let [output, errors] = QUEUES.get()?;
    match stream {
        Stream::Output => output.as_ref(),
        Stream::Errors => errors.as_ref(),
    }
}

fn put(stream: Stream, bytes: &[u8]) -> io::Result<()> {
    let Some(queue) = queue(stream) else { return put_now(stream, bytes) };
    if queue.put(bytes) == Put::FirstLeftOut && stream == Stream::Output {
        self::errors(format_args!(
            "nobody reads what is printed: lines are left out; the session goes on\n"
        ));
    }
    Ok(())
}

/// Lets what was printed be read to its end, for a short while.
pub(crate) fn drain() {
    let left_out = |stream| queue(stream).map_or(0, |queue| queue.drain(LAST_LINES));
    left_out(Stream::Errors);
    let left_out = left_out(Stream::Output);
    if left_out > 0 && !GONE.load(Ordering::Relaxed) {
        let lines = if left_out == 1 { "line was" } else { "lines were" };
        let told = format!("{left_out} {lines} not read by anybody");
        remember(Stream::Output, io::Error::other(told));
    }
}

/// Straight to the stream, and out of its buffer: what is lost is known at once, and not at the end of the program,
/// where nobody could report it.
#[expect(clippy::disallowed_methods, reason = "this is the way out")]
fn put_now(stream: Stream, bytes: &[u8]) -> io::Result<()> {
    match stream {
        Stream::Output => {
            let mut out = io::stdout().lock();
            let written = out.write_all(bytes).and_then(|()| out.flush());
            let gone = |error: &io::Error| error.kind() == io::ErrorKind::BrokenPipe;
            if written.as_ref().is_err_and(gone) {
                GONE.store(true, Ordering::Relaxed);
            }
            written
        }
        Stream::Errors => match OUR_ERRORS.get() {
            Some(mut ours) => ours.write_all(bytes),
            None => io::stderr().lock().write_all(bytes),
        },
    }
}

fn remember(stream: Stream, error: io::Error) {
    // A reader that has seen enough is not an error; and where should trouble of the errors be reported?
    if stream == Stream::Output && error.kind() != io::ErrorKind::BrokenPipe {
        TROUBLE.lock().unwrap_or_else(PoisonError::into_inner).get_or_insert(error);
    }
}

/// Why not everything could be printed, if so; reported once.
pub fn trouble() -> Option<io::Error> {
    TROUBLE.lock().unwrap_or_else(PoisonError::into_inner).take()
}

/// How writing through [`Out::data`] went: a reader that has seen enough is not a failure. What lies between, such as a
/// writer of tables, need not hand on what kind of failure it was.
pub(crate) fn unless_gone<T: Default, E>(written: Result<T, E>) -> Result<T, E> {
    if GONE.load(Ordering::Relaxed) { Ok(T::default()) } else { written }
}

/// Whether the standard output is a terminal.
#[expect(clippy::disallowed_methods, reason = "this is the way out")]
pub fn output_is_terminal() -> bool {
    io::stdout().is_terminal()
}

/// Whether the standard errors go to a terminal.
#[expect(clippy::disallowed_methods, reason = "this is the way out")]
pub fn errors_are_terminal() -> bool {
    OUR_ERRORS.get().map_or_else(|| io::stderr().is_terminal(), IsTerminal::is_terminal)
}

/// Columns and rows of the terminal that the standard output is; `None` where it is not known.
#[expect(clippy::disallowed_methods, reason = "this is the way out")]
pub(crate) fn size() -> Option<[usize; 2]> {
    let size = rustix::termios::tcgetwinsize(io::stdout()).ok()?;
    let size = [size.ws_col, size.ws_row].map(usize::from);
    (!size.contains(&0)).then_some(size)
}

/// Writes control sequences of our own, with text between them that was made [`visible`] already.
pub(crate) fn control(sequences: &str) {
    if let Err(error) = put(Stream::Output, sequences.as_bytes()) {
        remember(Stream::Output, error);
    }
}

/// For [`say!`].
pub(crate) fn out(text: fmt::Arguments<'_>) {
    // Never fails.
    let _ = Out::text().write_all(text.to_string().as_bytes());
}

/// For [`tell!`].
pub(crate) fn errors(text: fmt::Arguments<'_>) {
    let _ = Out::errors().write_all(text.to_string().as_bytes());
}

/// Prints one JSON document and a line end.
pub(crate) fn json(document: &impl fmt::Display) {
    let _ = Out::json().write_all(format!("{document}\n").as_bytes());
}

/// Prints a line for people.
macro_rules! say {
    ($($text:tt)*) => { $crate::terminal::out(format_args!("{}\n", format_args!($($text)*))) };
}

/// Prints text for people that ends its lines itself.
macro_rules! say_part {
    ($($text:tt)*) => { $crate::terminal::out(format_args!($($text)*)) };
}

/// Tells a line on the standard errors.
macro_rules! tell {
    ($($text:tt)*) => { $crate::terminal::errors(format_args!("{}\n", format_args!($($text)*))) };
}

pub(crate) use {say, say_part, tell};

impl Form {
    fn of(self, text: &str) -> Cow<'_, str> {
        match self {
            Form::Text => visible(text),
            Form::Json => replaced(text, |c, into| {
                for unit in c.encode_utf16(&mut [0; 2]) {
                    into.push_str(&format!("\\u{unit:04x}"));
                }
            }),
            Form::Data => Cow::Borrowed(text),
        }
    }
}

/// Text as a person may see it on a terminal: what a terminal would act on, and what would turn or hide the text
/// around it, is shown as a sign of its own.
///
/// ```
/// use hushtally::terminal::visible;
/// assert_eq!(visible("Pepino\x1b[2J\u{202e}!"), "Pepino␛[2J\\u{202e}!");
/// ```
pub fn visible(text: &str) -> Cow<'_, str> {
    replaced(text, |c, into| match u32::from(c) {
        // Unicode has pictures of the control characters of ASCII.
        control @ 0..0x20 => into.extend(char::from_u32(0x2400 + control)),
        0x7f => into.push('\u{2421}'),
        other => into.push_str(&format!("\\u{{{other:x}}}")),
    })
}

fn replaced(text: &str, by: impl Fn(char, &mut String)) -> Cow<'_, str> {
    if !text.contains(harms) {
        return Cow::Borrowed(text);
    }
    let mut made = String::with_capacity(text.len() + 16);
    for c in text.chars() {
        if harms(c) { by(c, &mut made) } else { made.push(c) }
    }
    Cow::Owned(made)
}

/// Control characters but for line end and tab (ECMA-48, sets C0 and C1), the directional formatting characters
/// (Unicode Standard Annex #9, section 2), and others that are not seen themselves: line and paragraph separator,
/// deprecated format characters, byte order mark, annotations, tags.
fn harms(c: char) -> bool {
    (c.is_control() && !matches!(c, '\n' | '\t'))
        || matches!(
            c,
            '\u{61c}'
                | '\u{200e}'
                | '\u{200f}'
                | '\u{2028}'..='\u{202e}'
                | '\u{2066}'..='\u{206f}'
                | '\u{feff}'
                | '\u{fff9}'..='\u{fffb}'
                | '\u{e0000}'..='\u{e007f}'
        )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ECMA-48 5th edition, tables 2a and 2b (C0 and C1), and the list of UAX #9, section 2 (both from memory).
    #[test]
    fn every_control_and_every_mark_of_direction_is_made_visible() {
        let c1 = (0x80..=0x9f).filter_map(char::from_u32);
        let c0 = (0..0x20).chain([0x7f]).filter_map(char::from_u32);
        let c0 = c0.filter(|c| !"\n\t".contains(*c));
        let directional = "\u{61c}\u{200e}\u{200f}\u{202a}\u{202b}\u{202c}\u{202d}\u{202e}\u{2066}\u{2067}\u{2068}\u{2069}";
        for c in c0.chain(c1).chain(directional.chars()) {
            let shown = visible(&format!("a{c}b")).into_owned();
            assert!(!shown.contains(c) && shown.starts_with('a') && shown.ends_with('b'), "{c:?}");
            assert!(!shown.contains(harms), "{shown:?}");
        }
        // Names in any script stay as they are, joiners included.
        for name in ["Zoë", "פיצי", "میشا\u{200c}ها", "👩\u{200d}🌾", "a\tb\nc"] {
            assert_eq!(visible(name), name);
        }
    }

    #[test]
    fn json_means_the_same_as_before() {
        let name = "a\u{1b}[2J\u{9b}\u{7f}\u{202e}\u{e0041}é\n";
        let document = serde_json::to_string(&[name]).unwrap();
        let shown = Form::Json.of(&document).into_owned();
        assert!(!shown.contains(harms), "{shown:?}");
        assert_eq!(serde_json::from_str::<[String; 1]>(&shown).unwrap()[0], name);
    }

    #[test]
    fn characters_may_come_in_pieces_and_bytes_that_are_none_are_shown() {
        let mut out = Out::new(Stream::Output, Form::Text);
        let mut all = Vec::new();
        for byte in "Zoë \u{202e}\u{1f33e}".as_bytes() {
            all.extend_from_slice(&out.formed(&[*byte]));
        }
        all.extend_from_slice(&out.formed(b"\x9b2J\xff\xc3"));
        all.extend_from_slice(&out.formed(b"("));
        assert_eq!(String::from_utf8(all).unwrap(), "Zoë \\u{202e}\u{1f33e}\\x9b2J\\xff\\xc3(");
    }
}
