//! Tells the linker where libvosk is, so that a plain `cargo build` works after `models/fetch`.

use std::env;
use std::path::PathBuf;

fn main() {
    println!("cargo:rerun-if-env-changed=HUSHTALLY_HOME");
    println!("cargo:rerun-if-env-changed=HUSHTALLY_INSTALLED");
    println!("cargo:rerun-if-changed=src/program/build.rs");
    let folder = data_folder().join("lib");
    let library = folder.join("libvosk.so");
    println!("cargo:rerun-if-changed={}", library.display());
    if !library.exists() {
        println!(
            "cargo:warning=libvosk.so is not in {}: run models/fetch once, then build again",
            folder.display()
        );
    }
    println!("cargo:rustc-link-search=native={}", folder.display());
    // At run time: beside the installed recogniser first, then where models/fetch put it. The main program is not
    // linked with it.
    let look_in = |path: &str| {
        println!("cargo:rustc-link-arg-bin=hushtally-recogniser=-Wl,-rpath,{path}");
    };
    look_in("$ORIGIN");
    look_in("$ORIGIN/../lib/hushtally");
    // A package must not look into a folder of the machine that built it.
    if env::var_os("HUSHTALLY_INSTALLED").is_none() {
        look_in(&folder.to_string_lossy());
    }
}

/// The same folder that `models/fetch` fills: `HUSHTALLY_HOME`, or hushtally in the user's data folder.
fn data_folder() -> PathBuf {
    if let Some(home) = env::var_os("HUSHTALLY_HOME") {
        return home.into();
    }
    let data = env::var_os("XDG_DATA_HOME")
        .map(PathBuf::from)
        .or_else(|| env::var_os("HOME").map(|home| PathBuf::from(home).join(".local/share")))
        .unwrap_or_default();
    data.join("hushtally")
}
