"""Facts -> wires: chains through plugs, shared and own attributes, shared lengths."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from harnessdsl.diagnostics import did_you_mean
from harnessdsl.language.facts import Fact, Item
from harnessdsl.model.colour import looks_like_colour, read_colour
from harnessdsl.model.evidence import Evidence
from harnessdsl.model.part_builder import terminals_used
from harnessdsl.model.reading import Cursor, Reader, quantity_of, read_evidence
from harnessdsl.model.vehicle import End, Part, Place, Wire
from harnessdsl.quantity import UNITS
from harnessdsl.text import NOWHERE, Span

INSULATIONS = ("pvc", "xlpe", "silicone", "rubber", "cotton", "ptfe")
_WORDS = (*INSULATIONS, "aluminium", "copper", "fusible", "via", "note", "measured", "traced",
          "copied", "guessed")
DEFAULT_NAME_LIMIT = 60


@dataclass(slots=True)
class _Look:
    """The attributes of one piece; None where nothing was said."""

    area_mm2: float | None = None
    area_text: str = ""
    area_span: Span = NOWHERE
    colour: str = ""
    colour_span: Span = NOWHERE
    length_m: float | None = None
    length_span: Span = NOWHERE
    insulation: str = ""
    temperature_class_c: float | None = None
    material: str = ""
    fusible: bool = False
    via: tuple[str, ...] = ()
    note: str = ""
    evidence: Evidence | None = None


def place_position(places: Mapping[str, Place], name: str) -> tuple[float, float, float] | None:
    """Return the position of a place in mm, or that of the place it lies in."""
    seen = set()
    while name and name in places and name not in seen:
        seen.add(name)
        position = places[name].position_mm
        if position is not None:
            return position
        name = places[name].inside
    return None


def distance_m(places: Mapping[str, Place], a: str, b: str) -> float | None:
    """Return the straight distance between two places in metres; None where one has no position."""
    first, second = place_position(places, a), place_position(places, b)
    if first is None or second is None:
        return None
    return math.dist(first, second) / 1000


class WireBuilder:
    """Reads `wire` facts."""

    def __init__(self, reader: Reader, parts: dict[str, Part], places: Mapping[str, Place],
                 runs: list[str], din_colours: bool) -> None:
        self.reader = reader
        self.messages = reader.messages
        self.parts = parts
        self.places = places
        self.runs = runs
        self.din_colours = din_colours
        self.wires: dict[str, Wire] = {}
        self._free_terminals: dict[str, list[str]] = {}

    def build(self, facts: list[Fact]) -> dict[str, Wire]:
        for fact in facts:
            self._wire(fact)
        for name, used in self._free_terminals.items():
            self.parts[name] = terminals_used(self.parts[name], used)
        return self.wires

    def _wire(self, fact: Fact) -> None:
        arrows = [i for i, item in enumerate(fact.items) if item.type == "arrow"]
        if not arrows:
            self.messages.error("syntax", "a wire runs from one end to another, with -> between",
                                fact.span, "write: wire F7.2 -> K2.30  4 mm2 RD")
            return
        if fact.block is not None:
            self.messages.error("syntax", "a wire takes no block", fact.head.span)
        name, name_ok = self._name(fact, arrows[0])
        # what stands before each arrow and behind the last one: an end, then attributes
        starts = [arrows[0] - 1, *(i + 1 for i in arrows)]
        stops = [arrows[0], *arrows[1:], len(fact.items)]
        ends: list[tuple[End | None, _Look]] = []
        count = len(starts)
        for number, (start, stop) in enumerate(zip(starts, stops, strict=True)):
            if start < 1 or start >= len(fact.items) or fact.items[start].type == "arrow":
                span = fact.items[min(start, len(fact.items) - 1)].span
                if start >= len(fact.items):
                    span = Span(span.path, span.line, span.end_column, span.end_column + 1)
                self.messages.error("syntax", "an end of the wire is missing here", span,
                                    "write: wire F7.2 -> K2.30  4 mm2 RD")
                return
            end = self._end(fact.items[start], first=number == 0, last=number == count - 1)
            look = self._look(fact, start + 1, stop)
            ends.append((end, look))
        if not name_ok or any(end is None for end, _ in ends):
            return
        self._pieces(fact, name, [(end, look) for end, look in ends if end is not None])

    def _name(self, fact: Fact, first_arrow: int) -> tuple[Item | None, bool]:
        if first_arrow <= 2:
            return None, True
        name = fact.items[1]
        if first_arrow > 3 or name.type not in ("word", "number", "text") or "." in name.text:
            self.messages.error(
                "syntax", "before the first end stands at most the wire's name", name.span,
                "write: wire W31 F7.2 -> K2.30  4 mm2 RD (attributes behind the ends)")
            return None, False
        if first_arrow == 3:
            return name, True
        return None, True

    def _end(self, item: Item, first: bool, last: bool) -> End | None:
        if item.type not in ("word", "number", "text"):
            self.messages.error("syntax", f"'{item.text}' is no end of a wire", item.span,
                                "an end is PART.TERMINAL, for example K2.30")
            return None
        part_name, _, rest = item.text.partition(".")
        part = self.parts.get(part_name)
        if part is None:
            self.messages.error("unknown-part", f"there is no part '{part_name}'", item.span,
                                did_you_mean(part_name, self.parts,
                                             f'add a line for it, such as: unknown {part_name} '
                                             '"what you see"'))
            return None
        if part.connector is not None:
            return self._cavity(item, part, rest, first, last)
        if part.kind.any_terminals:
            self._free_terminals.setdefault(part_name, []).append(rest or "1")
            return End(part_name, rest or "1", span=item.span)
        if not rest:
            terminals = list(part.kind.terminals)
            if len(terminals) == 1:
                return End(part_name, terminals[0], span=item.span)
            self.messages.error("unknown-terminal", f"'{part_name}' has several terminals: which "
                                "one?", item.span,
                                f"write one of: {self._terminals(part)}", subject=part_name)
            return None
        terminal = part.kind.terminal(rest)
        if terminal is None:
            self.messages.error("unknown-terminal",
                                f"'{part_name}' ({part.kind.name}) has no terminal '{rest}'",
                                item.span,
                                did_you_mean(rest, part.kind.terminals,
                                             f"it has: {self._terminals(part)}"),
                                subject=part_name)
            return None
        return End(part_name, terminal.name, span=item.span)

    @staticmethod
    def _terminals(part: Part) -> str:
        if part.family in ("splice", "earth"):
            return f"{part.name} (it has one point only)"
        return ", ".join(f"{part.name}.{name}" for name in list(part.kind.terminals)[:12])

    def _cavity(self, item: Item, part: Part, rest: str, first: bool, last: bool) -> End | None:
        body = part.connector
        assert body is not None
        half, _, cavity = rest.rpartition(".")
        if half and half not in ("a", "b"):
            self.messages.error("unknown-half", f"a connector has the halves a and b, not '{half}'",
                                item.span, f"write {part.name}.a.{cavity} or {part.name}."
                                f"b.{cavity}", subject=part.name)
            return None
        if body.of:
            target = self.parts[body.of]
            terminal = target.kind.terminal(cavity)
            if terminal is None:
                self.messages.error("unknown-terminal", f"'{body.of}' has no terminal '{cavity}'",
                                    item.span, did_you_mean(cavity, target.kind.terminals),
                                    subject=body.of)
                return None
            return End(body.of, terminal.name, span=item.span)
        if cavity not in body.cavities:
            self.messages.error(
                "unknown-terminal",
                f"plug '{part.name}' has no cavity '{cavity}'" if cavity else
                f"which cavity of plug '{part.name}'?", item.span,
                did_you_mean(cavity, body.cavities,
                             f"it has {len(body.cavities)}: {', '.join(body.cavities[:12])}"),
                subject=part.name)
            return None
        # a wire ends at half a and begins at half b unless the half is written
        return End(part.name, cavity, half or ("b" if first else "a"), item.span)

    def _look(self, fact: Fact, start: int, stop: int) -> _Look:
        look = _Look()
        piece = Fact(fact.items[:stop], None, fact.end_line)
        cursor = Cursor(piece, self.messages, start=start)
        while cursor:
            evidence = read_evidence(cursor)
            if evidence is not None:
                look.evidence = evidence
                continue
            item = cursor.take()
            if item.type == "quantity":
                self._quantity(item, look)
            elif item.type == "comma":
                continue
            elif item.type != "word":
                cursor.unknown(item, _WORDS, "a wire")
            elif item.text in INSULATIONS:
                look.insulation = item.text
            elif item.text in ("aluminium", "copper"):
                look.material = item.text
            elif item.text == "fusible":
                look.fusible = True
            elif item.text == "note":
                look.note = cursor.text("note")
            elif item.text == "via":
                via = cursor.name("via")
                if via is not None and via.text not in self.runs:
                    self.messages.error("unknown-run", f"there is no run '{via.text}'", via.span,
                                        did_you_mean(via.text, self.runs))
                elif via is not None:
                    look.via = (*look.via, via.text)
            else:
                self._colour(cursor, item, look)
        return look

    def _quantity(self, item: Item, look: _Look) -> None:
        found = quantity_of(item)
        if found.value <= 0 and found.dimension in ("area", "length"):
            self.messages.error("negative-figure", f"'{item.text}' must be more than nothing",
                                item.span, "leave it away when it is not known")
        elif found.dimension == "area":
            if look.area_mm2 is not None:
                self._twice("area", item)
            look.area_mm2, look.area_text, look.area_span = found.value, found.text, item.span
        elif found.dimension == "length":
            if look.length_m is not None:
                self._twice("length", item)
            look.length_m, look.length_span = found.value, item.span
        elif found.dimension == "temperature":
            look.temperature_class_c = found.value
        else:
            self.messages.error("wrong-unit", f"'{item.text}' is a {found.dimension}, which a wire "
                                "does not have", item.span,
                                "a wire has an area (4 mm2, 12 AWG), a length (1.2 m), a "
                                "temperature class (105 C)")

    def _twice(self, what: str, item: Item) -> None:
        self.messages.error("said-twice", f"this piece of wire has its {what} already: "
                            f"'{item.text}' is a second one", item.span, "delete one of the two")

    def _colour(self, cursor: Cursor, item: Item, look: _Look) -> None:
        colour = read_colour(item.text, self.din_colours)
        if colour is not None:
            if look.colour:
                self._twice("colour", item)
            look.colour, look.colour_span = colour, item.span
            return
        if looks_like_colour(item.text.upper()) and (
                looks_like_colour(item.text) or read_colour(item.text, True)
                or read_colour(item.text.upper())):
            german = read_colour(item.text, True)
            upper = read_colour(item.text.upper())
            hint = ("codes are BK BN RD OG YE GN BU VT GY WH PK GD TQ SR GNYE, base first: RD/YE")
            if upper is not None:
                hint = f"write {upper}"
            elif german is not None:
                hint = f"write {german}, or say 'colours din' in the vehicle's block"
            self.messages.error("bad-colour", f"'{item.text}' is no colour by IEC 60757",
                                item.span, hint)
            return
        cursor.unknown(item, [*_WORDS, *UNITS], "a wire")

    def _pieces(self, fact: Fact, name: Item | None, ends: list[tuple[End, _Look]]) -> None:
        common = ends[-1][1]
        count = len(ends) - 1
        last_end = ends[-1][0]
        chain = "" if count == 1 else (
            name.text if name is not None else f"{ends[0][0]}-{last_end}")
        pieces: list[Wire] = []
        for number in range(count):
            a, b = self._leaving(ends[number][0], number > 0), ends[number + 1][0]
            if a.node == b.node:
                self.messages.error("wire-to-itself", f"this wire begins and ends on {a}", b.span,
                                    "name the terminal that its other end is on")
                return
            own = ends[number + 1][1] if number + 1 < count else _Look()
            if name is None:
                piece_name = f"{a}-{b}"
            else:
                piece_name = name.text if count == 1 else f"{name.text}:{number + 1}"
            pieces.append(self._piece(fact, piece_name, a, b, own, common, chain))
        if common.length_m is not None:
            self._share_length(pieces, common.length_m, common.length_span)
        for piece in pieces:
            if piece.name in self.wires:
                if name is not None:
                    self.messages.duplicate("wires", piece.name, name.span,
                                            self.wires[piece.name].span)
                    return
                number = 2
                while f"{piece.name}#{number}" in self.wires:
                    number += 1
                piece = replace(piece, name=f"{piece.name}#{number}")
            self.wires[piece.name] = piece

    def _leaving(self, end: End, inside: bool) -> End:
        """Return the end from which the chain goes on: through a plug, the other half."""
        if inside and end.half:
            return replace(end, half="b" if end.half == "a" else "a")
        return end

    def _piece(self, fact: Fact, name: str, a: End, b: End, own: _Look, common: _Look,
               chain: str) -> Wire:
        look = own if own.area_mm2 is not None else common
        tint = own if own.colour else common
        return Wire(
            name, a, b, look.area_mm2, look.area_text, tint.colour, own.length_m, chain,
            common.length_m if chain else None,
            own.insulation or common.insulation,
            own.temperature_class_c or common.temperature_class_c,
            own.material or common.material or "copper",
            own.fusible or common.fusible,
            own.via or common.via,
            own.note or common.note,
            own.evidence or common.evidence or self.reader.evidence_at(fact.head.span),
            fact.span, tint.colour_span, look.area_span,
            own.length_span if own.length_m is not None else common.length_span)

    def _share_length(self, pieces: list[Wire], total_m: float, span: Span) -> None:
        """Share the chain's length out over the pieces that have none of their own, by the
        distance of their places; equal shares where a place has no position."""
        open_pieces = [i for i, piece in enumerate(pieces) if piece.length_m is None]
        left_m = total_m - sum(piece.length_m or 0.0 for piece in pieces)
        if not open_pieces:
            return
        if left_m <= 0:
            self.messages.error("negative-figure", "the pieces are longer than the whole chain",
                                span, "correct one of the lengths")
            return
        spans_m = [distance_m(self.places, self.parts[pieces[i].a.part].place,
                              self.parts[pieces[i].b.part].place) for i in open_pieces]
        known = [value for value in spans_m if value is not None]
        if len(known) < len(spans_m) or sum(known) <= 0:
            weights = [1.0] * len(open_pieces)
        else:
            slack = max(0.05, sum(known) * 0.1) / len(known)
            weights = [value + slack for value in known]
        for i, weight in zip(open_pieces, weights, strict=True):
            pieces[i] = replace(pieces[i], length_m=left_m * weight / sum(weights))
