"""Times `check` on the demo against a bare lark parse of the same text.

    python bench/check.py [--runs 7] [--file examples/tourer/tourer.harness]

Both are whole processes, interpreter start and imports included: the reference builds a LALR
parser from the same grammar and parses the same files, and does nothing with the result. Processor
time is compared, so that a busy machine does not blur it. Ends with status 1 when `check` takes
more than three times the reference.
"""

from __future__ import annotations

import argparse
import os
import re
import statistics
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

LIMIT = 3.0

REFERENCE = """
import sys
from lark import Lark
grammar, *files = sys.argv[1:]
parser = Lark(open(grammar, encoding="utf-8").read(), parser="lalr", lexer="basic")
for file in files:
    parser.parse(open(file, encoding="utf-8").read() + "\\n")
"""


@dataclass(frozen=True)
class Timing:
    """Seconds of several runs of one command."""

    name: str
    processor_s: list[float]
    wall_s: list[float]

    @property
    def best_s(self) -> float:
        return min(self.processor_s)

    def row(self) -> str:
        return (
            f"{self.name:<42} {self.best_s:8.3f} {statistics.median(self.processor_s):8.3f} "
            f"{min(self.wall_s):8.3f}"
        )


def timed(name: str, command: list[str], runs: int, bytecode: str) -> Timing:
    """Run a command several times; raises RuntimeError when it fails.

    All modules, lark's and ours, are read from bytecode kept in the folder `bytecode`, as in any
    installation, even where the environment forbids writing it.
    """
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    environment["PYTHONPYCACHEPREFIX"] = bytecode
    processor_s, wall_s = [], []
    for _ in range(runs + 1):  # the first one fills the caches and is left out
        start = time.perf_counter()
        child = subprocess.Popen(
            command, cwd=ROOT, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        _, status, used = os.wait4(child.pid, 0)
        wall_s.append(time.perf_counter() - start)
        child.returncode = os.waitstatus_to_exitcode(status)
        if child.returncode not in (0, 1):  # 1: there are findings
            raise RuntimeError(f"{name} ended with status {child.returncode}")
        processor_s.append(used.ru_utime + used.ru_stime)
    return Timing(name, processor_s[1:], wall_s[1:])


def grammar_text() -> str:
    """Return the grammar as the parser gets it, the units filled in."""
    from harnessdsl.quantity import GAUGE_UNIT, UNITS
    from harnessdsl.resources import data_folder

    units = sorted([*UNITS, GAUGE_UNIT], key=lambda unit: (-len(unit), unit))
    text = (data_folder("grammar") / "harness.lark").read_text(encoding="utf-8")
    return text.replace("%UNITS%", "|".join(re.escape(unit) for unit in units))


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    parser.add_argument("--file", type=Path, default=ROOT / "examples/tourer/tourer.harness")
    parser.add_argument("--runs", type=int, default=7)
    options = parser.parse_args()

    from harnessdsl.pipeline import load

    loaded = load(options.file)
    own = [path for path in loaded.sources if not path.startswith("kinds/")]
    size = sum(len(loaded.sources[path].text) for path in own)
    print(
        f"{options.file.name}: {len(own)} files, {size:,} characters, "
        f"{len(loaded.vehicle.parts)} parts, {len(loaded.vehicle.wires)} wires; "
        f"best of {options.runs} runs"
    )
    with tempfile.TemporaryDirectory() as folder:
        grammar = Path(folder) / "harness.lark"
        grammar.write_text(grammar_text(), encoding="utf-8")
        python = sys.executable
        start = timed("interpreter start", [python, "-c", "pass"], options.runs, folder)
        bare = timed(
            "bare lark parse, interpreter start included",
            [python, "-c", REFERENCE, str(grammar), *own],
            options.runs,
            folder,
        )
        whole = timed(
            "check, whole process",
            [python, "-m", "harnessdsl", "check", str(options.file)],
            options.runs,
            folder,
        )
    print(f"\n{'':<42} {'cpu s':>8} {'median':>8} {'wall s':>8}")
    for timing in (start, bare, whole):
        print(timing.row())
    ratio = whole.best_s / bare.best_s
    print(f"\ncheck / bare lark parse = {ratio:.2f} (at most {LIMIT:g})")
    return 0 if ratio <= LIMIT else 1


if __name__ == "__main__":
    raise SystemExit(main())
