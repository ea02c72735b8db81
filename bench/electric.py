"""Times the operating point against ngspice on the same networks.

    python bench/electric.py [--runs 5] [--sizes 200 2000 10000] [--quick]

Everything is processor time, on one core, in one run, best of several:

* the demo in one condition and in 20, model loaded, against as many ngspice processes on the
  exported netlists (start, reading and `.op` included; they are handed the relays as found);
* made-up vehicles in 10 conditions against ngspice's own `.op` as it reports it itself, without
  start and reading. Ours twice: finding the relays' state from rest, and handed it like ngspice.

`cold` times include putting the vehicle's circuit together and ordering it, which is done once per
vehicle. Ends with status 1 when a ratio is under its limit, or when the cost grows faster than
about n log n.
"""

from __future__ import annotations

import argparse
import math
import os
import re
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))
sys.path.insert(0, str(ROOT / "tests"))

from harnessdsl.threads import use_one_thread  # noqa: E402

use_one_thread()

from synthetic import synthetic_text  # noqa: E402

from harnessdsl.electric import (  # noqa: E402
    Network,
    OperatingPoint,
    build_network,
    netlist,
    solve,
    solve_many,
)
from harnessdsl.electric.assembly import assemble  # noqa: E402
from harnessdsl.electric.conditions import set_condition  # noqa: E402
from harnessdsl.model.vehicle import Condition, Vehicle  # noqa: E402
from harnessdsl.pipeline import load, load_string  # noqa: E402

DEMO = ROOT / "examples" / "tourer" / "tourer.harness"
ONE_LIMIT, TWENTY_LIMIT = 5.0, 10.0
OP_LIMITS = {2000: 10.0, 10000: 100.0}
GROWTH_SLACK = 1.6
"""How much more than n log n a step in size may cost: caches get smaller than the vehicle."""


def best(runs: int, work: Callable[[], object]) -> float:
    """Return the least processor time of several runs, in seconds."""
    times = []
    for _ in range(runs):
        start = time.process_time()
        work()
        times.append(time.process_time() - start)
    return min(times)


def process_s(path: Path) -> float:
    """Return the processor time of one ngspice process on a netlist."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(["ngspice", "-b", str(path)], capture_output=True, check=False)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


_CONTROL = re.compile(r"\.op\n\.control.*?\.endc\n", re.DOTALL)


def own_op_s(point: OperatingPoint, folder: Path) -> tuple[float, bool]:
    """Return the time that ngspice reports for its `.op`, and whether it needed our voltages as a
    guess (which makes it quicker)."""
    for guess in (False, True):
        text = _CONTROL.sub(".control\nop\nrusage time\nprint length(n1)\n.endc\n",
                            netlist(point, guess=guess))
        path = folder / "op.cir"
        path.write_text(text, encoding="utf-8")
        done = subprocess.run(["ngspice", "-b", str(path)], capture_output=True, text=True,
                              check=False)
        said = done.stdout + done.stderr
        found = re.search(r"Total analysis time \(seconds\) = ([\d.eE+-]+)", said)
        if found and "length(n1) = 1" in said:
            return float(found.group(1)), guess
    raise RuntimeError("ngspice did not solve a network")


def plain(point: OperatingPoint, path: Path) -> None:
    """Write the netlist as a user would run it: `.op`, and every voltage printed."""
    path.write_text(_CONTROL.sub(".op\n", netlist(point)), encoding="utf-8")


def demo(runs: int, folder: Path) -> list[str]:
    """Time the demo; return what is under its limit."""
    vehicle = load(DEMO).vehicle
    conditions = (list(vehicle.conditions.values()) * 20)[:20]
    points = [solve(build_network(vehicle, c)) for c in conditions]
    paths = [folder / f"demo{i}.cir" for i in range(20)]
    for point, path in zip(points, paths, strict=True):
        plain(point, path)
    ratios, found_ratios = [], []
    failures = []
    print(f"demo: {len(vehicle.wires)} wires, {len(points[0].network.circuit.elements)} elements")
    for condition, point, path in list(zip(conditions, points, paths, strict=True))[:12]:
        ours = best(runs * 3, lambda c=condition: solve(build_network(vehicle, c)))  # type: ignore[misc]
        cold = best(2, lambda c=condition: solve(set_condition(assemble(vehicle), c)))  # type: ignore[misc]
        handed = best(runs * 3, lambda c=condition, s=point.state: solve(  # type: ignore[misc]
            build_network(vehicle, c, start=s), s))
        theirs = min(process_s(path) for _ in range(runs))
        ratios.append(theirs / ours)
        found_ratios.append(theirs / handed)
        print(f"  {condition.name:<18} from rest {ours * 1e3:6.2f} ms, relays as found "
              f"{handed * 1e3:5.2f} ms (cold {cold * 1e3:5.1f})   ngspice {theirs * 1e3:6.1f} ms   "
              f"{theirs / ours:4.1f} and {theirs / handed:4.1f} times (cold {theirs / cold:.1f})")
    mean = math.exp(sum(map(math.log, ratios)) / len(ratios))
    print(f"  one condition: relays as found, like ngspice: {min(found_ratios):.1f} times faster "
          f"than a process at least; finding them from rest: {mean:.1f} times (mean), "
          f"{min(ratios):.1f} at least; limit {ONE_LIMIT:g}")
    if min(found_ratios) < ONE_LIMIT or mean < ONE_LIMIT:
        failures.append(f"one condition: {min(found_ratios):.1f}, {mean:.1f} < {ONE_LIMIT:g}")
    ours = best(runs, lambda: _all(vehicle, conditions))
    cold = best(2, lambda: solve_many(
        [set_condition(made, c) for made in [assemble(vehicle)] for c in conditions]))
    theirs = sum(process_s(path) for path in paths)
    print(f"  20 conditions: {ours * 1e3:.1f} ms (cold {cold * 1e3:.1f})   ngspice "
          f"{theirs * 1e3:.0f} ms   {theirs / ours:.1f} times (cold {theirs / cold:.1f}); "
          f"limit {TWENTY_LIMIT:g}")
    if theirs / ours < TWENTY_LIMIT:
        failures.append(f"20 conditions: {theirs / ours:.1f} < {TWENTY_LIMIT:g}")
    return failures


def _all(vehicle: Vehicle, conditions: list[Condition]) -> list[OperatingPoint]:
    return solve_many([build_network(vehicle, c) for c in conditions])


def synthetic(size: int, runs: int, folder: Path, sample: int) -> tuple[float, list[str]]:
    """Time one made-up vehicle; return our seconds (relays to be found) and what is under."""
    vehicle = load_string(synthetic_text(size)).vehicle
    conditions = list(vehicle.conditions.values())
    start = time.process_time()
    made = assemble(vehicle)
    networks: list[Network] = [set_condition(made, c) for c in conditions]
    assembling = time.process_time() - start
    start = time.process_time()
    points = solve_many(networks)
    first = time.process_time() - start
    states = [point.state for point in points]
    finding = best(runs, lambda: solve_many(networks))
    handed = best(runs, lambda: solve_many(networks, states))
    chosen = points[:sample]
    own = [own_op_s(point, folder) for point in chosen]
    theirs = sum(seconds for seconds, _ in own) * len(points) / len(chosen)
    guesses = sum(guess for _, guess in own)
    print(f"{len(vehicle.wires)} wires in {len(points)} conditions "
          f"({len(made.circuit.nodes)} nodes, {len(made.circuit.elements)} elements)")
    print(f"  vehicle put together {assembling * 1e3:.0f} ms; first time, ordering included "
          f"{first * 1e3:.0f} ms")
    print(f"  relays to be found  {finding * 1e3:8.1f} ms   ngspice's own .op "
          f"{theirs * 1e3:8.0f} ms   {theirs / finding:6.1f} times")
    print(f"  relays as found     {handed * 1e3:8.1f} ms   {'':26} {theirs / handed:6.1f} times"
          + (f"   ({guesses} of {len(own)} with our voltages as a guess)" if guesses else ""))
    limit = OP_LIMITS.get(size)
    under = []
    if limit is not None and theirs / handed < limit:
        under.append(f"{size} wires: {theirs / handed:.1f} < {limit:g}")
    return finding, under


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--runs", type=int, default=5)
    parser.add_argument("--sizes", type=int, nargs="*", default=[200, 2000, 10000])
    parser.add_argument("--quick", action="store_true", help="time ngspice on 3 conditions of 10")
    arguments = parser.parse_args()
    if shutil.which("ngspice") is None:
        print("ngspice is not installed: apt-get install ngspice", file=sys.stderr)
        return 2
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    failures: list[str] = []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        failures += demo(arguments.runs, folder)
        before: tuple[int, float] | None = None
        for size in arguments.sizes:
            seconds, under = synthetic(size, arguments.runs, folder,
                                       3 if arguments.quick else 10)
            failures += under
            if before is not None:
                grown = seconds / before[1]
                allowed = size * math.log(size) / (before[0] * math.log(before[0]))
                print(f"  {size / before[0]:g} times the wires cost {grown:.1f} times "
                      f"(n log n: {allowed:.1f})")
                if grown > GROWTH_SLACK * allowed:
                    failures.append(f"growth from {before[0]} to {size}: {grown:.1f} times")
            before = (size, seconds)
    for failure in failures:
        print(f"UNDER THE LIMIT: {failure}")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
