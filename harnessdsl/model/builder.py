"""Facts -> Vehicle: decides the order, and reads the facts that are few and short."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from harnessdsl.diagnostics import Diagnostic, did_you_mean
from harnessdsl.language.facts import Fact
from harnessdsl.model.condition_builder import build_conditions
from harnessdsl.model.evidence_builder import EvidenceNotes
from harnessdsl.model.group_builder import GroupBuilder
from harnessdsl.model.kind_builder import KindLibrary
from harnessdsl.model.kind_shelf import KindShelf
from harnessdsl.model.likelihood_builder import build_likelihoods
from harnessdsl.model.part_builder import PartBuilder
from harnessdsl.model.place_builder import PlaceBuilder
from harnessdsl.model.reading import Cursor, Reader
from harnessdsl.model.vehicle import Acceptance, Conductor, Vehicle
from harnessdsl.model.wire_builder import WireBuilder

NOMINAL_VOLTAGES = (6.0, 12.0, 24.0, 48.0)
_SECTIONS = ("vehicle", "place", "wire", "cable", "run", "circuit", "condition", "kind",
             "accept", "conductor", "evidence", "caution", "verified", "refuted", "claim",
             "likelihood")

_VEHICLE_WORDS = ("build", "supply", "body", "year", "colours", "note", "caution", "option",
                  "choice", "chassis", "built", "milestone", "with", "without")
"""Lines of the vehicle's block; those from `option` on are read before a vehicle is built."""


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
        notes = EvidenceNotes(self.reader, parts, wires, places)
        notes.apply([*by_word["verified"], *by_word["refuted"]])
        groups = GroupBuilder(self.reader, parts, wires, places)
        vehicle = replace(
            vehicle, places=places, kinds=kinds.built, parts=parts, wires=wires,
            conductors=conductors,
            runs=groups.runs(by_word["run"]),
            cables=groups.cables(by_word["cable"]),
            circuits=groups.circuits(by_word["circuit"]),
            conditions=build_conditions(self.reader, by_word["condition"], parts),
            acceptances=self._acceptances(by_word["accept"]),
            claims=notes.claims(by_word["claim"]),
            likelihoods=build_likelihoods(self.messages, by_word["likelihood"], parts, wires,
                                          places, [*kinds.names(), *run_names]
                                          if by_word["likelihood"] else ()),
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
                did_you_mean(word, _VEHICLE_WORDS, "known here: " + ", ".join(_VEHICLE_WORDS)))
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
        for each in own:
            library.get(each)
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

    # findings accepted, cautions

    def _acceptances(self, facts: list[Fact]) -> tuple[Acceptance, ...]:
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


def build_vehicle(facts: Iterable[Fact], shelf: KindShelf) -> tuple[Vehicle, list[Diagnostic]]:
    """Return the vehicle that the facts describe, and every message about them."""
    return VehicleBuilder(shelf).build(facts)
