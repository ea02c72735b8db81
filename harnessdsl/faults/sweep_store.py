"""Keeps sweeps between runs: the same vehicle is not computed twice.

A sweep is named by a digest of everything that it follows from: the circuit, the conditions, the
faults and the program itself. What cannot be read is computed anew; nothing else depends on the
store, which may be deleted at any time.
"""

from __future__ import annotations

import hashlib
import json
import zlib
from dataclasses import fields
from pathlib import Path
from typing import Any

from harnessdsl.faults.bench import Bench
from harnessdsl.faults.effects import Effect
from harnessdsl.faults.sweep import Sweep
from harnessdsl.files import replace_file

KEPT = 20
"""Sweeps kept, the ones used last."""
FORMAT = 1


def digest(bench: Bench) -> str:
    """Return a name for all that the sweep of a bench follows from."""
    found = hashlib.sha256(f"{FORMAT}\n".encode())
    package = Path(__file__).resolve().parent.parent
    for folder in ("electric", "faults", "model"):
        for file in sorted((package / folder).glob("*.py")):
            found.update(file.read_bytes())
    circuit = bench.assembled.circuit
    for what in (circuit.elements, circuit.reference, circuit.nodes, circuit.positive_earth,
                 bench.assembled.contacts, bench.assembled.thermistors):
        found.update(repr(what).encode())
    for fault in bench.faults:
        # a set's order differs from run to run
        found.update(repr([sorted(v) if isinstance(v, frozenset) else v for v in (
            getattr(fault, f.name) for f in fields(fault))]).encode())
    for point in bench.points:
        network = point.network
        found.update(repr((network.name, sorted(network.closed.items()),
                           sorted(network.laws.items()), sorted(network.opened.items()),
                           network.ambient_c)).encode())
    for condition in bench.conditions:
        found.update(repr((condition.name, condition.engine_running, condition.moving,
                           sorted(condition.positions.items()), sorted(condition.states.items()),
                           sorted(condition.temperatures_c.items()))).encode())
    return found.hexdigest()


def keep(sweep: Sweep, folder: Path) -> None:
    """Write a sweep into a folder, made when it is not there, and drop those not used for long.

    Raises:
        OSError: the folder cannot be written.
    """
    numbers: dict[str, int] = {}

    def number(effect: Effect) -> int:
        text = json.dumps([sorted(effect.states.items()), effect.opened, effect.chattering,
                           effect.failed, sorted(effect.moved.items())])
        return numbers.setdefault(text, len(numbers))

    fresh = [[number(e) for e in row] for row in sweep.fresh]
    found = [[number(e) for e in row] for row in sweep.found]
    text = json.dumps({"effects": [json.loads(t) for t in numbers], "fresh": fresh, "found": found,
                       "blown": sweep.blown, "failures": sweep.failures})
    replace_file(folder / f"{digest(sweep.bench)}.sweep", zlib.compress(text.encode(), 1))
    files = sorted(folder.glob("*.sweep"), key=lambda f: (-f.stat().st_mtime, f.name))
    for old in files[KEPT:]:
        old.unlink(missing_ok=True)


def kept(bench: Bench, folder: Path) -> Sweep | None:
    """Return the sweep of a bench from a folder, None when it is not there or cannot be read."""
    file = folder / f"{digest(bench)}.sweep"
    try:
        data: Any = json.loads(zlib.decompress(file.read_bytes()))
        effects = [Effect(dict(states), tuple(opened), chattering, failed, dict(moved))
                   for states, opened, chattering, failed, moved in data["effects"]]
        found = Sweep(bench, [[effects[n] for n in row] for row in data["fresh"]],
                      [[effects[n] for n in row] for row in data["found"]],
                      [tuple(names) for names in data["blown"]],
                      [(fault, condition, why) for fault, condition, why in data["failures"]])
    except (OSError, ValueError, TypeError, KeyError, IndexError, zlib.error):
        return None
    rows = (found.fresh, found.found)
    whole = all(len(part) == len(bench.faults) for part in (*rows, found.blown)) and all(
        len(row) == len(bench.conditions) for part in rows for row in part)
    return found if whole else None
