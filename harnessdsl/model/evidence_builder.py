"""Facts -> evidence found later: `verified`, `refuted` and `claim` lines."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from harnessdsl.diagnostics import did_you_mean
from harnessdsl.language.facts import Fact, Item
from harnessdsl.model.evidence import UNSTATED, Evidence, Trust
from harnessdsl.model.reading import TRUST_WORDS, Cursor, Reader, read_date, read_evidence
from harnessdsl.model.vehicle import Claim, Part, Place, Wire

REFUTED = "refuted: "
"""What the note of a refuted fact begins with."""


class EvidenceNotes:
    """Reads the lines that say something about facts written elsewhere."""

    def __init__(self, reader: Reader, parts: dict[str, Part], wires: dict[str, Wire],
                 places: Mapping[str, Place]) -> None:
        self.reader = reader
        self.messages = reader.messages
        self.parts = parts
        self.wires = wires
        self.places = places
        self.chains: dict[str, list[str]] = {}
        for wire in wires.values():
            if wire.chain:
                self.chains.setdefault(wire.chain, []).append(wire.name)

    def apply(self, facts: list[Fact]) -> None:
        """Write the evidence of the lines into the parts and wires."""
        for fact in sorted(facts, key=lambda f: (f.head.path, f.head.line)):
            cursor = Cursor(fact, self.messages)
            names = list(self._names(cursor))
            judge = self._verified if fact.word == "verified" else self._refuted
            evidence = judge(cursor)
            if evidence is None:
                continue
            if cursor:
                cursor.unknown(cursor.take(), [*TRUST_WORDS, "by"], f"'{fact.word}'")
            for name in names:
                if name in self.parts:
                    self.parts[name] = replace(self.parts[name], evidence=evidence)
                else:
                    self.wires[name] = replace(self.wires[name], evidence=evidence)

    def _names(self, cursor: Cursor) -> Iterator[str]:
        while (item := cursor.peek()) is not None:
            if item.type in ("text", "date") or item.text in TRUST_WORDS or item.text == "by":
                return
            cursor.take()
            if item.type != "comma":
                yield from self._meant(item)

    def _meant(self, item: Item) -> Iterator[str]:
        if item.text in self.parts or item.text in self.wires:
            yield item.text
        elif item.text in self.chains:
            yield from self.chains[item.text]
        else:
            self.messages.error(
                "unknown-wire", f"there is no part or wire '{item.text}'", item.span,
                did_you_mean(item.text, [*self.wires, *self.chains, *self.parts],
                             "a wire without a name is called after its ends: F7.2-K2.30"))

    def _verified(self, cursor: Cursor) -> Evidence | None:
        evidence = read_evidence(cursor)
        if evidence is None or not evidence.verified:
            cursor.error("'verified' needs to say how: measured or traced",
                         'write for example: verified W31 measured 2026-04-02 by "Ilse"')
            return None
        return evidence

    def _refuted(self, cursor: Cursor) -> Evidence | None:
        evidence = Evidence(Trust.GUESSED, REFUTED, stated=True)
        while (item := cursor.peek()) is not None:
            if item.type == "text":
                evidence = replace(evidence, note=REFUTED + cursor.take().text)
            elif item.type == "date":
                evidence = replace(evidence, date=read_date(cursor.take(), self.messages))
            elif cursor.take_word("by"):
                evidence = replace(evidence, by=cursor.text("by"))
            else:
                break
        return evidence

    def claims(self, facts: list[Fact]) -> tuple[Claim, ...]:
        """Return what other sources say."""
        found: list[Claim] = []
        for fact in facts:
            cursor = Cursor(fact, self.messages)
            item = cursor.take_if("word", "number")
            if item is None:
                cursor.error("'claim' names a part, wire or place",
                             'write: claim W31 "BK, 2.5 mm2" copied "book of 1987"')
                continue
            known = [*self.parts, *self.wires, *self.chains, *self.places]
            if item.text not in known:
                self.messages.error("unknown-part", f"nothing is called '{item.text}'", item.span,
                                    did_you_mean(item.text, known))
                continue
            text = cursor.text("claim")
            evidence = read_evidence(cursor) or UNSTATED
            if cursor:
                cursor.unknown(cursor.take(), [*TRUST_WORDS, "by"], "'claim'")
            found.append(Claim(item.text, text, evidence, fact.span))
        return tuple(found)
