"""How many public items nobody calls: prints the number, and each of them on stderr.

The compiler names what nobody uses, but not what is public in a library: somebody outside might. So the three crates are
put together as one program, each as a module of it, where nothing is outside; then `cargo check` of that tells of each
function, type, field, variant and constant that neither of the two programs reaches, unit tests left out. What tests and
benches name that stand outside of the crates counts as called, with all that it uses in turn.
"""

import json
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tomllib

ROOT = pathlib.Path(__file__).resolve().parents[2]
CRATES = {"hushtally_stats": "src/stats", "hushtally_core": "src/core", "hushtally": "src/program"}
PROGRAMS = ("src/program/main.rs", "src/program/recogniser/main.rs")
OWN = re.compile(r"(?<![\w$])(\$?)crate::")
FOREIGN = re.compile(r"(?<![\w:])(hushtally(?:_core|_stats)?)::")


def inside(text, crate):
    """The text of a crate as that of a module of the one program."""
    text = OWN.sub(rf"\1crate::{crate}::", text)
    text = re.sub(r"pub use (hushtally_\w+) as", r"pub(crate) use crate::\1 as", text)
    return FOREIGN.sub(r"crate::\1::", text)


def merged(to):
    """The sources where they are used to lie, so that what they include is found, under one root of their own."""
    for name in ("src", "prompts", "demo", "models"):
        shutil.copytree(ROOT / name, to / name)
    for crate, place in CRATES.items():
        for file in (to / place).rglob("*.rs"):
            file.write_text(inside(file.read_text(), crate))
    mods = [f'#[path = "{place.removeprefix("src/")}/lib.rs"] mod {crate};' for crate, place in CRATES.items()]
    calls = []
    for number, program in enumerate(PROGRAMS):
        file = to / program
        file.write_text(file.read_text().replace("\nfn main()", "\npub fn main()"))
        mods.append(f'#[path = "{program.removeprefix("src/")}"] mod program_{number};')
        calls.append(f"let _ = program_{number}::main();")
    (to / "src/main.rs").write_text("\n".join([*mods, "fn main() {", *calls, "}"]))


def manifest(to):
    top = tomllib.loads((ROOT / "Cargo.toml").read_text())
    shared, wanted = top["workspace"]["dependencies"], {}
    for place in (".", "src/core", "src/stats"):
        for name, how in tomllib.loads((ROOT / place / "Cargo.toml").read_text())["dependencies"].items():
            how = shared[name] if isinstance(how, dict) and how.get("workspace") else how
            if not name.startswith("hushtally"):
                wanted[name] = how
    lines = ["[package]", 'name = "hushtally"', f'version = "{top["workspace"]["package"]["version"]}"', 'edition = "2024"']
    lines += ["[workspace]", "[dependencies]"]
    for name, how in wanted.items():
        how = {"version": how} if isinstance(how, str) else how
        fields = ", ".join(f"{key} = {json.dumps(value)}" for key, value in how.items())
        lines.append(f"{name} = {{ {fields} }}")
    (to / "Cargo.toml").write_text("\n".join(lines) + "\n")
    shutil.copyfile(ROOT / "Cargo.lock", to / "Cargo.lock")


def uncalled(to):
    """What the compiler calls dead: file, line and name of each item."""
    check = ["cargo", "check", "--offline", "--message-format=json", "--quiet"]
    said = subprocess.run(check, cwd=to, stdout=subprocess.PIPE, text=True)
    found = set()
    for line in said.stdout.splitlines():
        message = json.loads(line).get("message")
        if not isinstance(message, dict):
            continue
        if message["level"] == "error":
            sys.exit(message["rendered"])
        if (message.get("code") or {}).get("code") == "dead_code":
            for span in filter(lambda span: span["is_primary"], message["spans"]):
                text = span["text"][0]
                name = text["text"][text["highlight_start"] - 1 : text["highlight_end"] - 1]
                found.add((span["file_name"], span["line_start"], name))
    if said.returncode:
        sys.exit("the crates could not be checked as one")
    return found


def let_live(to, items):
    """Has the compiler take these for used, and so whatever they use."""
    for file, line in sorted({(file, line) for file, line, _ in items}, reverse=True):
        text = (to / file).read_text().splitlines(keepends=True)
        # On the same line, so that places stay what they are.
        text[line - 1] = "#[allow(dead_code)] " + text[line - 1]
        (to / file).write_text("".join(text))


def main():
    to = pathlib.Path(os.environ["CARGO_TARGET_DIR"]) / "callers"
    shutil.rmtree(to, ignore_errors=True)
    to.mkdir(parents=True)
    merged(to)
    manifest(to)
    outside = "\n".join(file.read_text() for file in sorted((ROOT / "tests").rglob("*.rs")))
    named = set(re.findall(r"\w+", outside))
    while True:
        dead = uncalled(to)
        from_outside = {item for item in dead if item[2] in named}
        if not from_outside:
            break
        let_live(to, from_outside)
    is_public = lambda file, line: (ROOT / file).read_text().splitlines()[line - 1].lstrip().startswith("pub ")
    alone = sorted(item for item in dead if is_public(*item[:2]))
    for file, line, name in alone:
        print(f"nobody calls {name} ({file}:{line})", file=sys.stderr)
    print(len(alone))


main()
