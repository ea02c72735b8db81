"""The fault sweep measured: its speed and its errors against ngspice and the full solve.

    python bench/faults.py sweep [--wires 200 2000 10000]

How well faults are found by searching is in fault_search.py.
"""

from __future__ import annotations

import argparse
import random
import sys
import time
from pathlib import Path

from harnessdsl.threads import use_one_thread

use_one_thread()  # one core, as ngspice has

import numpy as np  # noqa: E402

from harnessdsl.faults.bench import Bench  # noqa: E402
from harnessdsl.faults.predictions import Predictor, State  # noqa: E402
from harnessdsl.faults.sweep import Sweep, run_sweep  # noqa: E402

METER_MATTERS_OHM = 4e4
TESTS = Path(__file__).resolve().parent.parent / "tests"


def sweep(sizes: list[int]) -> None:
    """All single faults over 10 conditions against ngspice's `.op` for each in one process.

    ngspice reads the sound vehicle's netlist once and alters one resistor before each `op`; its
    time for one is the difference between many and few, relays left as they stand (which spares it
    work).
    """
    from synthetic import CONDITIONS, synthetic_text

    from harnessdsl.electric.spice import netlist
    from harnessdsl.pipeline import load_string

    print(f"{'wires':>6} {'faults':>7} {'pairs':>8} {'ours':>8} {'ngspice .op':>12} {'ratio':>7} "
          f"{'hub mV':>8} {'node mV':>8} {'failed':>7}")
    for wires in sizes:
        vehicle = load_string(synthetic_text(wires)).vehicle
        began = time.process_time()
        bench = Bench.of(vehicle)
        found = run_sweep(bench)
        ours = time.process_time() - began
        pairs = len(bench.faults) * len(bench.conditions)
        each = ngspice_seconds(netlist(bench.points[0]), bench)
        hub, node, checked = errors(found)
        print(f"{wires:6} {len(bench.faults):7} {pairs:8} {ours:7.1f}s {each * 1000:10.2f}ms "
              f"{each * pairs / ours:7.0f} {hub * 1000:8.4f} {node * 1000:8.4f} "
              f"{len(found.failures):7}   ({checked} pairs compared)", flush=True)
    assert CONDITIONS == 10


def ngspice_seconds(text: str, bench: Bench) -> float:
    """Return the processor time of one `.op` in a running ngspice."""
    import resource
    import subprocess
    import tempfile

    body = text[:text.index(".control")]
    resistors = [line.split()[0] for line in body.splitlines() if line.startswith("r")
                 and line.split()[0][1:].isdigit()]

    def run(count: int) -> float:
        steps = []
        for i in range(count):
            name = resistors[(i * 7919) % len(resistors)]
            value = next(line.split()[3] for line in body.splitlines()
                         if line.startswith(f"{name} "))
            steps += [f"alter {name} = 1e9", "op", f"alter {name} = {value}"]
        control = "\n".join([".control", *steps, "quit", ".endc", ".end"])
        with tempfile.NamedTemporaryFile("w", suffix=".cir") as file:
            file.write(body + control + "\n")
            file.flush()
            before = resource.getrusage(resource.RUSAGE_CHILDREN)
            subprocess.run(["ngspice", "-b", file.name], capture_output=True, check=False)
            after = resource.getrusage(resource.RUSAGE_CHILDREN)
        return (after.ru_utime + after.ru_stime) - (before.ru_utime + before.ru_stime)

    few, many = 5, 45 if len(bench.assembled.circuit.nodes) < 5000 else 25
    return max(run(many) - run(few), 1e-6) / (many - few)


def errors(found: Sweep, count: int = 100) -> tuple[float, float, int]:
    """Return the largest errors in volts at hubs and at any node, against the full solve."""
    from harnessdsl.faults.exact import solve_faulty

    rng = random.Random(3)
    bench, predictor = found.bench, Predictor(found)
    circuit = bench.assembled.circuit
    degree = np.zeros(len(circuit.nodes), dtype=int)
    for element in circuit.elements:
        degree[circuit.node_index[element.a]] += 1
        degree[circuit.node_index[element.b]] += 1
    hubs = degree >= 6
    healthy = {c.name: p for c, p in zip(bench.conditions, bench.points, strict=False)}
    hub = node = 0.0
    for _ in range(count):
        number = rng.randrange(len(bench.conditions))
        fault = rng.choice(bench.faults)
        chosen = (bench.faults.index(fault),)
        state = State(bench.conditions[number].name)
        shown, ohms = (table[0] for table in predictor.nodes(state, [chosen]))
        point = solve_faulty(bench.assembled, [fault], [bench.conditions[number]], healthy,
                             {name: "blown" for name in predictor.blown(chosen)})[0]
        if point.chattering:
            continue
        # where a meter's own 10 megohm matter, what hangs there has no voltage of its own
        off = np.where(ohms < METER_MATTERS_OHM, np.abs(shown - point.volts[:len(shown)]), 0.0)
        node = max(node, float(off.max()))
        hub = max(hub, float(off[hubs].max(initial=0.0)))
    return hub, node, count


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", choices=["sweep"])
    parser.add_argument("--wires", type=int, nargs="+", default=[200, 2000])
    given = parser.parse_args()
    sys.path.insert(0, str(TESTS))
    sweep(given.wires)


if __name__ == "__main__":
    sys.exit(main())
