"""Strands: wires strung together through the plugs that they pass.

A plug cavity with one wire on each half is no place where anything happens: the drawing shows it
as a mark on a line that runs on. A strand is such a line, from one place that matters (a
terminal, a splice, an earth point, a cavity with several wires, a loose end) to the next.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from harnessdsl.model.vehicle import End, Part, Vehicle, Wire


@dataclass(frozen=True, slots=True)
class Piece:
    """One length of a strand: a wire, or the passage through a plug's cavity."""

    enters: str
    leaves: str
    """The nodes at its start and its end, in the strand's direction."""
    wire: Wire | None = None
    connector: str = ""
    cavity: str = ""

    def reversed(self) -> Piece:
        return Piece(self.leaves, self.enters, self.wire, self.connector, self.cavity)


@dataclass(frozen=True, slots=True)
class Strand:
    """Pieces from node `a` to node `b`."""

    a: str
    b: str
    pieces: tuple[Piece, ...]

    @property
    def wires(self) -> tuple[Wire, ...]:
        return tuple(piece.wire for piece in self.pieces if piece.wire is not None)

    def reversed(self) -> Strand:
        return Strand(self.b, self.a, tuple(piece.reversed() for piece in self.pieces[::-1]))


@dataclass(frozen=True, slots=True)
class Strands:
    """All strands of a vehicle, and whose every node is."""

    strands: tuple[Strand, ...]
    part_of: dict[str, str]
    """Node -> part, for every end of a wire and every cavity that is passed."""


def in_line(part: Part | None) -> bool:
    """A connector with two halves of its own, as against one that plugs onto a part."""
    return part is not None and part.connector is not None and not part.connector.of


def _plug_of(vehicle: Vehicle, end: End) -> tuple[str, str] | None:
    """Return this cavity's node and the node of the cavity that it mates with."""
    if not end.half or not in_line(vehicle.parts.get(end.part)):
        return None
    other = "b" if end.half == "a" else "a"
    return end.node, f"{end.part}.{other}.{end.terminal}"


def string_wires(vehicle: Vehicle) -> Strands:
    """Return the strands of `vehicle`, in the order of their first wire in the file; every wire
    is in exactly one."""
    part_of: dict[str, str] = {}
    at: dict[str, list[Piece]] = {}
    """Pieces that leave a node."""
    pieces: list[Piece] = []
    plugged: dict[str, End] = {}
    for wire in vehicle.wires.values():
        piece = Piece(wire.a.node, wire.b.node, wire)
        pieces.append(piece)
        for end, leaving in ((wire.a, piece), (wire.b, piece.reversed())):
            part_of[end.node] = end.part
            at.setdefault(end.node, []).append(leaving)
            if _plug_of(vehicle, end) is not None:
                plugged.setdefault(end.node, end)
    for node, end in plugged.items():
        pair = _plug_of(vehicle, end)
        assert pair is not None
        other = pair[1]
        if other in plugged and other < node:
            continue  # entered from its other half
        part_of.setdefault(other, end.part)
        piece = Piece(node, other, None, end.part, end.terminal)
        pieces.append(piece)
        at[node].append(piece)
        at.setdefault(other, []).append(piece.reversed())

    def passes(node: str) -> bool:
        return node in plugged and len(at[node]) == 2

    used: set[tuple[str, str, str]] = set()

    def key(piece: Piece) -> tuple[str, str, str]:
        if piece.wire is not None:
            return ("wire", piece.wire.name, "")
        return ("plug", piece.connector, piece.cavity)

    def run(first: Piece) -> Strand:
        """Follow `first` until a node that matters, or one already met."""
        strung = [first]
        used.add(key(first))
        node = first.leaves
        while passes(node):
            onward = [piece for piece in at[node] if key(piece) not in used]
            if not onward:
                break
            strung.append(onward[0])
            used.add(key(onward[0]))
            node = onward[0].leaves
        return Strand(first.enters, node, tuple(strung))

    def starts() -> Iterator[Piece]:
        for piece in pieces:
            if not passes(piece.enters):
                yield piece
            elif not passes(piece.leaves):
                yield piece.reversed()
        yield from pieces  # what is left are closed loops through plugs only

    found = [run(piece) for piece in starts() if key(piece) not in used]
    order = {wire: index for index, wire in enumerate(vehicle.wires)}

    def first_wire(strand: Strand) -> int:
        return min((order[wire.name] for wire in strand.wires), default=len(order))

    found.sort(key=first_wire)
    return Strands(tuple(found), part_of)
