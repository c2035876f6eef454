//! `hushtally completions SHELL` and `hushtally man [FOLDER]`.

use std::io::Write;
use std::path::{Path, PathBuf};

use anyhow::Context;
use clap::{Args, CommandFactory};

use super::{Cli, Failure};
use crate::new_file::{Existing, NewFile};
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
    /// Write over pages that are there already
    #[arg(long, requires = "folder")]
    overwrite: bool,
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
        .with_context(|| format!("the folder {} cannot be made", folder.display()))?;
    let mut program = Cli::command().disable_help_subcommand(true);
    program.build();
    pages(&program, folder, Existing::asked(args.overwrite))
}

/// A page for a verb and each of its own verbs.
fn pages(verb: &clap::Command, folder: &Path, existing: Existing) -> Result<(), Failure> {
    let page = clap_mangen::Man::new(verb.clone());
    let mut file = NewFile::begin(&folder.join(page.get_filename()), existing, None)?.for_all()?;
    page.render(&mut file).context("the page cannot be written")?;
    file.finish()?;
    let shown = verb.get_subcommands().filter(|verb| !verb.is_hide_set());
    shown.into_iter().try_for_each(|verb| pages(verb, folder, existing))
}

fn printed(file: &[u8]) -> Result<(), Failure> {
    unless_gone(Out::data().write_all(file)).context("it cannot be printed")?;
    Ok(())
}
