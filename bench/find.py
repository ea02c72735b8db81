"""Times one question to the finder against interpreter start and imports alone.

    python bench/find.py [--runs 7] [--file examples/tourer/tourer.harness]

Both are whole processes; processor time is compared, so that a busy machine does not blur it.
Ends with status 1 when the answer takes more than 0.3 s beyond start and imports.
"""

from __future__ import annotations

import argparse
import os
import resource
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
LIMIT_S = 0.3
IMPORTS = ("import harnessdsl.cli.main, harnessdsl.cli.commands.find, harnessdsl.cli.loading, "
           "harnessdsl.pipeline, harnessdsl.book.answer")


def processor_s(command: list[str]) -> float:
    """Return the processor seconds of one process."""
    environment = {name: value for name, value in os.environ.items()
                   if name != "PYTHONDONTWRITEBYTECODE"}
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, cwd=ROOT, env=environment)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--runs", type=int, default=7)
    parser.add_argument("--file", default="examples/tourer/tourer.harness")
    parser.add_argument("--name", default="K3")
    arguments = parser.parse_args()
    commands = {
        "interpreter start": [sys.executable, "-c", "pass"],
        "start and imports": [sys.executable, "-c", IMPORTS],
        f"find {arguments.name}": [sys.executable, "-m", "harnessdsl", "find", arguments.file,
                                   arguments.name],
    }
    best = {name: min(processor_s(command) for _ in range(arguments.runs))
            for name, command in commands.items()}
    for name, seconds in best.items():
        print(f"{name:<20} {seconds:6.3f} s")
    *_, base, answer = best.values()
    print(f"beyond start and imports: {answer - base:.3f} s (at most {LIMIT_S})")
    if answer - base > LIMIT_S:
        raise SystemExit(1)


if __name__ == "__main__":
    main()
