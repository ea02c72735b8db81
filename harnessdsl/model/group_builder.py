"""Facts -> groups of parts and wires: circuits, harness runs, cables."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from harnessdsl.diagnostics import did_you_mean
from harnessdsl.language.facts import Fact, Item
from harnessdsl.model.reading import Cursor, Reader, names_of, read_evidence
from harnessdsl.model.vehicle import Cable, Circuit, End, Part, Place, Run, Wire

_NO_PART = "add a line for it, or correct the name"
_NO_PLACE = 'add: place NAME "..." at x, y, z mm'
_WIRE_NAMES = "a wire is called by the word behind 'wire', or by its ends: F7.2-K2.30"


class GroupBuilder:
    """Reads facts whose blocks list names of other things."""

    def __init__(self, reader: Reader, parts: Mapping[str, Part], wires: Mapping[str, Wire],
                 places: Mapping[str, Place]) -> None:
        self.reader = reader
        self.messages = reader.messages
        self.parts = parts
        self.wires = wires
        self.places = places

    def _names_in_block(self, fact: Fact) -> list[Item]:
        names: list[Item] = []
        for line in fact.block or ():
            names += names_of(line.items)
        return names

    def circuits(self, facts: list[Fact]) -> dict[str, Circuit]:
        """Return the circuits that the facts declare."""
        circuits: dict[str, Circuit] = {}
        for fact in facts:
            cursor = Cursor(fact, self.messages)
            name = cursor.name("a circuit")
            if name is None:
                continue
            label = cursor.label()
            note = safety = ""
            while cursor:
                item = cursor.take()
                if item.text == "note":
                    note = cursor.text("note")
                elif item.text == "safety":
                    word = cursor.name("safety")
                    safety = word.text if word else ""
                else:
                    cursor.unknown(item, ("note", "safety"), "a circuit")
            members: list[str] = []
            for item in self._names_in_block(fact):
                if item.text not in self.parts:
                    self.messages.error("unknown-part", f"there is no part '{item.text}'",
                                        item.span, did_you_mean(item.text, self.parts),
                                        subject=name.text)
                elif item.text not in members:
                    members.append(item.text)
            if name.text in circuits:
                self.messages.duplicate("circuits", name.text, name.span,
                                        circuits[name.text].span)
                continue
            circuits[name.text] = Circuit(name.text, label, tuple(members), note, safety,
                                          name.span)
        return circuits

    def runs(self, facts: list[Fact]) -> dict[str, Run]:
        """Return the harness runs, each with its wires."""
        runs: dict[str, Run] = {}
        for fact in facts:
            cursor = Cursor(fact, self.messages)
            name = cursor.name("a run")
            if name is None:
                continue
            run = Run(name.text, cursor.label(), (), span=name.span,
                      evidence=self.reader.evidence_at(fact.head.span))
            route: list[str] = []
            while cursor:
                evidence = read_evidence(cursor)
                if evidence is not None:
                    run = replace(run, evidence=evidence)
                    continue
                item = cursor.take()
                if item.type == "arrow":
                    continue
                if item.type == "quantity":
                    cursor.at -= 1
                    run = replace(run, length_m=cursor.quantity("run", "length", "2.1 m"))
                elif item.text in self.places:
                    route.append(item.text)
                else:
                    self.messages.error("unknown-place", f"there is no place '{item.text}'",
                                        item.span, did_you_mean(item.text, self.places, _NO_PLACE),
                                        subject=name.text)
            if len(route) < 2:
                self.messages.error("syntax", "a run goes through at least two places", name.span,
                                    'write: run loom "..." left-wing -> dash-box 2.1 m')
            run = self._run_block(fact, replace(run, places=tuple(route)))
            if name.text in runs:
                self.messages.duplicate("runs", name.text, name.span, runs[name.text].span)
                continue
            runs[name.text] = run
        return runs

    def _run_block(self, fact: Fact, run: Run) -> Run:
        members = [wire.name for wire in self.wires.values() if run.name in wire.via]
        chains: dict[str, list[str]] = {}
        for wire in self.wires.values():
            if wire.chain:
                chains.setdefault(wire.chain, []).append(wire.name)
        for line in fact.block or ():
            cursor = Cursor(line, self.messages)
            if line.word == "wires":
                for item in cursor.rest_names():
                    found = [item.text] if item.text in self.wires else chains.get(item.text, [])
                    if not found:
                        self.messages.error("unknown-wire", f"there is no wire '{item.text}'",
                                            item.span,
                                            did_you_mean(item.text, [*self.wires, *chains],
                                                         _WIRE_NAMES),
                                            subject=run.name)
                    members += [wire for wire in found if wire not in members]
            elif line.word == "grommet":
                for item in cursor.rest_names():
                    if item.text not in self.places:
                        self.messages.error("unknown-place", f"there is no place '{item.text}'",
                                            item.span,
                                            did_you_mean(item.text, self.places, _NO_PLACE))
                    else:
                        run = replace(run, grommets=(*run.grommets, item.text))
            elif line.word == "cover":
                run = replace(run, cover=cursor.text("cover"))
            else:
                self.messages.error("unknown-word", f"'{line.word}' means nothing in a run",
                                    line.head.span,
                                    did_you_mean(line.word, ("wires", "grommet", "cover"),
                                                 "known here: wires, grommet, cover"))
        return replace(run, wires=tuple(members))

    def cables(self, facts: list[Fact]) -> dict[str, Cable]:
        """Return the wires that are twisted or screened together."""
        cables: dict[str, Cable] = {}
        for fact in facts:
            cursor = Cursor(fact, self.messages)
            name = cursor.name("a cable")
            if name is None:
                continue
            label = cursor.label()
            flags = [cursor.take() for _ in range(len(cursor.items) - cursor.at)]
            for item in flags:
                if item.text not in ("twisted", "screened"):
                    cursor.unknown(item, ("twisted", "screened"), "a cable")
            words = {item.text for item in flags}
            members: list[str] = []
            screen_end: End | None = None
            for line in fact.block or ():
                if line.word == "screen" and len(line.items) > 1:
                    screen_end = self._screen(line.items[1])
                    continue
                for item in names_of(line.items):
                    found = [wire for wire in self.wires
                             if wire == item.text or self.wires[wire].chain == item.text]
                    if not found:
                        self.messages.error("unknown-wire", f"there is no wire '{item.text}'",
                                            item.span,
                                            did_you_mean(item.text, self.wires, _WIRE_NAMES),
                                            subject=name.text)
                    members += found
            if name.text in cables:
                self.messages.duplicate("cables", name.text, name.span, cables[name.text].span)
                continue
            cables[name.text] = Cable(name.text, label, tuple(members), "twisted" in words,
                                      "screened" in words, screen_end, name.span)
        return cables

    def _screen(self, item: Item) -> End | None:
        name, _, terminal = item.text.partition(".")
        part = self.parts.get(name)
        found = part.kind.terminal(terminal) if part is not None else None
        if part is None or (found is None and part.kind.terminals and terminal):
            self.messages.error("unknown-part", f"there is nothing called '{item.text}'",
                                item.span, did_you_mean(name, self.parts, _NO_PART))
            return None
        return End(name, found.name if found else terminal, span=item.span)
