"""Case files: facts -> Case, with messages at the word that is wrong."""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import replace
from pathlib import Path

from harnessdsl.diagnostics import Diagnostic, did_you_mean
from harnessdsl.faults.case import (
    BATTERY_OFF,
    CHANGE_WORDS,
    FUSE_WORDS,
    LAMP_WORDS,
    LOAD_WORDS,
    OUT_OF_CIRCUIT,
    RELAY_WORDS,
    SURE,
    UNSURE,
    USUAL,
    Case,
    Complaint,
    Observation,
    Refusal,
    Replaced,
)
from harnessdsl.faults.refusal_words import WAY_WORDS
from harnessdsl.language.facts import Fact, Item
from harnessdsl.language.loader import read_source
from harnessdsl.language.parser import parse_text
from harnessdsl.model.kind import LOAD_TYPES, PROTECTION_TYPES
from harnessdsl.model.likelihood_builder import known_names, read_likelihood
from harnessdsl.model.reading import Cursor, Messages, quantity_of, read_date
from harnessdsl.model.topology import metal_node, terminal_node
from harnessdsl.model.vehicle import Part, Vehicle
from harnessdsl.text import NOWHERE, SourceFile

HEADS = ("case", "vehicle", "complaint", "saw", "read", "swapped", "wiggled", "changed", "refused",
         "open", "likelihood", "found", "note")


def is_relay(part: Part) -> bool:
    """Return whether a part has a coil that moves something."""
    return any(p.type == "coil" for p in part.kind.primitives)


def is_protection(part: Part) -> bool:
    return any(p.type in PROTECTION_TYPES for p in part.kind.primitives)


def is_load(part: Part) -> bool:
    return any(p.type in LOAD_TYPES for p in part.kind.primitives)


def point_node(vehicle: Vehicle, text: str) -> tuple[str, str]:
    """Return (node, '') for a point as written, or ('', what is wrong with it and what to write).

    Raises nothing: the second text is for the person.
    """
    bare = text.removeprefix("@")
    if bare in vehicle.conductors:
        return metal_node(bare), ""
    name, _, rest = text.partition(".")
    part = vehicle.parts.get(name)
    if part is None:
        known = [*vehicle.parts, *vehicle.conductors]
        return "", f"there is no part '{name}'; " + (did_you_mean(name, known) or
                                                     "a point is PART.TERMINAL, such as K2.30")
    body = part.connector
    if body is not None:
        half, _, cavity = rest.rpartition(".")
        if body.of:
            name, part, rest = body.of, vehicle.parts[body.of], cavity
        elif cavity not in body.cavities:
            return "", (f"plug '{name}' has no cavity '{cavity}'; it has "
                        + ", ".join(body.cavities[:12]))
        else:
            return f"{name}.{half or 'a'}.{cavity}", ""
    if part.kind.any_terminals:
        return terminal_node(name, rest or "1"), ""
    terminals = list(part.kind.terminals)
    if not rest and len(terminals) == 1:
        return terminal_node(name, terminals[0]), ""
    found = part.kind.terminal(rest)
    if found is None:
        shown = ", ".join(f"{name}.{t}" if t else name for t in terminals[:12])
        return "", f"'{name}' has no terminal '{rest}'; it has {shown}"
    return terminal_node(name, found.name), ""


class CaseReader:
    """Reads the facts of one case file against the vehicle that it is about."""

    def __init__(self, vehicle: Vehicle) -> None:
        self.vehicle = vehicle
        self.messages = Messages()

    def read(self, facts: tuple[Fact, ...]) -> Case:
        case = Case()
        for fact in facts:
            cursor = Cursor(fact, self.messages)
            wrong = len(self.messages.found)
            match fact.word:
                case "case":
                    case = self._head(case, cursor)
                case "vehicle":
                    case = replace(case, vehicle=cursor.text("vehicle"))
                case "complaint":
                    case = replace(case, complaints=(*case.complaints, self._complaint(cursor)))
                case "saw" | "read" | "swapped" | "wiggled":
                    made = getattr(self, f"_{fact.word}")(cursor)
                    if made is not None:
                        made = replace(made, span=fact.span)
                        case = replace(case, observations=(*case.observations, made))
                case "changed":
                    name = self._name(cursor, "changed")
                    if name is not None and self._known(name, self._things()):
                        date, note, sure = self._rest(cursor)
                        case = replace(case, replaced=(*case.replaced, Replaced(
                            name.text, date, sure, note)))
                case "refused":
                    name = self._name(cursor, "refused")
                    if name is not None and self._known(name, [
                            *self._things(), *self.vehicle.runs, *self.vehicle.places,
                            *self.vehicle.conditions, *WAY_WORDS]):
                        _, note, _ = self._rest(cursor)
                        case = replace(case, refusals=(*case.refusals, Refusal(name.text, note)))
                case "open":
                    name = self._name(cursor, "open")
                    if name is not None:
                        if name.text in self.vehicle.places:
                            case = replace(case, opened=(*case.opened, name.text))
                        else:
                            self.messages.error(
                                "unknown-place", f"there is no place '{name.text}'", name.span,
                                did_you_mean(name.text, self.vehicle.places,
                                             "'harnessdsl locate' lists the places"))
                case "likelihood":
                    case = self._likelihood(case, cursor)
                case "found":
                    case = replace(case, found=(*case.found, cursor.text("found")))
                    while (item := cursor.take_if("text")) is not None:
                        case = replace(case, found=(*case.found, item.text))
                case "note":
                    case = replace(case, notes=(*case.notes, cursor.text("note")))
                case _:
                    self.messages.error(
                        "unknown-word", f"'{fact.word}' is nothing that a case file says",
                        fact.head.span, did_you_mean(fact.word, HEADS,
                                                     "it says: " + ", ".join(HEADS)))
                    continue
            if cursor and len(self.messages.found) == wrong:
                cursor.unknown(cursor.take(), ["in", "at", "against", "with", "unplugged", "pulled",
                                               "sure", "unsure"], f"'{fact.word}'")
        return case

    # --- facts

    def _head(self, case: Case, cursor: Cursor) -> Case:
        title = cursor.text("case")
        date = by = ""
        while (item := cursor.peek()) is not None:
            if item.type == "date":
                date = read_date(cursor.take(), self.messages)
            elif cursor.take_word("by"):
                by = cursor.text("by")
            else:
                break
        return replace(case, title=title, date=date, by=by)

    def _complaint(self, cursor: Cursor) -> Complaint:
        text = cursor.text("complaint")
        when = date = ""
        sure = USUAL
        while (item := cursor.peek()) is not None:
            if item.type == "date":
                date = read_date(cursor.take(), self.messages)
            elif cursor.take_word("when"):
                word = cursor.peek()
                if word is not None and word.text in ("hot", "moving"):
                    when = cursor.take().text
                else:
                    cursor.error("'when' is followed by hot or moving")
                    break
            elif cursor.take_word("sure"):
                sure = SURE
            elif cursor.take_word("unsure"):
                sure = UNSURE
            else:
                break
        return Complaint(text, when, date, sure)

    def _saw(self, cursor: Cursor) -> Observation | None:
        part = self._part(cursor, "saw")
        if part is None:
            return None
        item = cursor.peek()
        words: list[str] = []
        if is_load(part):
            words += LOAD_WORDS
        if is_protection(part):
            words += FUSE_WORDS
        if is_relay(part):
            words += RELAY_WORDS
        if not words:
            self.messages.error("nothing-to-see", f"'{part.name}' neither lights, turns, clicks "
                                "nor blows", cursor.items[1].span,
                                "say what the load behind it does")
            return None
        if item is None or item.text not in words:
            self.messages.error("unknown-word", f"what does '{part.name}' do?", cursor.here,
                                did_you_mean(item.text if item else "", words,
                                             "write one of: " + ", ".join(words)))
            return None
        word = cursor.take().text
        kind = ("load" if word in LOAD_WORDS and is_load(part) else
                "fuse" if word in FUSE_WORDS else "relay")
        made = Observation(kind, part.name, word)
        return self._details(cursor, made, needs_condition=kind != "fuse")

    def _read(self, cursor: Cursor) -> Observation | None:
        item = cursor.peek()
        kind, says, value = "", "", 0.0
        if item is not None and item.type == "quantity":
            found = quantity_of(cursor.take())
            kind = {"voltage": "volts", "resistance": "ohms", "current": "amps"}.get(
                found.dimension, "")
            value = found.value
        elif item is not None and item.text in LAMP_WORDS:
            kind, says = "lamp", cursor.take().text
        elif item is not None and item.text in ("open", "continuity", "no-continuity"):
            word = cursor.take().text
            kind, value = "ohms", 1.0 if word == "continuity" else math.inf
            says = word
        if not kind:
            cursor.error("what did the instrument show?",
                         "write for example: read 12.4 V at K2.30 in parked; read bright at K2.30 "
                         "...; read 80 ohm at K2.85 against K2.86 battery-off")
            return None
        against = ""
        if kind == "amps":
            if not cursor.take_word("through"):
                cursor.error("through which fuse or wire?", "write: read 5.2 A through F5 in ...")
                return None
            name = self._name(cursor, "through")
            if name is None or not self._known(name, self._carriers(), "currents are read through "
                                               "a fuse or a wire"):
                return None
            return self._details(cursor, Observation("amps", name.text, value=value))
        if not cursor.take_word("at"):
            cursor.error("where was the red lead?", "write: at PART.TERMINAL, such as: at K2.30")
            return None
        node = self._point(cursor)
        if node is None:
            return None
        if cursor.take_word("against"):
            other = self._point(cursor)
            if other is None:
                return None
            against = other
        made = Observation(kind, node, says, value, against,
                           BATTERY_OFF if kind == "ohms" else "")
        return self._details(cursor, made)

    def _swapped(self, cursor: Cursor) -> Observation | None:
        one, other = self._part(cursor, "swapped"), self._part(cursor, "swapped")
        if one is None or other is None:
            return None
        return self._outcome(cursor, Observation("swap", one.name, against=other.name))

    def _wiggled(self, cursor: Cursor) -> Observation | None:
        name = self._name(cursor, "wiggled")
        if name is None or not self._known(name):
            return None
        return self._outcome(cursor, Observation("wiggle", name.text))

    def _outcome(self, cursor: Cursor, made: Observation) -> Observation | None:
        item = cursor.peek()
        if item is None or item.text not in CHANGE_WORDS:
            cursor.error("did it help?", "write one of: " + ", ".join(CHANGE_WORDS))
            return None
        return self._details(cursor, replace(made, says=cursor.take().text))

    def _likelihood(self, case: Case, cursor: Cursor) -> Case:
        vehicle = self.vehicle
        made = read_likelihood(cursor, known_names(vehicle.parts, vehicle.wires, vehicle.places,
                                                   [*vehicle.kinds, *vehicle.runs]), self.messages)
        return case if made is None else replace(
            case, likelihoods=(*case.likelihoods, replace(made, span=NOWHERE)))

    # --- pieces

    def _details(self, cursor: Cursor, made: Observation, needs_condition: bool = True
                 ) -> Observation | None:
        vehicle = self.vehicle
        while (item := cursor.peek()) is not None:
            if cursor.take_word("in"):
                name = cursor.name("in")
                if name is None:
                    return None
                if name.text not in vehicle.conditions:
                    self.messages.error(
                        "unknown-condition", f"there is no condition '{name.text}'", name.span,
                        did_you_mean(name.text, vehicle.conditions,
                                     "the vehicle's file has: " + ", ".join(vehicle.conditions)))
                    return None
                made = replace(made, condition=name.text)
            elif cursor.take_word(BATTERY_OFF):
                made = replace(made, condition=BATTERY_OFF)
            elif made.kind == "ohms" and cursor.take_word(OUT_OF_CIRCUIT):
                one, other = (self._owner(node) for node in (made.subject, made.against))
                if not one or one != other:
                    cursor.error("out of circuit one measures between two terminals of one part",
                                 "write for example: read 80 ohm at K3.85 against K3.86 "
                                 "out-of-circuit")
                    return None
                made = replace(made, alone=True)
            elif cursor.take_word("with"):
                word = cursor.name("with")
                if word is None or word.text not in ("meter", "lamp"):
                    cursor.error("with what?", "write: with meter, or: with lamp")
                    return None
            elif cursor.take_word("unplugged"):
                part = self._part(cursor, "unplugged")
                if part is None:
                    return None
                made = replace(made, unplugged=(*made.unplugged, part.name))
            elif cursor.take_word("pulled"):
                part = self._part(cursor, "pulled")
                if part is None:
                    return None
                made = replace(made, pulled=(*made.pulled, part.name))
            elif item.type == "date":
                made = replace(made, date=read_date(cursor.take(), self.messages))
            elif cursor.take_word("sure"):
                made = replace(made, sure=SURE)
            elif cursor.take_word("unsure"):
                made = replace(made, sure=UNSURE)
            elif item.type == "text" and not made.note:
                made = replace(made, note=cursor.take().text)
            else:
                break
        if needs_condition and not made.condition:
            cursor.error("in which condition?", "write: in NAME; the vehicle's file has: "
                         + (", ".join(vehicle.conditions) or "none yet"))
            return None
        return made

    def _rest(self, cursor: Cursor) -> tuple[str, str, float]:
        date = note = ""
        sure = USUAL
        while (item := cursor.peek()) is not None:
            if item.type == "date":
                date = read_date(cursor.take(), self.messages)
            elif cursor.take_word("sure"):
                sure = SURE
            elif cursor.take_word("unsure"):
                sure = UNSURE
            elif item.type == "text" and not note:
                note = cursor.take().text
            else:
                break
        return date, note, sure

    def _part(self, cursor: Cursor, what: str) -> Part | None:
        item = cursor.name(what)
        if item is None:
            return None
        part = self.vehicle.parts.get(item.text)
        if part is None:
            self.messages.error("unknown-part", f"there is no part '{item.text}'", item.span,
                                did_you_mean(item.text, self.vehicle.parts))
        return part

    def _name(self, cursor: Cursor, what: str) -> Item | None:
        """Take a name; that of a wire may have points and signs in it."""
        item = cursor.take_if("word", "number", "text")
        if item is None:
            cursor.error(f"'{what}' needs a name behind it")
        return item

    def _things(self) -> list[str]:
        return [*self.vehicle.parts, *self.vehicle.wires]

    def _carriers(self) -> list[str]:
        fuses = [p.name for p in self.vehicle.parts.values() if is_protection(p)]
        return [*fuses, *self.vehicle.wires]

    def _owner(self, node: str) -> str:
        name = node.partition(".")[0]
        return name if name in self.vehicle.parts else ""

    def _known(self, item: Item, known: Collection[str] = (), hint: str = "") -> bool:
        vehicle = self.vehicle
        known = known or [*vehicle.parts, *vehicle.wires, *vehicle.runs, *vehicle.places]
        if item.text in known:
            return True
        there = item.text in vehicle.parts
        self.messages.error("unknown-part", f"'{item.text}' is neither fuse nor wire" if there and
                            hint else f"nothing is called '{item.text}'", item.span,
                            (None if there else did_you_mean(item.text, known)) or hint or None)
        return False

    def _point(self, cursor: Cursor) -> str | None:
        item = cursor.take_if("word", "number", "text")
        if item is None:
            cursor.error("a point is PART.TERMINAL, such as K2.30")
            return None
        node, wrong = point_node(self.vehicle, item.text)
        if wrong:
            self.messages.error("unknown-point", wrong, item.span, "a point is PART.TERMINAL; a "
                                "plug's is X5.a.1; metal is body or engine")
            return None
        return node


def read_case_text(text: str, vehicle: Vehicle, name: str = "case"
                   ) -> tuple[Case, list[Diagnostic], dict[str, SourceFile]]:
    """Return the case in a text, every message, and the source for showing them."""
    source = SourceFile(name, text)
    facts, wrong = parse_text(source)
    reader = CaseReader(vehicle)
    case = reader.read(facts)
    return case, [*wrong, *reader.messages.found], {name: source}


def read_case(path: Path, vehicle: Vehicle
              ) -> tuple[Case, list[Diagnostic], dict[str, SourceFile]]:
    """Return the case in a file; a file that can't be read is a message."""
    source = read_source(path, str(path), NOWHERE)
    if isinstance(source, Diagnostic):
        return Case(), [source], {}
    return read_case_text(source.text, vehicle, str(path))


def vehicle_of(path: Path) -> str:
    """Return the vehicle's path that a case file names, '' when it names none."""
    source = read_source(path, str(path), NOWHERE)
    if isinstance(source, Diagnostic):
        return ""
    for fact in parse_text(source)[0]:
        if fact.word == "vehicle" and len(fact.items) > 1:
            return fact.items[1].text
    return ""
