"""Runs ngspice (Debian's package) on a netlist of ours and compares every node and element."""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from pathlib import Path

from harnessdsl.electric.operating_point import OperatingPoint
from harnessdsl.electric.spice import OPTIONS, netlist, node_name, parse_listing

VOLTS, VOLTS_SHARE = 1e-3, 1e-4
"""Voltages agree within 1 mV or 0.01 %, whichever is more."""
EASIER_OPTIONS = ".options reltol=1e-6 abstol=1e-9 vntol=1e-7 itl1=500 temp=27 tnom=27"
AMPERES_SHARE = 1e-3
AMPERES = 1e-6
"""Currents agree within 0.1 %; below a thousandth of that in amperes they count as none."""


def ngspice() -> str:
    """Return the program; a machine without it fails the test rather than skip it."""
    found = shutil.which("ngspice")
    assert found, ("ngspice is not installed: apt-get install ngspice "
                   "(these checks must not be skipped)")
    return found


def run(text: str) -> str:
    """Return what ngspice prints for a netlist."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "network.cir"
        path.write_text(text, encoding="utf-8")
        done = subprocess.run([ngspice(), "-b", str(path)], capture_output=True, text=True,
                              timeout=300, check=False)
    return done.stdout + done.stderr


def compare(point: OperatingPoint, guess: bool = False) -> tuple[list[str], int]:
    """Return what differs from ngspice's answer, and how many values were compared.

    Args:
        guess: start ngspice from our voltages at every node, not the supply's alone. It solves its
            own equations to its own tolerance all the same.
    """
    text = netlist(point, guess=guess)
    answer = parse_listing(run(text))
    if "n1" not in answer:  # it gives up now and then where it asks too much of itself
        text = netlist(point, guess=True)
        answer = parse_listing(run(text))
    if "n1" not in answer:
        answer = parse_listing(run(text.replace(OPTIONS, EASIER_OPTIONS)))
    circuit = point.network.circuit
    wrong: list[str] = []
    compared = 0
    for index, node in enumerate(circuit.nodes):
        name = node_name(point, node)
        ours = float(point.volts[index])
        if name not in answer:
            if not _unused(point, node):
                wrong.append(f"{node}: ngspice gives no voltage")
            continue
        compared += 1
        theirs = answer[name]
        if not abs(ours - theirs) <= max(VOLTS, VOLTS_SHARE * abs(theirs)):
            wrong.append(f"{node}: {ours!r} V here, {theirs!r} V in ngspice")
    for index, element in enumerate(circuit.elements):
        ours = float(point.currents[index])
        theirs_or_none = next((answer[f"{letter}{index}"] for letter in "rbd"
                               if f"{letter}{index}" in answer), None)
        if theirs_or_none is None:
            if ours != 0.0 and element.a != element.b:
                wrong.append(f"{element.id}: {ours} A here, not in ngspice's network")
            continue
        compared += 1
        if not abs(ours - theirs_or_none) <= max(AMPERES, AMPERES_SHARE * abs(theirs_or_none)):
            wrong.append(f"{element.id}: {ours!r} A here, {theirs_or_none!r} A in ngspice")
    return wrong, compared


def _unused(point: OperatingPoint, node: str) -> bool:
    """Whether nothing at all is connected to a node, so that it is not in the netlist."""
    return not any(node in (e.a, e.b) and s > 0 for e, s in zip(
        point.network.circuit.elements, point.siemens.tolist(), strict=True))
