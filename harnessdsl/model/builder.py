"""Facts -> Vehicle: decides the order, and reads the facts that are few and short."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace

from harnessdsl.diagnostics import Diagnostic, did_you_mean
from harnessdsl.language.facts import Fact, Item
from harnessdsl.model.evidence_builder import EvidenceNotes
from harnessdsl.model.kind import Kind
from harnessdsl.model.kind_builder import KindLibrary
from harnessdsl.model.kind_shelf import KindShelf
from harnessdsl.model.part_builder import PartBuilder
from harnessdsl.model.place_builder import PlaceBuilder
from harnessdsl.model.reading import Cursor, Reader, names_of, read_evidence
from harnessdsl.model.vehicle import (
    Acceptance,
    Cable,
    Circuit,
    Condition,
    Conductor,
    End,
    Part,
    Run,
    Vehicle,
    Wire,
)
from harnessdsl.model.wire_builder import WireBuilder

NOMINAL_VOLTAGES = (6.0, 12.0, 24.0, 48.0)
_SECTIONS = ("vehicle", "place", "wire", "cable", "run", "circuit", "condition", "kind",
             "accept", "conductor", "evidence", "caution", "verified", "refuted", "claim")


_NO_PART = "add a line for it, or correct the name"
_NO_PLACE = 'add: place NAME "..." at x, y, z mm'
_WIRE_NAMES = "a wire is called by the word behind 'wire', or by its ends: F7.2-K2.30"


class VehicleBuilder:
    """Builds one vehicle from all facts of its files."""

    def __init__(self, shelf: KindShelf) -> None:
        self.reader = Reader()
        self.messages = self.reader.messages
        self.shelf = shelf
        self.din_colours = False

    def build(self, facts: Iterable[Fact]) -> tuple[Vehicle, list[Diagnostic]]:
        """Return the vehicle and everything that is wrong with the names and words in it."""
        by_word: dict[str, list[Fact]] = {word: [] for word in _SECTIONS}
        part_facts: list[Fact] = []
        for fact in facts:
            if fact.head.type != "word":
                self.messages.error("syntax", f"a line can't begin with '{fact.head.text}'",
                                    fact.head.span, "a line begins with a kind, or with wire, "
                                    "place, circuit ...")
            elif fact.word in by_word:
                by_word[fact.word].append(fact)
            else:
                part_facts.append(fact)
        for fact in by_word["evidence"]:
            self.reader.set_default_evidence(fact)
        vehicle = self._vehicle(by_word["vehicle"])
        kinds = self._kinds(by_word["kind"])
        places = PlaceBuilder(self.reader).build(by_word["place"])
        part_builder = PartBuilder(self.reader, kinds, places)
        parts = part_builder.build(part_facts)
        conductors = self._conductors(by_word["conductor"], part_builder)
        run_names = [fact.items[1].text for fact in by_word["run"] if len(fact.items) > 1]
        wires = WireBuilder(self.reader, parts, places, run_names, self.din_colours).build(
            by_word["wire"])
        EvidenceNotes(self.reader, parts, wires, places).apply(
            [*by_word["verified"], *by_word["refuted"]])
        vehicle = replace(
            vehicle, places=places, kinds=kinds.built, parts=parts, wires=wires,
            conductors=conductors,
            runs=self._runs(by_word["run"], places, wires),
            cables=self._cables(by_word["cable"], wires, parts),
            circuits=self._circuits(by_word["circuit"], parts),
            conditions=self._conditions(by_word["condition"], parts),
            acceptances=self._acceptances(by_word["accept"], parts, wires, places),
            claims=EvidenceNotes(self.reader, parts, wires, places).claims(by_word["claim"]),
            cautions=(*vehicle.cautions, *self._cautions(by_word["caution"])))
        return vehicle, self.messages.found + self.shelf.diagnostics

    # the vehicle itself

    def _vehicle(self, facts: list[Fact]) -> Vehicle:
        vehicle = Vehicle()
        for fact in facts[1:]:
            self.messages.duplicate("vehicles", "vehicle", fact.head.span, facts[0].head.span)
        for fact in facts[:1]:
            cursor = Cursor(fact, self.messages)
            name = cursor.take_if("text", "word")
            vehicle = replace(vehicle, name=name.text if name else "", span=fact.span)
            if cursor:
                cursor.unknown(cursor.take(), (), "a vehicle")
            for line in fact.block or ():
                vehicle = self._vehicle_line(line, vehicle)
        return vehicle

    def _vehicle_line(self, line: Fact, vehicle: Vehicle) -> Vehicle:
        cursor = Cursor(line, self.messages)
        word = line.word
        if word == "build":
            vehicle = replace(vehicle, build=cursor.text("build"))
        elif word == "supply":
            return self._supply(cursor, vehicle)
        elif word in ("body", "year"):
            item = cursor.take_if("word", "number", "text")
            if item is None:
                cursor.error(f"'{word}' needs a word")
            else:
                vehicle = (replace(vehicle, body=item.text) if word == "body"
                           else replace(vehicle, year=item.text))
        elif word == "colours":
            item = cursor.take_if("word")
            if item is None or item.text not in ("iec", "din"):
                cursor.error("'colours' is iec or din", "write: colours din",
                             item.span if item else None)
            else:
                self.din_colours = item.text == "din"
        elif word in ("note", "caution"):
            text = cursor.text(word)
            if word == "caution":
                vehicle = replace(vehicle, cautions=(*vehicle.cautions, text))
        else:
            self.messages.error(
                "unknown-word", f"'{word}' means nothing in the vehicle's block", line.head.span,
                did_you_mean(word, ("build", "supply", "body", "year", "colours", "note",
                                    "caution"),
                             "known here: build, supply, body, year, colours, note, caution"))
            return vehicle
        if cursor:
            cursor.unknown(cursor.take(), (), f"'{word}'")
        return vehicle

    def _supply(self, cursor: Cursor, vehicle: Vehicle) -> Vehicle:
        span = cursor.here
        volts = cursor.quantity("supply", "voltage", "supply 12 V negative-earth")
        if volts is not None:
            if volts not in NOMINAL_VOLTAGES:
                self.messages.error("bad-supply", f"{volts:g} V is no vehicle's supply", span,
                                    "6, 12, 24 or 48 V")
            else:
                vehicle = replace(vehicle, nominal_v=volts)
        while cursor:
            item = cursor.take()
            if item.text in ("negative-earth", "positive-earth"):
                vehicle = replace(vehicle, positive_earth=item.text == "positive-earth")
            else:
                cursor.unknown(item, ("negative-earth", "positive-earth"), "'supply'")
        return vehicle

    # kinds

    def _kinds(self, facts: list[Fact]) -> KindLibrary:
        own: dict[str, Fact] = {}
        for fact in facts:
            cursor = Cursor(fact, self.messages)
            name = cursor.name("a kind")
            if name is None:
                continue
            if name.text in own:
                self.messages.duplicate("kinds", name.text, name.span,
                                        own[name.text].items[1].span)
            elif name.text in _SECTIONS or name.text == "use":
                self.messages.error("reserved-name", f"a kind can't be called '{name.text}'",
                                    name.span, "that word has a meaning of its own")
            else:
                own[name.text] = fact

        def fetch(name: str) -> Fact | None:
            found = own.get(name)
            return found if found is not None else self.shelf.fact(name)

        library = KindLibrary(self.messages, fetch,
                              lambda: sorted({*own, *self.shelf.names()}))
        for name in own:
            library.get(name)
        return library

    # metal

    def _conductors(self, facts: list[Fact], parts: PartBuilder) -> dict[str, Conductor]:
        conductors: dict[str, Conductor] = {}
        for fact in facts:
            cursor = Cursor(fact, self.messages)
            name = cursor.name("a conductor")
            if name is None:
                continue
            label = cursor.label()
            resistance = None
            if cursor:
                resistance = cursor.quantity("conductor", "resistance", "1 mohm")
            if name.text in conductors:
                self.messages.duplicate("conductors", name.text, name.span,
                                        conductors[name.text].span)
                continue
            conductors[name.text] = Conductor(name.text, label, resistance, name.span)
        for name_text, span in parts.conductors.items():
            conductors.setdefault(name_text, Conductor(name_text, span=span))
        return conductors

    # groups of things

    def _names_in_block(self, fact: Fact) -> list[Item]:
        names: list[Item] = []
        for line in fact.block or ():
            names += names_of(line.items)
        return names

    def _circuits(self, facts: list[Fact], parts: dict[str, Part]) -> dict[str, Circuit]:
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
                if item.text not in parts:
                    self.messages.error("unknown-part", f"there is no part '{item.text}'",
                                        item.span, did_you_mean(item.text, parts),
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

    def _runs(self, facts: list[Fact], places: dict[str, object] | object,
              wires: dict[str, Wire]) -> dict[str, Run]:
        assert isinstance(places, dict)
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
                elif item.text in places:
                    route.append(item.text)
                else:
                    self.messages.error("unknown-place", f"there is no place '{item.text}'",
                                        item.span, did_you_mean(item.text, places, _NO_PLACE),
                                        subject=name.text)
            if len(route) < 2:
                self.messages.error("syntax", "a run goes through at least two places", name.span,
                                    'write: run loom "..." left-wing -> dash-box 2.1 m')
            run = self._run_block(fact, replace(run, places=tuple(route)), places, wires)
            if name.text in runs:
                self.messages.duplicate("runs", name.text, name.span, runs[name.text].span)
                continue
            runs[name.text] = run
        return runs

    def _run_block(self, fact: Fact, run: Run, places: dict[str, object],
                   wires: dict[str, Wire]) -> Run:
        members = [wire.name for wire in wires.values() if run.name in wire.via]
        chains: dict[str, list[str]] = {}
        for wire in wires.values():
            if wire.chain:
                chains.setdefault(wire.chain, []).append(wire.name)
        for line in fact.block or ():
            cursor = Cursor(line, self.messages)
            if line.word == "wires":
                for item in cursor.rest_names():
                    found = [item.text] if item.text in wires else chains.get(item.text, [])
                    if not found:
                        self.messages.error("unknown-wire", f"there is no wire '{item.text}'",
                                            item.span, did_you_mean(item.text, [*wires, *chains], _WIRE_NAMES),
                                            subject=run.name)
                    members += [wire for wire in found if wire not in members]
            elif line.word == "grommet":
                for item in cursor.rest_names():
                    if item.text not in places:
                        self.messages.error("unknown-place", f"there is no place '{item.text}'",
                                            item.span, did_you_mean(item.text, places, _NO_PLACE))
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

    def _cables(self, facts: list[Fact], wires: dict[str, Wire],
                parts: dict[str, Part]) -> dict[str, Cable]:
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
                    screen_end = self._screen(line.items[1], parts)
                    continue
                for item in names_of(line.items):
                    found = [wire for wire in wires
                             if wire == item.text or wires[wire].chain == item.text]
                    if not found:
                        self.messages.error("unknown-wire", f"there is no wire '{item.text}'",
                                            item.span, did_you_mean(item.text, wires, _WIRE_NAMES),
                                            subject=name.text)
                    members += found
            if name.text in cables:
                self.messages.duplicate("cables", name.text, name.span, cables[name.text].span)
                continue
            cables[name.text] = Cable(name.text, label, tuple(members), "twisted" in words,
                                      "screened" in words, screen_end, name.span)
        return cables

    def _screen(self, item: Item, parts: dict[str, Part]) -> End | None:
        name, _, terminal = item.text.partition(".")
        part = parts.get(name)
        found = part.kind.terminal(terminal) if part is not None else None
        if part is None or (found is None and part.kind.terminals and terminal):
            self.messages.error("unknown-part", f"there is nothing called '{item.text}'",
                                item.span, did_you_mean(name, parts, _NO_PART))
            return None
        return End(name, found.name if found else terminal, span=item.span)

    # conditions

    def _conditions(self, facts: list[Fact], parts: dict[str, Part]) -> dict[str, Condition]:
        conditions: dict[str, Condition] = {}
        for fact in facts:
            cursor = Cursor(fact, self.messages)
            name = cursor.name("a condition")
            if name is None:
                continue
            condition = Condition(name.text, cursor.label(), span=name.span)
            settings = Settings(self.reader, parts)
            if not cursor.take_word("rest"):
                settings.read(cursor)
            for line in fact.block or ():
                settings.read(Cursor(line, self.messages, start=0))
            if name.text in conditions:
                self.messages.duplicate("conditions", name.text, name.span,
                                        conditions[name.text].span)
                continue
            conditions[name.text] = settings.onto(condition)
        return conditions

    # findings accepted, cautions

    def _acceptances(self, facts: list[Fact], *names: dict[str, object] | object
                     ) -> tuple[Acceptance, ...]:
        accepted: list[Acceptance] = []
        for fact in facts:
            cursor = Cursor(fact, self.messages)
            code = cursor.take_if("word")
            if code is None:
                cursor.error("'accept' names a check", 'write: accept unfused-load M1 "reason"')
                continue
            subject = cursor.take_if("word", "number")
            reason = cursor.take_if("text")
            if reason is None or not reason.text.strip():
                cursor.error("a finding is accepted with a reason",
                             'write: accept unfused-load M1 "as built by the maker"')
                continue
            if cursor:
                cursor.unknown(cursor.take(), (), "'accept'")
            accepted.append(Acceptance(code.text, subject.text if subject else "", reason.text,
                                       fact.span))
        return tuple(accepted)

    def _cautions(self, facts: list[Fact]) -> tuple[str, ...]:
        found = []
        for fact in facts:
            text = Cursor(fact, self.messages).text("caution")
            if text:
                found.append(text)
        return tuple(found)


class Settings:
    """Reads `S1 = run`, `engine 95 C`, `engine running`, `S9 95 C` in any order."""

    def __init__(self, reader: Reader, parts: dict[str, Part]) -> None:
        self.messages = reader.messages
        self.parts = parts
        self.positions: dict[tuple[str, str], str] = {}
        self.temperatures_c: dict[str, float] = {}
        self.states: dict[tuple[str, str], str] = {}
        self.engine_running = False

    def onto(self, condition: Condition) -> Condition:
        return replace(condition, positions=self.positions, temperatures_c=self.temperatures_c,
                       engine_running=self.engine_running, states=self.states)

    def read(self, cursor: Cursor) -> None:
        while cursor:
            cursor.skip_commas()
            item = cursor.take_if("word", "number")
            if item is None:
                if cursor:
                    bad = cursor.take()
                    self.messages.error("syntax", f"'{bad.text}' means nothing here", bad.span,
                                        "write SWITCH = POSITION, or: engine 95 C")
                continue
            following = cursor.peek()
            if following is not None and following.type == "equals":
                cursor.take()
                value = cursor.name("a position")
                if value is not None:
                    self._set(item, value)
            elif following is not None and following.type == "quantity":
                known = item.text in self.parts or item.text in ("engine", "ambient")
                value_c = cursor.quantity(item.text, "temperature", "engine 95 C")
                if not known:
                    self.messages.error("unknown-part", f"there is no part '{item.text}'",
                                        item.span,
                                        did_you_mean(item.text, [*self.parts, "engine",
                                                                 "ambient"]))
                elif value_c is not None:
                    self.temperatures_c[item.text] = value_c
            elif item.text == "engine" and following is not None and (
                    following.text in ("running", "stopped")):
                self.engine_running = cursor.take().text == "running"
            else:
                self.messages.error("syntax", f"what about '{item.text}'?", item.span,
                                    f"write for example: {item.text} = on, or: engine 95 C")
                if following is not None and following.type == "word":
                    cursor.take()  # most likely its position, with the '=' left out

    def _set(self, item: Item, value: Item) -> None:
        part_name, _, actuator_name = item.text.partition(".")
        part = self.parts.get(part_name)
        if part is None:
            self.messages.error("unknown-part", f"there is no part '{part_name}'", item.span,
                                did_you_mean(part_name, self.parts, _NO_PART))
            return
        states = {"running": "motion", "stopped": "motion", "stalled": "motion", "pressure": "pressure",
                  "no-pressure": "pressure", "tripped": "trip", "intact": "trip"}
        actuators = part.kind.actuators
        if value.text in states and self._has_state(part.kind, states[value.text]):
            self.states[(part_name, states[value.text])] = value.text
            return
        if not actuator_name and len(actuators) > 1:
            self.messages.error(
                "unknown-actuator", f"'{part_name}' has several things to move: which one?",
                item.span, "write one of: " + ", ".join(f"{part_name}.{a}" for a in actuators))
            return
        actuator = (actuators.get(actuator_name) if actuator_name
                    else next(iter(actuators.values()), None))
        if actuator is None:
            hint = did_you_mean(actuator_name, actuators) if actuators else (
                f"{part_name} ({part.kind.name}) is nothing that one can set")
            self.messages.error("unknown-actuator", f"'{item.text}' can't be set", item.span, hint)
            return
        if value.text not in actuator.positions:
            self.messages.error(
                "unknown-position", f"'{value.text}' is no position of {item.text}", value.span,
                did_you_mean(value.text, actuator.positions,
                             "positions: " + " ".join(actuator.positions)))
            return
        self.positions[(part_name, actuator.name)] = value.text

    @staticmethod
    def _has_state(kind: Kind, state: str) -> bool:
        return any(clause.actuator == state for p in kind.primitives for clause in p.clauses) or (
            state == "trip") or any(p.type == "motor" for p in kind.primitives)


def is_name(text: str) -> bool:
    """Say whether a text can be a name in the language."""
    return re.fullmatch(r"[\w+-][\w+\-/*]*", text) is not None


def build_vehicle(facts: Iterable[Fact], shelf: KindShelf) -> tuple[Vehicle, list[Diagnostic]]:
    """Return the vehicle that the facts describe, and every message about them."""
    return VehicleBuilder(shelf).build(facts)
