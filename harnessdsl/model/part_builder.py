"""Facts -> parts: anything whose head is a kind, connectors, splices and earth points too."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from harnessdsl.diagnostics import did_you_mean
from harnessdsl.language.facts import Fact, Item
from harnessdsl.model.evidence import Evidence
from harnessdsl.model.kind import Kind, Side, Terminal
from harnessdsl.model.kind_builder import (
    FIGURE_WORDS,
    KindLibrary,
    KindReader,
    apply_part_figures,
)
from harnessdsl.model.reading import (
    TOP_LEVEL_WORDS,
    Cursor,
    Reader,
    quantity_of,
    read_evidence,
)
from harnessdsl.model.vehicle import ConnectorBody, Half, Part, Place
from harnessdsl.quantity import Quantity
from harnessdsl.text import NOWHERE, Span

_FLAGS = ("always-live", "spare", "retained")
_WORDS = ("in", "slot", "zone", "on", "of", "note", "unfused", "fitted", *_FLAGS, "measured",
          "traced", "copied", "guessed", "by")
MAX_WAYS = 200
_ADD_PART = "add a line for it, or correct the name"


@dataclass(slots=True)
class _Draft:
    """What a part's line and block say, before they meet its kind."""

    label: str = ""
    place: str = ""
    slot: str = ""
    zone: str = ""
    conductor: str = ""
    of: str = ""
    of_span: Span = NOWHERE
    note: str = ""
    fitted: int = 0
    unfused: str = ""
    flags: set[str] = field(default_factory=set)
    evidence: Evidence | None = None
    figures: dict[tuple[str, str], Quantity] = field(default_factory=dict)
    figure_spans: dict[tuple[str, str], Span] = field(default_factory=dict)
    place_span: Span = NOWHERE
    slot_span: Span = NOWHERE
    ways: int | None = None
    cavities: list[str] = field(default_factory=list)
    rows: int = 1
    halves: dict[str, Half] = field(default_factory=dict)


class PartBuilder:
    """Reads the facts that define parts."""

    def __init__(self, reader: Reader, kinds: KindLibrary, places: dict[str, Place]) -> None:
        self.reader = reader
        self.messages = reader.messages
        self.kinds = kinds
        self.places = places
        self.parts: dict[str, Part] = {}
        self.conductors: dict[str, Span] = {}

    def build(self, facts: list[Fact]) -> dict[str, Part]:
        for fact in facts:
            self._part(fact)
        for part in self.parts.values():
            body = part.connector
            if body is not None and body.of and body.of not in self.parts:
                self.messages.error("unknown-part", f"there is no part '{body.of}'",
                                    part.span, did_you_mean(body.of, self.parts, _ADD_PART),
                                    subject=part.name)
                self.parts[part.name] = replace(part, connector=replace(body, of=""))
        return self.parts

    def _part(self, fact: Fact) -> None:
        kind = self.kinds.get(fact.word) if fact.head.type == "word" else None
        cursor = Cursor(fact, self.messages)
        if kind is None:
            known = [*self.kinds.names(), *sorted(TOP_LEVEL_WORDS)]
            if fact.word not in self.kinds.names():  # else what is wrong with it has been said
                self.messages.error(
                    "unknown-kind", f"there is no kind '{fact.word}'", fact.head.span,
                    did_you_mean(fact.word, known,
                                 "a line begins with a kind (fuse, relay, lamp ...) or with wire, "
                                 "place, circuit ...; 'harnessdsl kinds' lists them"))
            # keep the name known, so that one wrong word does not bring an error a wire
            kind = Kind(fact.word, any_terminals=True, family="unknown")
            name = cursor.take_if("word", "number")
            if name is not None and name.text not in self.parts:
                self.parts[name.text] = Part(name.text, "", kind, flags=frozenset({"spare"}),
                                             span=fact.span, name_span=name.span)
            return
        name = cursor.name(f"a {fact.word}")
        if name is None:
            return
        if "." in name.text:
            return
        draft = _Draft(label=cursor.label())
        self._attributes(cursor, draft, kind)
        kind = self._block(fact, kind, draft)
        kind, homeless = apply_part_figures(kind, draft.figures)
        for key in homeless:
            self.messages.error(
                "unknown-figure",
                f"'{' '.join([key[0], draft.figures[key].text]).strip()}' says nothing about a "
                f"{kind.name}", draft.figure_spans.get(key, name.span), self._figures_hint(kind),
                subject=name.text)
        part = self._assemble(fact, name, kind, draft)
        if name.text in self.parts:
            self.messages.duplicate("parts", name.text, name.span,
                                    self.parts[name.text].name_span)
            return
        self.parts[name.text] = part

    @staticmethod
    def _figures_hint(kind: Kind) -> str:
        taken = sorted({" ".join([key[0], quantity.text]).strip()
                        for p in kind.primitives for key, quantity in p.figures.items()})
        return ("figures of this kind are for example: " + ", ".join(taken[:6]) if taken
                else "this kind takes no figures")

    def _attributes(self, cursor: Cursor, draft: _Draft, kind: Kind) -> None:
        while cursor:
            evidence = read_evidence(cursor)
            if evidence is not None:
                draft.evidence = evidence
                continue
            item = cursor.peek()
            assert item is not None
            if item.type == "comma":
                cursor.take()
            elif item.type == "quantity":
                cursor.take()
                self._quantity(item, "", draft, item.span)
            elif item.type == "word":
                self._word(cursor, cursor.take(), draft, kind)
            else:
                cursor.unknown(cursor.take(), _WORDS, f"a {kind.name}")

    def _quantity(self, item: Item, keyword: str, draft: _Draft, span: Span) -> None:
        found = quantity_of(item)
        if found.dimension == "ways":
            if not 1 <= found.value <= MAX_WAYS or found.value != int(found.value):
                self.messages.error("bad-ways", f"'{item.text}': a plug has 1 to {MAX_WAYS} ways",
                                    item.span, "write for example: 4 way")
                draft.ways = 1
                return
            draft.ways = int(found.value)
            return
        if found.value < 0 and found.dimension not in ("temperature", "voltage"):
            self.messages.error("negative-figure", f"'{item.text}' can't be less than nothing",
                                item.span, "leave the sign away")
            return
        draft.figures[(keyword, found.dimension)] = found
        draft.figure_spans[(keyword, found.dimension)] = span

    def _word(self, cursor: Cursor, item: Item, draft: _Draft, kind: Kind) -> None:
        word = item.text
        following = cursor.peek()
        if word == "in":
            place = cursor.name("in")
            if place is not None:
                draft.place, draft.place_span = place.text, place.span
                if place.text not in self.places:
                    self.messages.error("unknown-place", f"there is no place '{place.text}'",
                                        place.span, did_you_mean(
                                            place.text, self.places,
                                            f'add: place {place.text} "..." at x, y, z mm'))
                    draft.place = ""
        elif word == "slot":
            slot = cursor.name("slot")
            if slot is not None:
                draft.slot, draft.slot_span = slot.text, slot.span
        elif word == "zone":
            zone = cursor.name("zone")
            draft.zone = zone.text if zone else ""
        elif word == "on":
            metal = cursor.name("on")
            if metal is not None:
                draft.conductor = metal.text
                self.conductors.setdefault(metal.text, metal.span)
        elif word == "of" and kind.family == "connector":
            of = cursor.name("of")
            if of is not None:
                draft.of, draft.of_span = of.text, of.span
        elif word == "note":
            draft.note = cursor.text("note")
        elif word == "fitted":
            draft.fitted = self._year(cursor)
        elif word == "unfused":
            draft.unfused = cursor.text("unfused")
        elif word in _FLAGS:
            draft.flags.add(word)
        elif following is not None and following.type == "quantity":
            cursor.take()
            if word not in FIGURE_WORDS:
                self.messages.error("unknown-word", f"'{word}' means nothing before a figure",
                                    item.span, did_you_mean(word, [*FIGURE_WORDS, *_WORDS]))
                return
            self._quantity(following, word, draft, item.span.to(following.span))
        else:
            cursor.unknown(item, [*_WORDS, *FIGURE_WORDS], f"a {kind.name}")

    def _year(self, cursor: Cursor) -> int:
        span = cursor.here
        year = cursor.number("fitted")
        if year is None:
            return 0
        if year != int(year) or not 1885 <= year <= 2100:
            self.messages.error("bad-date", f"{year:g} is no year", span, "write for example: "
                                "fitted 2019")
            return 0
        return int(year)

    def _block(self, fact: Fact, kind: Kind, draft: _Draft) -> Kind:
        if fact.block is None:
            return kind

        def other(line: Fact, current: Kind) -> bool:
            return self._line(line, current, draft)

        return KindReader(self.messages).extend(kind, fact.block, other)

    def _line(self, line: Fact, kind: Kind, draft: _Draft) -> bool:
        """Take a line of a part's block that is not a kind's."""
        word = line.word
        cursor = Cursor(line, self.messages)
        if kind.family == "connector":
            if word == "half":
                self._half(cursor, draft)
                return True
            if word == "rows":
                rows = cursor.number("rows")
                draft.rows = max(1, int(rows)) if rows else 1
                return True
            if word == "cavities":
                for item in cursor.rest_names():
                    if item.text in draft.cavities:
                        self.messages.error("duplicate-name", f"there are two cavities "
                                            f"'{item.text}'", item.span, "name each cavity once")
                    else:
                        draft.cavities.append(item.text)
                return True
        if word in _WORDS:
            self._attributes(Cursor(line, self.messages, start=0), draft, kind)
            return True
        return False

    def _half(self, cursor: Cursor, draft: _Draft) -> None:
        which = cursor.take_if("word")
        if which is None or which.text not in ("a", "b"):
            cursor.error("a connector has the halves a and b", 'write: half a male "loom side"',
                         which.span if which else None)
            return
        half = Half(span=which.span)
        while cursor:
            item = cursor.take()
            if item.type == "text":
                half = replace(half, label=item.text)
            elif item.type == "quantity" and quantity_of(item).dimension == "ways":
                half = replace(half, ways=int(quantity_of(item).value))
            elif item.text in ("male", "female"):
                half = replace(half, gender=item.text)
            elif item.text == "shell":
                half = replace(half, shell=cursor.text("shell"))
            elif item.text == "in":
                place = cursor.name("in")
                if place is not None and place.text not in self.places:
                    self.messages.error("unknown-place", f"there is no place '{place.text}'",
                                        place.span, did_you_mean(
                                            place.text, self.places,
                                            f'add: place {place.text} "..." at x, y, z mm'))
                elif place is not None:
                    half = replace(half, place=place.text)
            else:
                cursor.unknown(item, ("male", "female", "shell", "in", "2 way"), "a half")
        if which.text in draft.halves:
            self.messages.duplicate("halves", which.text, which.span,
                                    draft.halves[which.text].span)
            return
        draft.halves[which.text] = half

    def _assemble(self, fact: Fact, name: Item, kind: Kind, draft: _Draft) -> Part:
        connector = None
        if kind.family == "connector":
            connector = self._connector(name, draft)
        elif draft.ways is not None:
            self.messages.error("unknown-figure", f"'{draft.ways} way' says nothing about a "
                                f"{kind.name}", name.span, "only connectors have ways")
        if kind.family in ("splice", "earth") and not kind.terminals:
            kind = replace(kind, terminals={"": Terminal("", Side.UPPER)})
        conductor = draft.conductor
        if kind.family == "earth":
            conductor = conductor or "body"
            self.conductors.setdefault(conductor, name.span)
        return Part(
            name.text, draft.label or "", kind, draft.place, draft.slot, draft.zone, conductor,
            connector, draft.figures, frozenset(draft.flags), draft.unfused, draft.fitted,
            draft.note, draft.evidence or self.reader.evidence_at(fact.head.span), fact.span,
            name.span, draft.slot_span, draft.place_span)

    def _connector(self, name: Item, draft: _Draft) -> ConnectorBody:
        cavities = tuple(draft.cavities)
        if not cavities:
            if draft.ways is None:
                known = [half.ways for half in draft.halves.values() if half.ways]
                draft.ways = max(known) if known else None
            if draft.ways is None and not draft.of:
                self.messages.error("bad-ways", f"connector '{name.text}' needs its number of ways",
                                    name.span, "write for example: 4 way", subject=name.text)
            cavities = tuple(str(number) for number in range(1, (draft.ways or 0) + 1))
        elif draft.ways is not None and draft.ways != len(cavities):
            self.messages.error(
                "bad-ways", f"connector '{name.text}' has {draft.ways} ways, but "
                f"{len(cavities)} cavities are named", name.span, "let both agree",
                subject=name.text)
        halves = {key: draft.halves.get(key, Half()) for key in ("a", "b")}
        return ConnectorBody(cavities, halves, draft.rows, draft.of)


def terminals_used(part: Part, names: list[str]) -> Part:
    """Return the part with terminals added for `names`, for kinds with any terminals."""
    terminals = dict(part.kind.terminals)
    for name in names:
        terminals.setdefault(name, Terminal(name, Side.UPPER))
    return replace(part, kind=replace(part.kind, terminals=terminals))


