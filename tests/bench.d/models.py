"""Damages the speech model in as many ways as asked and hears two words with each; no run may crash, hang, or tell nothing.

Every second one is under the name of the model that is known by its sums, so nothing but a refusal is right there; the
others are models of one's own, which nobody can know: they may hear, badly or not at all, or end in words. Damage and
files are drawn with a fixed seed. Links stand for the files that are left alone.
"""

import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
from pathlib import Path

MODEL = Path(os.environ["HUSHTALLY_DATA"], "models", "en-us-small")
PLAN = "animal = 'A'\nspecies = 'cockatiel'\nbehaviour = 'b'\n[[step]]\nname = 'looks'\n"
LONGEST_S = 180


def cut(dice, data):
    return data[: dice.randrange(len(data))]


def flip(dice, data):
    data = bytearray(data)
    for _ in range(dice.choice([1, 10, 1000])):
        data[dice.randrange(len(data))] ^= 1 << dice.randrange(8)
    return bytes(data)


def hole(dice, data):
    at, length = dice.randrange(len(data)), dice.choice([16, 4096, 1 << 20])
    return data[:at] + bytes(len(data[at : at + length])) + data[at + length :]


def head(dice, data):
    """Counts and sizes stand at the beginning."""
    data = bytearray(data)
    for _ in range(dice.choice([1, 3])):
        data[dice.randrange(min(200, len(data)))] = dice.randrange(256)
    return bytes(data)


def other(dice, data):
    return dice.choice(FILES).read_bytes()


def text(dice, data):
    return dice.choice([b"", b"hello\n" * 100, b"--beam=nan\n", b"\0" * 5000])


def gone(dice, data):
    return None


FILES = sorted(path for path in MODEL.rglob("*") if path.is_file() and not path.name.startswith("."))
READ = [path for path in FILES if path.name not in ("README", "uuid")]
DAMAGE = [cut, flip, flip, hole, head, head, other, text, gone]


def build(folder, file, data, own):
    shutil.rmtree(folder, ignore_errors=True)
    for path in FILES:
        name = path.relative_to(MODEL)
        if own and path.name == "uuid":
            # It would say that it is the known one.
            continue
        goal = folder / name
        goal.parent.mkdir(parents=True, exist_ok=True)
        if path != file:
            goal.symlink_to(path)
        elif data is not None:
            goal.write_bytes(data)


def main():
    dice, runs = random.Random(11), int(sys.argv[1])
    crashes = unnoticed = refused = heard = 0
    with tempfile.TemporaryDirectory() as folder:
        plan, sound = Path(folder, "plan.toml"), Path(folder, "said.wav")
        plan.write_text(PLAN)
        subprocess.run(["espeak-ng", "-v", "en-us", "-s", "140", "-w", sound, "yes. yes."], check=True)
        env = {**os.environ, "HUSHTALLY_HOME": str(Path(folder, "home"))}
        for number in range(runs):
            own = number % 2 == 0
            file, damage = dice.choice(READ), dice.choice(DAMAGE)
            before = file.read_bytes()
            data = damage(dice, before)
            if data == before:
                data = before + b"x"
            model = Path(folder, "mine" if own else "en-us-small")
            build(model, file, data, own)
            command = [os.environ["HUSHTALLY"], "replay", sound, plan, "--json", "--model", model]
            process = subprocess.Popen(command, env=env, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
            try:
                out, said = process.communicate(timeout=LONGEST_S)
            except subprocess.TimeoutExpired:
                process.kill()
                out, said = process.communicate()
            code, said = process.returncode, said.decode(errors="replace")
            what = f"{'own' if own else 'known'} {file.relative_to(MODEL)} {damage.__name__} ({number})"
            if code not in (0, 2, 3) or "panicked" in said or (code != 0 and "hushtally: " not in said):
                name = signal.Signals(-code).name if code < 0 else code
                print(f"  crashed: {what}: {name} {said[-300:]}", file=sys.stderr)
                crashes += 1
            elif code == 0 and not own:
                print(f"  ran unnoticed: {what}", file=sys.stderr)
                unnoticed += 1
            elif code == 0:
                heard += b'"rep"' in out
            else:
                refused += 1
    print(f"{runs} damaged models: {refused} refused in words, {heard} of one's own still heard", file=sys.stderr)
    print(f"damaged_models\t{runs}\t\t>=500")
    print(f"model_crashes\t{crashes}\t\t<=0")
    print(f"damaged_models_unnoticed\t{unnoticed}\t\t<=0")


main()
