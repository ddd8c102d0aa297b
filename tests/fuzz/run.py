"""Fuzz the parsers: `python -m tests.fuzz.run [--minutes 1] [--plain] [TARGET ...]`, each target for so many minutes.

With atheris installed (it has no wheel for every Python) libFuzzer is led by what the code does with an input; without
it, or with `--plain`, good inputs and those kept in `corpus/` are changed at random. What breaks a parser is written to
`corpus/TARGET/`, where the suite tries it from then on; the exit code is then 1.
"""

from __future__ import annotations

import argparse
import contextlib
import hashlib
import importlib.util
import os
import random
import re
import subprocess
import sys
import tempfile
import time
import traceback
from pathlib import Path

from tests.fuzz.targets import CORPUS, Target, targets

TOP = Path(__file__).parents[2]
ROOMS = ["feeds", "coach.vocabulary", "coach.app"]
"""What is watched, so that inputs that reach new code are kept and changed further."""
LONGEST = 20_000
"""bytes of an input"""
NUMBERS = (0, 1, 7, 8, 127, 128, 255, 256, 32_767, 65_535, 2**31 - 1, 2**31, 2**32 - 1)


def main() -> int:
    """Fuzz what is named, or all."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("names", nargs="*", metavar="TARGET")
    parser.add_argument("--minutes", type=float, default=1.0)
    parser.add_argument("--plain", action="store_true", help="without atheris")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--one", metavar="TARGET", help=argparse.SUPPRESS)
    asked = parser.parse_args()
    with_atheris = importlib.util.find_spec("atheris") is not None and not asked.plain
    if asked.one is not None:
        return led(asked.one, asked.minutes, asked.seed)
    known = targets()
    for name in asked.names:
        if name not in known:
            parser.error(f"there is no target {name}: choose of {', '.join(sorted(known))}")
    broken = 0
    for name in asked.names or sorted(known):
        broken += not (apart(name, asked.minutes, asked.seed) if with_atheris else changed(known[name], asked))
    return int(broken > 0)


def apart(name: str, minutes: float, seed: int) -> bool:
    """libFuzzer in a process of its own, since it ends its process. True where nothing broke."""
    command = [sys.executable, "-m", "tests.fuzz.run", "--one", name]
    command += ["--minutes", str(minutes), "--seed", str(seed)]
    memory = Path("/dev/shm")
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join([str(TOP), str(TOP / "tests")])}
    with tempfile.TemporaryDirectory(dir=memory if memory.is_dir() else None) as folder:
        environment["TMPDIR"] = folder
        done = subprocess.run(command, cwd=TOP, env=environment, capture_output=True, text=True, errors="replace")
    with contextlib.suppress(OSError):
        (CORPUS / name).rmdir()  # where nothing was written
    runs = re.search(r"Done (\d+) runs in (\d+) second", done.stderr)
    fine = done.returncode == 0
    figures = f"{int(runs[1]):,} inputs in {runs[2]} s" if runs is not None else f"exit code {done.returncode}"
    print(f"{name}: {figures}, led by coverage: {'nothing broke' if fine else 'BROKE'}", flush=True)
    if not fine:
        print(done.stdout + done.stderr, file=sys.stderr)
    return fine


def led(name: str, minutes: float, seed: int) -> int:
    """Fuzz one target with atheris; does not return but by the exit of the process."""
    import atheris

    with atheris.instrument_imports(include=ROOMS):
        target = targets()[name]
    target.corpus.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as found:
        for number, data in enumerate(target.seeds):
            (Path(found) / f"seed{number}").write_bytes(data)
        arguments = [sys.argv[0], f"-max_total_time={round(minutes * 60)}", f"-seed={seed}", f"-max_len={LONGEST}"]
        arguments += [f"-artifact_prefix={target.corpus}/", "-timeout=20", "-rss_limit_mb=2048"]
        arguments += [found, str(target.corpus)]
        atheris.Setup(arguments, target.check)
        atheris.Fuzz()
    return 0


def changed(target: Target, asked: argparse.Namespace) -> bool:
    """Change good inputs at random for a while. True where nothing broke."""
    chance = random.Random(asked.seed)
    pool = [*target.seeds, b""]
    if target.corpus.is_dir():
        pool += [path.read_bytes() for path in sorted(target.corpus.iterdir())]
    until = time.monotonic() + asked.minutes * 60
    begun, count = time.monotonic(), 0
    while time.monotonic() < until:
        data = mutated(chance.choice(pool), pool, chance)
        count += 1
        try:
            target.check(data)
        except Exception:
            target.corpus.mkdir(parents=True, exist_ok=True)
            kept = target.corpus / f"crash-{hashlib.sha1(data).hexdigest()[:12]}"
            kept.write_bytes(data)
            print(f"{target.name}: {count:,} inputs, BROKE: {kept}", flush=True)
            traceback.print_exc()
            return False
    print(f"{target.name}: {count:,} inputs in {time.monotonic() - begun:.0f} s, at random: nothing broke", flush=True)
    return True


def mutated(data: bytes, pool: list[bytes], chance: random.Random) -> bytes:
    """The input with one to six changes."""
    made = bytearray(data)
    for _ in range(chance.randint(1, 6)):
        place = chance.randint(0, len(made))
        kind = chance.randrange(7)
        if kind == 0 and place < len(made):
            made[place] ^= 1 << chance.randrange(8)
        elif kind == 1 and place < len(made):
            made[place] = chance.randrange(256)
        elif kind == 2:
            made[place:place] = chance.randbytes(chance.randint(1, 12))
        elif kind == 3:
            del made[place : place + chance.randint(1, 40)]
        elif kind == 4:
            width = chance.choice((1, 2, 4))
            number = chance.choice(NUMBERS) % 2 ** (8 * width)
            made[place : place + width] = number.to_bytes(width, chance.choice(("little", "big")))
        elif kind == 5:
            part = made[place : place + chance.randint(1, 200)]
            there = chance.randint(0, len(made))
            made[there:there] = part
        else:
            other = chance.choice(pool)
            made[place:] = other[chance.randint(0, len(other)) :]
    return bytes(made[:LONGEST])


if __name__ == "__main__":
    sys.exit(main())
