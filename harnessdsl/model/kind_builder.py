"""Facts -> kinds. The same lines may stand in a part's own block, so that a part can extend its
kind for itself."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

from harnessdsl.diagnostics import did_you_mean
from harnessdsl.language.facts import Fact, Item
from harnessdsl.model.kind import Actuator, Clause, Kind, Primitive, Side, Terminal
from harnessdsl.model.likelihood_builder import read_likelihood
from harnessdsl.model.reading import (
    TOP_LEVEL_WORDS,
    Cursor,
    Messages,
    names_of,
    quantity_of,
)
from harnessdsl.quantity import Quantity

FAMILIES = (
    "battery", "alternator", "fuse", "link", "breaker", "relay", "switch", "thermo-switch", "lamp",
    "led", "heater", "motor", "solenoid", "resistor", "diode", "thermistor", "sender", "gauge",
    "speaker", "antenna", "load", "module", "connector", "splice", "earth", "unknown", "ignition",
    "horn", "capacitor", "socket",
)

TWO_TERMINAL = (
    "contact", "coil", "resistor", "filament", "heater", "motor", "solenoid", "load", "led",
    "diode", "capacitor", "speaker", "inductor", "winding", "fuse", "breaker", "link", "source",
    "alternator", "thermistor", "joint",
)
FLAGS = ("suppresses", "linear", "electronic", "flashing", "lighting", "backlit")
FIGURE_WORDS = (
    "max", "stalls", "pulls-in", "drops-out", "closes", "opens", "at", "drop", "limit", "cold",
    "quiescent", "inrush", "regulates", "internal", "holds", "ripple", "idle", "tolerance",
    "pull-up", "pull-down", "trips", "resets", "zener", "constant", "slow", "starts",
)
"""Words that may stand before a figure."""
PIN_ROLES = ("supply", "earth", "low-side", "high-side", "input", "signal")
_LINE_WORDS = (
    "letter", "family", "fits", "upper", "lower", "side", "inner", "case", "also", "label",
    "any-terminals", "positions", "actuator", "pin", "safety", "spec", "source-note", "figures",
    "likelihood", "note", "named", *TWO_TERMINAL,
)
_STATE_WORDS = {
    "energised": ("coil", "energised"),
    "released": ("coil", "released"),
    "hot": ("heat", "hot"),
    "cold": ("heat", "cold"),
    "pressure": ("pressure", "pressure"),
    "no-pressure": ("pressure", "no-pressure"),
    "running": ("motion", "running"),
    "stopped": ("motion", "stopped"),
    "intact": ("trip", "intact"),
    "tripped": ("trip", "tripped"),
}

SIGNAL_RESISTANCE_OHM = 1e6
"""What a signal pin shows the circuit (common practice, no source)."""
PULL_RESISTANCE_OHM = 2200.0
MODULE_CURRENT_A = 0.1
LOW_SIDE_OHM = 0.2


@dataclass(slots=True)
class _Draft:
    """A kind while its lines are read."""

    kind: Kind
    terminals: dict[str, Terminal]
    primitives: list[Primitive]
    actuators: dict[str, Actuator]
    figures: dict[tuple[str, str], Quantity]
    pins: list[tuple[Item, str, dict[tuple[str, str], Quantity]]] = field(default_factory=list)
    inherited: int = 0
    """How many of the primitives come from the kind that this one is like."""
    open_ends: list[tuple[Item, str]] = field(default_factory=list)
    """Terminals that primitives name, to be checked once all lines are read."""

    @classmethod
    def of(cls, kind: Kind) -> _Draft:
        return cls(kind, dict(kind.terminals), list(kind.primitives), dict(kind.actuators),
                   dict(kind.figures), inherited=len(kind.primitives))

    def finish(self) -> Kind:
        return replace(self.kind, terminals=self.terminals, primitives=tuple(self.primitives),
                       actuators=self.actuators, figures=self.figures)


def _at_figure(cursor: Cursor) -> bool:
    """Whether a figure's word and its figure come next; `slow` alone may be a position."""
    item, following = cursor.peek(), cursor.peek(1)
    return (item is not None and item.type == "word" and item.text in FIGURE_WORDS
            and following is not None and following.type == "quantity")


def _figure(cursor: Cursor, into: dict[tuple[str, str], Quantity], of_what: str) -> bool:
    """Read one figure, maybe with its word before it; False when there is none here."""
    item = cursor.peek()
    if item is None:
        return False
    if item.type == "quantity":
        cursor.take()
        found = quantity_of(item)
        into[("", found.dimension)] = found
        return True
    following = cursor.peek(1)
    if item.type == "word" and following is not None and following.type == "quantity":
        if item.text not in FIGURE_WORDS:
            return False
        cursor.take()
        found = quantity_of(cursor.take())
        into[(item.text, found.dimension)] = found
        return True
    return False


class KindReader:
    """Reads the lines of a kind's (or a part's) block."""

    def __init__(self, messages: Messages) -> None:
        self.messages = messages

    def extend(self, base: Kind, facts: tuple[Fact, ...],
               other: Callable[[Fact, Kind], bool] | None = None) -> Kind:
        """Return `base` with the lines of `facts` added.

        `other` is asked about a line that is none of a kind's: it returns True when it took it.
        """
        draft = _Draft.of(base)
        for fact in facts:
            self._line(draft, fact, other)
        self._finish_pins(draft)
        self._check(draft)
        return draft.finish()

    def _line(self, draft: _Draft, fact: Fact,
              other: Callable[[Fact, Kind], bool] | None) -> None:
        word = fact.word
        cursor = Cursor(fact, self.messages)
        following = cursor.peek(1)
        primitive_line = word in TWO_TERMINAL and following is not None and (
            following.type == "arrow")
        if word in ("upper", "lower", "side"):
            for item in cursor.rest_names():
                self._terminal(draft, item, Side(word))
        elif word == "inner":
            for item in cursor.rest_names():
                draft.terminals[item.text] = Terminal(item.text, Side.SIDE, role="inner")
        elif primitive_line:
            self._primitive(draft, fact, cursor)
        elif word == "pin":
            self._pin(draft, cursor)
        elif word == "case":
            for item in cursor.rest_names():
                before = draft.terminals.get(item.text)
                draft.terminals[item.text] = replace(
                    before or Terminal(item.text, Side.LOWER), case=True)
        elif word in ("letter", "family", "safety"):
            self._word(draft, word, cursor)
        elif word == "fits":
            draft.kind = replace(draft.kind, fits=(*draft.kind.fits,
                                                   *(i.text for i in cursor.rest_names())))
        elif word == "also":
            self._alias(draft, cursor)
        elif word == "label":
            self._label(draft, cursor)
        elif word == "any-terminals":
            draft.kind = replace(draft.kind, any_terminals=True)
        elif word == "positions":
            self._actuator(draft, cursor, "main")
        elif word == "actuator":
            name = cursor.name("an actuator")
            if name is not None:
                self._actuator(draft, cursor, name.text)
        elif word == "likelihood":
            made = read_likelihood(cursor, (), self.messages)
            if made is not None:
                draft.kind = replace(draft.kind, likelihoods=(*draft.kind.likelihoods, made))
        elif word in ("spec", "source-note") and following is None and cursor:
            text = cursor.text(word)
            draft.kind = (replace(draft.kind, spec=text) if word == "spec"
                          else replace(draft.kind, source_note=text))
        elif word == "figures":
            while cursor:
                if not _figure(cursor, draft.figures, "figures"):
                    cursor.unknown(cursor.take(), FIGURE_WORDS, "'figures'")
        elif (other is not None and other(fact, draft.finish())
              ) or self._override(draft, fact, cursor):
            return
        else:
            if word in TWO_TERMINAL:
                self.messages.error("syntax", f"'{word}' lies between two terminals", fact.span,
                                    f"write: {word} A -> B, with its figures behind")
                return
            if word in TOP_LEVEL_WORDS:
                hint: str | None = "is the brace of the block before this line closed?"
            else:
                names = [p.name for p in draft.primitives if p.name]
                hint = did_you_mean(word, [*_LINE_WORDS, *names],
                                    "a kind's lines begin with: " + ", ".join(_LINE_WORDS[:17]))
            self.messages.error("unknown-word", f"'{word}' means nothing in this block",
                                fact.head.span, hint)
            return
        if fact.block is not None:
            self.messages.error("syntax", f"'{word}' takes no block", fact.head.span)
        if cursor:
            cursor.unknown(cursor.take(), _LINE_WORDS, f"'{word}'")

    def _word(self, draft: _Draft, word: str, cursor: Cursor) -> None:
        item = cursor.name(word)
        if item is None:
            return
        if word == "letter":
            draft.kind = replace(draft.kind, letter=item.text)
        elif word == "safety":
            draft.kind = replace(draft.kind, safety=item.text)
        elif item.text in FAMILIES:
            draft.kind = replace(draft.kind, family=item.text)
        else:
            self.messages.error("unknown-family", f"there is no family '{item.text}'", item.span,
                                did_you_mean(item.text, FAMILIES,
                                             "families: " + ", ".join(FAMILIES)))

    def _terminal(self, draft: _Draft, item: Item, side: Side) -> None:
        if item.type not in ("word", "number", "text", "quantity"):
            self.messages.error("syntax", f"'{item.text}' is no terminal name", item.span)
            return
        before = draft.terminals.get(item.text)
        draft.terminals[item.text] = (
            replace(before, side=side) if before else Terminal(item.text, side))

    def _alias(self, draft: _Draft, cursor: Cursor) -> None:
        names = cursor.rest_names()
        if len(names) < 2 or names[0].text not in draft.terminals:
            cursor.error("'also' names a terminal and its other names", "write: also 85 2",
                         names[0].span if names else None)
            return
        terminal = draft.terminals[names[0].text]
        draft.terminals[terminal.name] = replace(
            terminal, aliases=(*terminal.aliases, *(item.text for item in names[1:])))

    def _label(self, draft: _Draft, cursor: Cursor) -> None:
        name = cursor.name("label")
        if name is None:
            return
        if name.text not in draft.terminals:
            self.messages.error("unknown-terminal", f"no terminal '{name.text}' here", name.span,
                                did_you_mean(name.text, draft.terminals))
            cursor.at = len(cursor.items)
            return
        draft.terminals[name.text] = replace(draft.terminals[name.text], label=cursor.label())

    def _actuator(self, draft: _Draft, cursor: Cursor, name: str) -> None:
        positions: list[str] = []
        rest = ""
        momentary: list[str] = []
        into = positions
        span = cursor.here
        for item in cursor.rest_names():
            if item.text == "rest" and item.type == "word":
                into = []
                rest = "?"
            elif item.text == "momentary" and item.type == "word":
                into = momentary
            elif rest == "?" and into is not momentary:
                rest = item.text
            else:
                into.append(item.text)
        if not positions:
            cursor.error("a switch needs its positions", "write: positions off on rest off",
                         span)
            return
        if not rest or rest == "?":
            rest = positions[0]
        for word in (rest, *momentary):
            if word not in positions:
                self.messages.error("unknown-position", f"'{word}' is none of its positions", span,
                                    did_you_mean(word, positions,
                                                 "positions: " + " ".join(positions)))
        # go on with what is sound, so that no contact seems wrong too
        rest = rest if rest in positions else positions[0]
        momentary = [word for word in momentary if word in positions]
        draft.actuators[name] = Actuator(name, tuple(positions), rest, tuple(momentary))

    def _primitive(self, draft: _Draft, fact: Fact, cursor: Cursor) -> None:
        names: list[Item] = []
        cursor_item = cursor.name("the first terminal")
        if cursor_item is None or cursor.take_if("arrow") is None:
            return
        names.append(cursor_item)
        second = cursor.name("the second terminal")
        if second is None:
            return
        names.append(second)
        draft.open_ends += [(name, fact.word) for name in names]
        figures: dict[tuple[str, str], Quantity] = {}
        flags: list[str] = []
        clauses: tuple[Clause, ...] = ()
        name = ""
        table: list[tuple[float, float]] = []
        while cursor:
            if cursor.take_if("comma"):
                continue
            if fact.word == "thermistor" and self._table_row(cursor, table):
                continue
            if _figure(cursor, figures, fact.word):
                continue
            item = cursor.take()
            if item.type == "word" and item.text == "named":
                named = cursor.name("named")
                name = named.text if named else ""
            elif item.type == "word" and item.text == "closed-when" and fact.word == "contact":
                clauses = self._clauses(cursor)
            elif item.type == "word" and item.text in FLAGS:
                flags.append(item.text)
            else:
                cursor.unknown(item, [*FIGURE_WORDS, *FLAGS, "named", "closed-when"],
                               f"a {fact.word}")
        primitive = Primitive(fact.word, names[0].text, names[1].text, name, figures,
                              tuple(flags), clauses, tuple(sorted(table)), fact.span)
        # a kind that says again what its parent said means it instead of, not beside, the first
        key = (primitive.type, primitive.a, primitive.b, primitive.name)
        for index, before in enumerate(draft.primitives[: draft.inherited]):
            if (before.type, before.a, before.b, before.name) == key:
                draft.primitives[index] = replace(primitive,
                                                  clauses=clauses or before.clauses)
                return
        draft.primitives.append(primitive)

    @staticmethod
    def _table_row(cursor: Cursor, table: list[tuple[float, float]]) -> bool:
        first, second = cursor.peek(), cursor.peek(1)
        if first is None or second is None or first.type != "quantity" != second.type:
            return False
        if first.type != "quantity" or second.type != "quantity":
            return False
        temperature, resistance = quantity_of(first), quantity_of(second)
        if (temperature.dimension, resistance.dimension) != ("temperature", "resistance"):
            return False
        cursor.at += 2
        table.append((temperature.value, resistance.value))
        return True

    def _clauses(self, cursor: Cursor) -> tuple[Clause, ...]:
        clauses: list[Clause] = []
        while cursor:
            item = cursor.peek()
            if item is None or item.type not in ("word", "number", "quantity"):
                break
            if item.type == "quantity" and len(names_of([item])) > 1:
                break  # a figure: positions with a unit-like name go in quotes
            if item.text == "named" or item.text in FLAGS or _at_figure(cursor):
                break
            cursor.take()
            if item.text == "and":
                continue
            if item.type == "word" and item.text in _STATE_WORDS:
                actuator, state = _STATE_WORDS[item.text]
                of = ""
                following = cursor.peek()
                if (actuator == "coil" and following is not None and following.type == "word"
                        and following.text not in ("and", "named", *FIGURE_WORDS, *FLAGS)):
                    of = cursor.take().text
                clauses.append(Clause(actuator, (state,), of))
                continue
            actuator = "main"
            positions: list[str] = []
            if cursor.take_if("equals"):
                actuator = item.text
            else:
                positions.append(item.text)
            while (following := cursor.peek()) is not None:
                if following.type == "comma":
                    cursor.take()
                    continue
                # right after the equals sign there must be a position, even one called `slow`
                if (following.type not in ("word", "number", "text")
                        or (positions and _at_figure(cursor))
                        or following.text in ("and", "named", *FLAGS)):
                    break
                positions.append(cursor.take().text)
            clauses.append(Clause(actuator, tuple(positions)))
        if not clauses:
            cursor.error("'closed-when' needs to say when",
                         "write for example: closed-when energised, or: closed-when run start")
        return tuple(clauses)

    def _pin(self, draft: _Draft, cursor: Cursor) -> None:
        name = cursor.name("a pin")
        role_item = cursor.take_if("word") if name else None
        if name is None:
            return
        role = role_item.text if role_item else ""
        if role not in PIN_ROLES:
            span = role_item.span if role_item else cursor.here
            cursor.error(f"pin {name.text} needs its role" if not role
                         else f"'{role}' is no role of a pin",
                         did_you_mean(role, PIN_ROLES, "roles: " + ", ".join(PIN_ROLES)), span,
                         "unknown-role")
            cursor.at = len(cursor.items)
            return
        label = ""
        figures: dict[tuple[str, str], Quantity] = {}
        side = {"supply": Side.UPPER, "low-side": Side.UPPER, "high-side": Side.LOWER,
                "earth": Side.LOWER, "input": Side.UPPER, "signal": Side.LOWER}[role]
        while cursor:
            if (text := cursor.take_if("text")) is not None:
                label = text.text
            elif _figure(cursor, figures, "a pin") or cursor.take_if("comma"):
                pass
            else:
                item = cursor.take()
                if item.text in ("upper", "lower", "side"):
                    side = Side(item.text)
                elif item.text in ("pull-up", "pull-down"):
                    figures[(item.text, "resistance")] = Quantity(
                        PULL_RESISTANCE_OHM, "resistance", "2200 ohm")
                else:
                    cursor.unknown(item, [*FIGURE_WORDS, "upper", "lower", "side"], "a pin")
        if ("pull-up", "resistance") in figures and role == "input":
            side = Side.LOWER
        draft.terminals[name.text] = Terminal(name.text, side, label, role)
        draft.pins.append((name, role, figures))

    def _finish_pins(self, draft: _Draft) -> None:
        """Turn module pins into primitives, once it is known which pins are supply and earth."""
        if not draft.pins:
            return
        earth = next((t.name for t in draft.terminals.values() if t.role == "earth"), None)
        supply = next((t.name for t in draft.terminals.values() if t.role == "supply"), None)
        for item, role, figures in draft.pins:
            pin = item.text
            other = supply if role == "high-side" or ("pull-up", "resistance") in figures else earth
            if role == "earth":
                continue
            if other is None:
                wanted = "supply" if other is supply and role == "high-side" else "earth"
                self.messages.error(
                    "module-without-supply",
                    f"pin {pin} is a {role} pin, but this module has no {wanted} pin", item.span,
                    f"add a line such as: pin 1 {wanted}")
                continue
            if role == "supply":
                figures.setdefault(("", "current"), Quantity(MODULE_CURRENT_A, "current", "0.1 A"))
                draft.primitives.append(Primitive("load", pin, other, f"supply-{pin}", figures,
                                                  ("electronic",), (), (), item.span))
            elif role in ("low-side", "high-side"):
                ends = (pin, other) if role == "low-side" else (other, pin)
                figures.setdefault(("", "resistance"),
                                   Quantity(LOW_SIDE_OHM, "resistance", "0.2 ohm"))
                draft.actuators[pin] = Actuator(pin, ("off", "on"), "off")
                draft.primitives.append(Primitive("contact", *ends, f"output-{pin}", figures,
                                                  ("electronic",), (Clause(pin, ("on",)),), (),
                                                  item.span))
            else:
                pull = figures.get(("pull-up", "resistance")) or figures.get(
                    ("pull-down", "resistance"))
                ohms = pull or figures.get(("", "resistance")) or Quantity(
                    SIGNAL_RESISTANCE_OHM, "resistance", "1 Mohm")
                ends = (other, pin) if ("pull-up", "resistance") in figures else (pin, other)
                draft.primitives.append(Primitive("resistor", *ends, f"{role}-{pin}",
                                                  {("", "resistance"): ohms}, ("electronic",), (),
                                                  (), item.span))
        draft.pins.clear()

    def _override(self, draft: _Draft, fact: Fact, cursor: Cursor) -> bool:
        """Read `high 65 W`: new figures for the primitive of that name."""
        found = [i for i, p in enumerate(draft.primitives) if p.name and p.name == fact.word]
        if not found or not cursor:
            return False
        figures: dict[tuple[str, str], Quantity] = {}
        while cursor:
            if not _figure(cursor, figures, fact.word):
                cursor.unknown(cursor.take(), FIGURE_WORDS, f"'{fact.word}'")
        for index in found:
            draft.primitives[index] = replace(
                draft.primitives[index],
                figures=merge_figures(draft.primitives[index].figures, figures))
        return True

    def _check(self, draft: _Draft) -> None:
        """Check that contacts and primitives name terminals and positions that exist."""
        for item, what in draft.open_ends:
            if item.text in draft.terminals or draft.kind.any_terminals:
                continue
            alias = draft.finish().terminal(item.text)
            if alias is None:
                self.messages.error(
                    "unknown-terminal", f"the {what} ends on terminal '{item.text}', which is in "
                    "none of 'upper', 'lower' or 'side'", item.span,
                    did_you_mean(item.text, draft.terminals, f"add it: upper {item.text}"))
        for primitive in draft.primitives:
            for clause in primitive.clauses:
                self._check_clause(draft, primitive, clause)

    def _check_clause(self, draft: _Draft, primitive: Primitive, clause: Clause) -> None:
        if clause.actuator == "coil":
            coils = [p.name for p in draft.primitives if p.type == "coil"]
            if not coils or (clause.of and clause.of not in coils):
                self.messages.error(
                    "unknown-coil", f"the contact waits for the coil '{clause.of}', and there is "
                    "none of that name" if clause.of else
                    "the contact waits for a coil, and the kind has none", primitive.span,
                    "add a line such as: coil 86 -> 85 80 ohm")
            return
        if clause.actuator in ("heat", "pressure", "motion", "trip"):
            return
        actuator = draft.actuators.get(clause.actuator)
        if actuator is None:
            self.messages.error(
                "unknown-actuator",
                f"the contact closes by '{clause.actuator} = {' '.join(clause.positions)}', but "
                f"there is no actuator '{clause.actuator}'" if clause.actuator != "main" else
                f"the contact closes in '{' '.join(clause.positions)}', but this kind has no "
                "positions", primitive.span,
                did_you_mean(clause.actuator, draft.actuators,
                             "add a line such as: positions off on"))
            return
        for position in clause.positions:
            if position not in actuator.positions:
                self.messages.error(
                    "unknown-position", f"'{position}' is none of the positions of this switch",
                    primitive.span, did_you_mean(position, actuator.positions,
                                                 "positions: " + " ".join(actuator.positions)))


_ALTERNATIVES = ({"current", "power", "resistance"},)
_WORKING = {"filament", "heater", "motor", "solenoid", "load", "led", "speaker", "winding",
            "resistor", "coil"}


def merge_figures(before: Mapping[tuple[str, str], Quantity],
                  new: Mapping[tuple[str, str], Quantity],
                  working: bool = True) -> dict[tuple[str, str], Quantity]:
    """Return `before` with `new` in it. For a load, its power, current and resistance are three
    ways to say one thing, so a new one takes the place of the others."""
    merged = dict(before)
    if working:
        for keyword, dimension in new:
            if dimension in _ALTERNATIVES[0]:
                for other in _ALTERNATIVES[0]:
                    merged.pop((keyword, other), None)
    merged.update(new)
    return merged


def apply_part_figures(kind: Kind, figures: Mapping[tuple[str, str], Quantity]
                       ) -> tuple[Kind, list[tuple[str, str]]]:
    """Return the kind with a part's own figures in its primitives, and the keys of figures that
    fit nowhere. A bare figure goes to every unnamed primitive that has one of that dimension, or
    to all named ones when there is no unnamed."""
    primitives = list(kind.primitives)
    own = dict(kind.figures)
    homeless: list[tuple[str, str]] = []
    for key, quantity in figures.items():
        targets = [i for i, p in enumerate(primitives) if _takes(p, key)]
        unnamed = [i for i in targets if not primitives[i].name]
        for index in unnamed or targets:
            primitive = primitives[index]
            working = primitive.type in _WORKING
            primitives[index] = replace(
                primitive, figures=merge_figures(primitive.figures, {key: quantity}, working))
        if not targets:
            passive = kind.family in ("earth", "splice", "connector")
            if key in own or (passive and quantity.dimension == "resistance") or (
                    passive and key == ("max", "current")) or quantity.dimension in (
                    "capacity", "temperature", "ways", "voltage", "pressure", "time", "share",
                    "speed"):
                own[key] = quantity
            else:
                homeless.append(key)
    return replace(kind, primitives=tuple(primitives), figures=own), homeless


def _takes(primitive: Primitive, key: tuple[str, str]) -> bool:
    if key in primitive.figures:
        return True
    keyword, dimension = key
    if primitive.type in ("fuse", "breaker", "link"):
        return keyword == "" and dimension == "current"
    if dimension in _ALTERNATIVES[0] and primitive.type in _WORKING:
        return keyword == "" or any(
            (keyword, other) in primitive.figures for other in _ALTERNATIVES[0])
    if primitive.type == "contact" and keyword in ("closes", "opens"):
        return any(clause.actuator in ("heat", "pressure") for clause in primitive.clauses)
    return primitive.type == "contact" and key == ("max", "current")


MAX_LIKE_DEPTH = 40


class KindLibrary:
    """Kinds by name, built when first asked for; `like` builds on another one."""

    def __init__(self, messages: Messages, fetch: Callable[[str], Fact | None],
                 names: Callable[[], list[str]]) -> None:
        self.messages = messages
        self._fetch = fetch
        self._names = names
        self._built: dict[str, Kind | None] = {}
        self._building: list[str] = []

    @property
    def built(self) -> dict[str, Kind]:
        return {name: kind for name, kind in sorted(self._built.items()) if kind is not None}

    def names(self) -> list[str]:
        return self._names()

    def get(self, name: str) -> Kind | None:
        """Return the kind, or None when there is none of that name."""
        if name not in self._built:
            fact = self._fetch(name)
            self._built[name] = None if fact is None else self._build(name, fact)
        return self._built[name]

    def _build(self, name: str, fact: Fact) -> Kind | None:
        cursor = Cursor(fact, self.messages, start=2)
        label = cursor.label()
        base = Kind(name, label, span=fact.items[1].span)
        if cursor.take_word("like"):
            parent_item = cursor.name("like")
            if parent_item is None:
                return None
            if parent_item.text in [*self._building, name]:
                self.messages.error(
                    "kind-cycle", f"kind '{name}' is like '{parent_item.text}', which is like it: "
                    "a circle", parent_item.span, "one of them must say all of its lines itself")
                return None
            if len(self._building) >= MAX_LIKE_DEPTH:
                self.messages.error(
                    "kind-too-deep", f"kinds are like one another more than {MAX_LIKE_DEPTH} deep",
                    parent_item.span, "let this kind say all of its lines itself")
                return None
            self._building.append(name)
            parent = self.get(parent_item.text)
            self._building.pop()
            if parent is None:
                if parent_item.text not in self.names():  # else what is wrong has been said
                    self.messages.error("unknown-kind", f"there is no kind '{parent_item.text}'",
                                        parent_item.span,
                                        did_you_mean(parent_item.text, self.names(),
                                                     "'harnessdsl kinds' lists them"))
                return None
            base = replace(parent, name=name, span=base.span)
        label = label or cursor.label()
        base = replace(base, label=label or base.label)
        if cursor:
            cursor.unknown(cursor.take(), ("like",), "a kind")
        return KindReader(self.messages).extend(base, fact.block or ())
