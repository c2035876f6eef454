//! `hushtally completions SHELL` and `hushtally man [FOLDER]`.

use std::io::Write;
use std::path::PathBuf;

use anyhow::Context;
use clap::{Args, CommandFactory};

use super::{Cli, Failure};
use crate::terminal::{Out, unless_gone};

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  hushtally completions bash > ~/.local/share/bash-completion/completions/hushtally
  hushtally completions fish > ~/.config/fish/completions/hushtally.fish")]
pub(super) struct CompletionsArgs {
    /// For which shell
    shell: clap_complete::Shell,
}

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  hushtally man | man -l -                      read the page
  hushtally man ~/.local/share/man/man1         write one page a verb")]
pub(super) struct ManArgs {
    /// Folder for the pages; without one, the main page is printed
    folder: Option<PathBuf>,
}

pub(super) fn completions(args: &CompletionsArgs) -> Result<(), Failure> {
    let mut script = Vec::new();
    clap_complete::generate(args.shell, &mut Cli::command(), "hushtally", &mut script);
    printed(&script)
}

pub(super) fn man(args: &ManArgs) -> Result<(), Failure> {
    let Some(folder) = &args.folder else {
        let mut page = Vec::new();
        clap_mangen::Man::new(Cli::command())
            .render(&mut page)
            .context("the page cannot be made")?;
        return printed(&page);
    };
    std::fs::create_dir_all(folder)
        .and_then(|()| clap_mangen::generate_to(Cli::command(), folder))
        .with_context(|| format!("the pages cannot be written into {}", folder.display()))?;
    Ok(())
}

fn printed(file: &[u8]) -> Result<(), Failure> {
    unless_gone(Out::data().write_all(file)).context("it cannot be printed")?;
    Ok(())
}
