"""Facts -> conditions: how switches stand and what it is like around them."""

from __future__ import annotations

from dataclasses import replace

from harnessdsl.diagnostics import did_you_mean
from harnessdsl.language.facts import Fact, Item
from harnessdsl.model.kind import Kind
from harnessdsl.model.reading import Cursor, Reader
from harnessdsl.model.vehicle import Condition, Part

_NO_PART = "add a line for it, or correct the name"


def build_conditions(reader: Reader, facts: list[Fact], parts: dict[str, Part]
                     ) -> dict[str, Condition]:
    """Return the conditions that the facts declare."""
    conditions: dict[str, Condition] = {}
    for fact in facts:
        cursor = Cursor(fact, reader.messages)
        name = cursor.name("a condition")
        if name is None:
            continue
        condition = Condition(name.text, cursor.label(), span=name.span)
        settings = Settings(reader, parts)
        if not cursor.take_word("rest"):
            settings.read(cursor)
        for line in fact.block or ():
            settings.read(Cursor(line, reader.messages, start=0))
        if name.text in conditions:
            reader.messages.duplicate("conditions", name.text, name.span,
                                    conditions[name.text].span)
            continue
        conditions[name.text] = settings.onto(condition)
    return conditions


class Settings:
    """Reads `S1 = run`, `engine 95 C`, `engine running`, `moving`, `S9 95 C` in any order."""

    def __init__(self, reader: Reader, parts: dict[str, Part]) -> None:
        self.messages = reader.messages
        self.parts = parts
        self.positions: dict[tuple[str, str], str] = {}
        self.temperatures_c: dict[str, float] = {}
        self.states: dict[tuple[str, str], str] = {}
        self.engine_running = False
        self.moving = False

    def onto(self, condition: Condition) -> Condition:
        return replace(condition, positions=self.positions, temperatures_c=self.temperatures_c,
                       engine_running=self.engine_running, moving=self.moving,
                       states=self.states)

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
            elif item.text == "moving" and (following is None or following.type in (
                    "word", "number", "comma")):
                self.moving = True
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
        states = {"running": "motion", "stopped": "motion", "stalled": "motion",
                  "pressure": "pressure", "no-pressure": "pressure", "tripped": "trip",
                  "intact": "trip"}
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
