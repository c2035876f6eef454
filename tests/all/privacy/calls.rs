//! Reads what `strace` wrote.

use std::path::{Path, PathBuf};

/// A file that was opened.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Opened {
    pub(super) path: PathBuf,
    pub(super) to_write: bool,
}

/// What a program and its children did.
#[derive(Debug, Default)]
pub(super) struct Calls {
    /// Calls that have to do with any network.
    pub(super) network: Vec<String>,
    /// Connections to a program on this machine.
    pub(super) local_connections: usize,
    /// Files opened, failures left out.
    pub(super) opened: Vec<Opened>,
}

impl Calls {
    /// From the text of a trace; relative paths are of `folder`.
    pub(super) fn read(trace: &str, folder: &Path) -> Self {
        let mut calls = Calls::default();
        for line in trace.lines() {
            // "1234  openat(AT_FDCWD, …) = 3"; a call that was interrupted is printed in two lines, its
            // arguments in the first.
            let call = line.trim_start_matches(|c: char| c.is_ascii_digit() || c == ' ');
            let Some((name, rest)) = call.split_once('(') else { continue };
            match name {
                "socket" | "bind" | "connect" => calls.socket(name, rest, call),
                "open" | "openat" | "openat2" | "creat" => calls.file(name, rest, folder),
                _ => {}
            }
        }
        calls
    }

    fn socket(&mut self, name: &str, rest: &str, call: &str) {
        let local = ["AF_UNIX", "AF_LOCAL"].iter().any(|family| rest.contains(family));
        if !local {
            self.network.push(call.to_owned());
        } else if name == "connect" && !rest.contains("= -1") {
            self.local_connections += 1;
        }
    }

    fn file(&mut self, name: &str, rest: &str, folder: &Path) {
        if rest.contains("= -1") {
            return;
        }
        let Some(path) = rest.split('"').nth(1) else { return };
        let to_write = name == "creat"
            || ["O_WRONLY", "O_RDWR", "O_CREAT", "O_TMPFILE"].iter().any(|way| rest.contains(way));
        self.opened.push(Opened { path: folder.join(path), to_write });
    }
}

#[test]
fn network_sockets_and_written_files_are_told_apart_from_local_ones() {
    let trace = r#"12 socket(AF_UNIX, SOCK_STREAM|SOCK_CLOEXEC, 0) = 7
12 connect(7, {sa_family=AF_UNIX, sun_path="/run/native"}, 110) = 0
13 connect(8, {sa_family=AF_UNIX, sun_path="/run/none"}, 110) = -1 ENOENT (No such file)
13 socket(AF_INET, SOCK_STREAM, IPPROTO_TCP <unfinished ...>
13 connect(9, {sa_family=AF_INET6, sin6_port=htons(443)}, 28) = -1 ENETUNREACH
12 socket(AF_NETLINK, SOCK_RAW|SOCK_CLOEXEC, NETLINK_ROUTE) = 9
12 openat(AT_FDCWD, "plan.toml", O_RDONLY|O_CLOEXEC) = 3
12 openat(AT_FDCWD, "/a/record.db", O_RDWR|O_CREAT|O_NOFOLLOW|O_CLOEXEC, 0600) = 4
12 openat(AT_FDCWD, "/gone", O_RDWR) = -1 ENOENT (No such file or directory)
12 +++ exited with 0 +++
"#;
    let calls = Calls::read(trace, Path::new("/w"));
    assert_eq!(calls.network.len(), 3, "{:?}", calls.network);
    assert_eq!(calls.local_connections, 1);
    let opened = |path: &str, to_write| Opened { path: PathBuf::from(path), to_write };
    assert_eq!(calls.opened, [opened("/w/plan.toml", false), opened("/a/record.db", true)]);
}
