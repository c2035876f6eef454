//! `models/fetch` with a model of the user's own: what it takes, what it refuses, and what it says. No network.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use anyhow::Result;
use tempfile::TempDir;

use crate::needs;

/// A data folder of its own, and a folder to build models in.
struct Bench {
    folder: TempDir,
}

impl Bench {
    fn new() -> Result<Self> {
        Ok(Self { folder: tempfile::tempdir()? })
    }

    fn home(&self) -> PathBuf {
        self.folder.path().join("home")
    }

    /// A model of empty shells: the script looks at names and sizes only.
    fn model(&self, name: &str, files: &[&str]) -> Result<PathBuf> {
        let folder = self.folder.path().join(name);
        for file in files {
            let path = folder.join(file);
            fs::create_dir_all(path.parent().expect("every file lies in a folder"))?;
            fs::write(path, file)?;
        }
        Ok(folder)
    }

    fn fetch(&self, source: &Path) -> Result<Output> {
        Ok(Command::new(concat!(env!("CARGO_MANIFEST_DIR"), "/models/fetch"))
            .arg(source)
            .env("HUSHTALLY_HOME", self.home())
            .stdin(Stdio::null())
            .output()?)
    }

    /// Expects a refusal whose message has `words` in it, and nothing installed.
    fn refuses(&self, source: &Path, words: &str) -> Result<()> {
        let output = self.fetch(source)?;
        let message = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(1), "{message}");
        assert!(message.contains(words), "{message}");
        assert!(!self.home().join("models").exists(), "something was left behind");
        Ok(())
    }
}

const WHOLE: &[&str] = &["am/final.mdl", "conf/model.conf", "graph/Gr.fst", "graph/HCLr.fst"];
const STATIC: &[&str] = &["am/final.mdl", "conf/model.conf", "graph/HCLG.fst"];

fn zip(folder: &Path) -> Result<PathBuf> {
    let file = folder.with_extension("zip");
    let status =
        Command::new("python3").args(["-m", "zipfile", "-c"]).args([&file, folder]).status()?;
    assert!(status.success());
    Ok(file)
}

#[test]
fn a_folder_with_a_dynamic_graph_is_installed_under_its_name() -> Result<()> {
    let bench = Bench::new()?;
    let model = bench.model("my-french.v2", WHOLE)?;
    for round in ["first", "second"] {
        let output = bench.fetch(&model)?;
        assert!(output.status.success(), "{round} time: {output:?}");
        for file in WHOLE {
            assert!(bench.home().join("models/my-french.v2").join(file).is_file(), "{file}");
        }
    }
    assert!(model.join("am/final.mdl").is_file(), "the user's own copy was moved away");
    let left: Vec<_> =
        fs::read_dir(bench.home())?.flatten().map(|entry| entry.file_name()).collect();
    assert!(left.iter().all(|name| name == "models" || name == ".fetch.lock"), "{left:?}");
    Ok(())
}

#[test]
fn a_zip_file_is_installed_without_its_outer_folder() -> Result<()> {
    if !needs::program("python3") {
        return Ok(());
    }
    let bench = Bench::new()?;
    let archive = zip(&bench.model("small-nl", WHOLE)?)?;
    let output = bench.fetch(&archive)?;
    assert!(output.status.success(), "{output:?}");
    assert!(bench.home().join("models/small-nl/graph/HCLr.fst").is_file());
    Ok(())
}

#[test]
fn a_model_with_a_static_graph_is_refused_with_the_reason() -> Result<()> {
    let bench = Bench::new()?;
    let model = bench.model("big", STATIC)?;
    bench.refuses(&model, "cannot be told which words to listen for")
}

#[test]
fn what_is_not_a_model_is_refused() -> Result<()> {
    let bench = Bench::new()?;
    bench.refuses(&bench.model("songs", &["one.wav"])?, "holds no Vosk model")?;
    bench.refuses(&bench.folder.path().join("nowhere"), "there is no file or folder")?;
    bench.refuses(&bench.model("en-us-small", WHOLE)?, "comes with Hushtally")?;
    bench.refuses(&bench.model("en-us-taught", WHOLE)?, "comes with Hushtally")?;
    bench.refuses(&bench.model("two words", WHOLE)?, "characters that a model's name cannot have")
}

#[test]
fn a_zip_file_cut_short_is_refused() -> Result<()> {
    if !needs::program("python3") {
        return Ok(());
    }
    let bench = Bench::new()?;
    let archive = zip(&bench.model("cut", WHOLE)?)?;
    let bytes = fs::read(&archive)?;
    fs::write(&archive, &bytes[..bytes.len() / 2])?;
    bench.refuses(&archive, "is not a model that can be used")
}
