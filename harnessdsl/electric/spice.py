"""A network in its found state as an ngspice netlist, for checking the answer elsewhere.

Contacts, relays and fuses stand as they were found; non-linear elements are written as the same
laws, so that the two programs solve the same equations.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from harnessdsl.electric.elements import (
    ALTERNATOR_KNEE_A,
    ALTERNATOR_OWN_S,
    CELL_KNEE_V,
    DIODE_LEAK_S,
    FILAMENT_EXPONENT,
    MOTOR_KNEE_V,
    Alternator,
    Cell,
    Element,
    Filament,
    Junction,
    Law,
    Motor,
    Resistance,
)
from harnessdsl.electric.operating_point import OperatingPoint, island_labels

ISLAND_OHM = 1e6
"""Ties an island that nothing joins to the reference, so that it has a voltage at all; it carries
no current."""

OPTIONS = ".options reltol=1e-8 abstol=1e-12 vntol=1e-9 gmin=1e-15 itl1=500 temp=27 tnom=27"


def netlist(point: OperatingPoint, title: str = "", guess: bool = False) -> str:
    """Return the netlist. Node k of the circuit is `nk` (`0` for the reference) and element k is
    `rk`, `bk` or `dk`; comments give their names.

    Run with `ngspice -b`, it prints every node's voltage to 15 digits and, as `@rk[i]` and so on,
    each element's current.

    The other program is told about where the supply's poles are (`.nodeset`, a starting guess):
    from nothing it does not find its way with an alternator at its regulator. It still solves its
    own equations to its own tolerance.

    Args:
        guess: tell it so for every node.
    """
    return _Writer(point).text(title, guess)


def node_name(point: OperatingPoint, node: str) -> str:
    """Return the name of a node in the netlist."""
    index = point.network.circuit.node_index[node]
    return f"n{index}" if index else "0"


class _Writer:
    def __init__(self, point: OperatingPoint) -> None:
        self.point = point
        self.circuit = point.network.circuit
        self.lines: list[str] = []
        self.prints: list[str] = []

    def text(self, title: str, guess: bool) -> str:
        point, circuit = self.point, self.circuit
        name = " ".join((title or point.network.name or "network").split())
        self.lines = [f"* {name}", OPTIONS, "* node numbers"]
        self.lines += [f"*   {node_name(point, node)} = {node}" for node in circuit.nodes]
        siemens = point.siemens
        for index, element in enumerate(circuit.elements):
            self._element(index, element, float(siemens[index]))
        self._islands()
        supply = {node for e in circuit.elements if isinstance(e.law, Cell | Alternator)
                  for node in (e.a, e.b)}
        self.lines += [f".nodeset v({node_name(point, node)})={volts!r}"
                       for node, volts in zip(circuit.nodes, point.volts.tolist(), strict=True)
                       if node != circuit.reference and (guess or node in supply)]
        self.lines += [".op", ".control", "set numdgt=15", "set noprintscale", "op", "print all",
                       *self.prints, ".endc", ".end"]
        return "\n".join(self.lines) + "\n"

    def _element(self, index: int, element: Element, siemens: float) -> None:
        a, b = (node_name(self.point, n) for n in (element.a, element.b))
        law = self.point.law(index)
        if isinstance(law, Resistance):
            if isinstance(element.law, Resistance):
                ohm = 1 / siemens if siemens > 0 else 0.0
            else:  # a motor held fast, an alternator that does not turn
                ohm = law.ohm if law.siemens > 0 else 0.0
            if ohm and a != b:
                self.lines.append(f"r{index} {a} {b} {ohm!r} ; {element.id}")
                self.prints.append(f"print @r{index}[i]")
            else:
                self.lines.append(f"* r{index} {a} {b} open ; {element.id}")
            return
        self.lines.append(f"* {element.id}")
        if isinstance(law, Junction):
            self._junction(index, law, a, b)
        else:
            self.lines.append(f"b{index} {a} {b} i={_formula(law, f'v({a},{b})')}")
            self.prints.append(f"print @b{index}[i]")

    def _junction(self, index: int, law: Junction, a: str, b: str) -> None:
        inner = a
        if law.series_ohm:
            inner = f"i{index}"
            self.lines.append(f"rs{index} {a} {inner} {law.series_ohm!r}")
        ideality = law.slope_v / (1.380649e-23 * 300.15 / 1.602176634e-19)
        self.lines += [
            f"d{index} {inner} {b} dm{index}",
            f"rl{index} {inner} {b} {1 / DIODE_LEAK_S!r}",
            f".model dm{index} d(is={law.saturation_a!r} n={ideality!r} xti=0 eg=1.11)"]
        self.prints.append(f"print @d{index}[id]+@rl{index}[i]")

    def _islands(self) -> None:
        """Tie each island at the node that the answer counts its voltages from."""
        labels = island_labels(self.circuit, self.point.siemens)
        volts = self.point.volts
        for label in np.unique(labels):
            if label != labels[0]:
                nodes = np.flatnonzero(labels == label)
                at = int(nodes[np.argmin(np.abs(volts[nodes]))])
                self.lines.append(f"rt{at} n{at} 0 {ISLAND_OHM!r}")


def _formula(law: Law, u: str) -> str:
    match law:
        case Filament():
            factor, cold2 = law.parameters()
            return f"{factor!r}*{u}*({u}*{u}+{cold2!r})^({(FILAMENT_EXPONENT - 1) / 2!r})"
        case Cell():
            emf, giving, taking = law.parameters()
            x = f"({emf!r}-{u})"
            return f"-({taking!r}*{x}+{giving - taking!r}*{_ramp(x, CELL_KNEE_V)})"
        case Alternator():
            regulated, siemens, limit = law.parameters()
            x = f"(({regulated!r}-{u})*{siemens!r})"
            return (f"{_ramp(f'({x}-{limit!r})', ALTERNATOR_KNEE_A)}-"
                    f"{_ramp(x, ALTERNATOR_KNEE_A)}+{ALTERNATOR_OWN_S!r}*{u}")
        case Motor():
            still, lost, starting = law.parameters()
            ahead = _ramp(f"({u}-{starting!r})", MOTOR_KNEE_V)
            back = _ramp(f"(0-{u}-{starting!r})", MOTOR_KNEE_V)
            return f"{still!r}*{u}-{lost!r}*({ahead}-{back})"
        case _:
            raise AssertionError(f"{law.kind} has no formula of its own")


def _ramp(x: str, knee: float) -> str:
    return f"(0.5*({x}+sqrt({x}*{x}+{4 * knee * knee!r})))"


def parse_listing(listing: str) -> Mapping[str, float]:
    """Return what `ngspice -b` prints for a netlist of ours: node -> volts and `r5`, `b7`, `d9` ->
    amperes through that element, from a to b."""
    found: dict[str, float] = {"0": 0.0}
    for line in listing.splitlines():
        name, equals, value = line.partition(" = ")
        if not equals:
            continue
        name = name.strip().removeprefix("@").partition("[")[0]
        try:
            found[name] = float(value)
        except ValueError:
            continue
    return found
