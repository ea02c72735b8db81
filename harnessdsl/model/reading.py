"""Reading one fact: a cursor over its items, and the attributes that many facts share."""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterable
from dataclasses import dataclass, field

from harnessdsl.diagnostics import Diagnostic, Related, Severity, did_you_mean
from harnessdsl.language.facts import Fact, Item
from harnessdsl.model.evidence import UNSTATED, Evidence, Trust
from harnessdsl.quantity import Quantity
from harnessdsl.text import NOWHERE, Span

_QUANTITY = re.compile(r"([-+]?\d+(?:\.\d+)?)[ \t]*(\S+)")
_NAME = re.compile(r"[^\W_](?:[\w-]*)\Z|[+-]\Z")
TRUST_WORDS = {trust.word: trust for trust in Trust}

TOP_LEVEL_WORDS = frozenset(
    {"vehicle", "use", "place", "wire", "cable", "run", "circuit", "condition", "kind", "accept",
     "conductor", "evidence", "caution", "verified", "refuted", "claim",
     "likelihood"}
)
"""Heads of facts that are not part kinds."""


@dataclass(slots=True)
class Messages:
    """Collects diagnostics; every builder writes into the same one."""

    found: list[Diagnostic] = field(default_factory=list)

    def error(self, code: str, message: str, span: Span, hint: str | None = None,
              related: tuple[Related, ...] = (), subject: str = "") -> None:
        self.found.append(
            Diagnostic(Severity.ERROR, code, message, span, hint, related, subject)
        )

    def duplicate(self, what: str, name: str, span: Span, first: Span) -> None:
        self.error("duplicate-name", f"there are two {what} called '{name}'", span,
                   "give one of them another name",
                   (Related("the first one is here", first),), name)


def quantity_of(item: Item) -> Quantity:
    """Return the quantity of an item of type quantity."""
    match = _QUANTITY.fullmatch(item.text)
    assert match is not None, item.text
    return Quantity.of(float(match[1]), match[2])


def names_of(items: Iterable[Item]) -> list[Item]:
    """Return items as names. A number with a unit is split again where names are expected:
    the terminals `1 A` are two names."""
    names: list[Item] = []
    for item in items:
        if item.type == "quantity" and re.search(r"[ \t]", item.text):
            number, unit = item.text.split()
            end = item.column + len(number)
            names.append(Item("word", number, item.path, item.line, item.column, end))
            names.append(Item("word", unit, item.path, item.line,
                              item.end_column - len(unit), item.end_column))
        elif item.type == "range":
            names += expand_range(item)
        elif item.type != "comma":
            names.append(item)
    return names


MAX_RANGE = 500


def expand_range(item: Item) -> list[Item]:
    """Return the members of `1..18` or `A..F` as items; the item itself when it is no range."""
    low, high = item.text.split("..")
    texts: list[str] = []
    low_match = re.fullmatch(r"([A-Za-z]*)(\d*)", low)
    high_match = re.fullmatch(r"([A-Za-z]*)(\d*)", high)
    assert low_match and high_match
    if low_match[2] and high_match[2] and low_match[1] == high_match[1]:
        first, last = int(low_match[2]), int(high_match[2])
        if first <= last < first + MAX_RANGE:
            texts = [f"{low_match[1]}{number}" for number in range(first, last + 1)]
    elif len(low) == len(high) == 1 and low <= high:
        texts = [chr(code) for code in range(ord(low), ord(high) + 1)]
    if not texts:
        return [item]
    return [Item("word", text, item.path, item.line, item.column, item.end_column)
            for text in texts]


class Cursor:
    """Walks over the items of a fact behind its head."""

    def __init__(self, fact: Fact, messages: Messages, start: int = 1) -> None:
        self.fact = fact
        self.messages = messages
        self.items = fact.items
        self.at = start

    def __bool__(self) -> bool:
        return self.at < len(self.items)

    @property
    def here(self) -> Span:
        """The next item's place, or the place just behind the fact's last item."""
        if self:
            return self.items[self.at].span
        last = self.items[-1]
        return Span(last.path, last.line, last.end_column, last.end_column + 1)

    def peek(self, ahead: int = 0) -> Item | None:
        index = self.at + ahead
        return self.items[index] if index < len(self.items) else None

    def take(self) -> Item:
        item = self.items[self.at]
        self.at += 1
        return item

    def take_if(self, *types: str) -> Item | None:
        item = self.peek()
        if item is not None and item.type in types:
            self.at += 1
            return item
        return None

    def take_word(self, word: str) -> bool:
        item = self.peek()
        if item is not None and item.type == "word" and item.text == word:
            self.at += 1
            return True
        return False

    def skip_commas(self) -> None:
        while self.take_if("comma"):
            pass

    def error(self, message: str, hint: str | None = None, span: Span | None = None,
              code: str = "syntax") -> None:
        self.messages.error(code, message, span or self.here, hint)

    def name(self, what: str) -> Item | None:
        """Return the next item as a name, or report that it is missing or no name."""
        item = self.peek()
        if item is None or item.type in ("arrow", "equals", "comma"):
            self.error(f"{what} needs a name here", None)
            return None
        self.at += 1
        if item.type == "quantity":
            split = names_of([item])
            if len(split) > 1:  # put the unit back as a word of its own
                self.items = (*self.items[: self.at], split[1], *self.items[self.at :])
                item = split[0]
        if item.type == "text":
            if not re.fullmatch(r"[\w+-][\w+\-/*]*", item.text):
                self.error(f"{what} needs a name here; '{item.text}' can't be one",
                           "use letters, digits, - and _; a label comes behind the name",
                           item.span)
                return None
            return item
        if not re.fullmatch(r"[\w+-][\w+\-/*]*", item.text):
            self.error(f"'{item.text}' can't be a name",
                       "use letters, digits, - and _; a terminal is written PART.TERMINAL",
                       item.span)
            return None
        return item

    def label(self) -> str:
        item = self.take_if("text")
        return item.text if item else ""

    def text(self, what: str) -> str:
        """Return the text in quotes that must come next."""
        item = self.take_if("text")
        if item is None:
            self.error(f"{what} needs a text in quotes here", f'write: {what} "..."')
            return ""
        return item.text

    def quantity(self, what: str, dimension: str, example: str) -> float | None:
        """Return the quantity that must come next, in base units."""
        item = self.peek()
        if item is None or item.type != "quantity":
            shown = f", not '{item.text}'" if item else ""
            self.error(f"{what} needs a {dimension} here{shown}", f"write for example: {example}")
            if item is not None and item.type in ("number", "word"):
                self.at += 1
                self._swallow_bad_unit(item)
            return None
        self.at += 1
        found = quantity_of(item)
        if found.dimension != dimension:
            self.error(f"{what} is a {dimension}, but '{item.text}' is a {found.dimension}",
                       f"write for example: {example}", item.span, "wrong-unit")
            return None
        return found.value

    def _swallow_bad_unit(self, item: Item) -> None:
        following = self.peek()
        if item.type == "number" and following is not None and following.type == "word":
            self.at += 1

    def number(self, what: str) -> float | None:
        item = self.take_if("number")
        if item is None:
            self.error(f"{what} needs a number here")
            return None
        return float(item.text)

    def rest_names(self) -> list[Item]:
        rest = names_of(self.items[self.at :])
        self.at = len(self.items)
        return rest

    def unknown(self, item: Item, known: Iterable[str], of_what: str) -> None:
        """Report an item that means nothing here, with the nearest word that would."""
        following = self.peek()
        if item.type == "number" and following is not None and following.type == "word":
            from harnessdsl.quantity import GAUGE_UNIT, UNITS

            self.at += 1
            self.messages.error(
                "unknown-unit",
                f"'{following.text}' is no unit",
                item.span.to(following.span),
                did_you_mean(following.text, [*UNITS, GAUGE_UNIT],
                             "units are for example A, V, W, ohm, m, mm2, AWG, C"),
            )
            return
        if (item.type == "number" and following is not None and following.type == "comma"
                and (fraction := self.peek(1)) is not None and fraction.type == "quantity"):
            self.at += 2
            self.messages.error("syntax", "decimals take a point, not a comma",
                                item.span.to(fraction.span), f"write {item.text}.{fraction.text}")
            return
        if item.type == "text":
            self.messages.error("syntax", f"a second text in quotes means nothing in {of_what}",
                                item.span, 'put it behind a word, such as: note "..."')
            return
        if item.type == "word" and re.fullmatch(r"\d+(\.\d+)?[^\d\s]+", item.text):
            self.messages.error("unknown-unit", f"'{item.text}' is no quantity that is known",
                                item.span, "write a number and a unit, for example 4 mm2 or 30 A")
            return
        self.messages.error("unknown-word", f"'{item.text}' means nothing in {of_what}",
                            item.span, did_you_mean(item.text, known,
                                                    "known here: " + ", ".join(sorted(known))))


def read_date(item: Item, messages: Messages) -> str:
    """Return the date's text when it is a day or a month that exists."""
    try:
        datetime.date.fromisoformat(item.text if len(item.text) > 7 else item.text + "-01")
    except ValueError:
        messages.error("bad-date", f"'{item.text}' is no date", item.span,
                       "write year-month-day, for example 2026-03-14")
        return ""
    return item.text


def read_evidence(cursor: Cursor) -> Evidence | None:
    """Return the evidence that starts at the cursor, or None when none does."""
    item = cursor.peek()
    if item is None or item.type != "word" or item.text not in TRUST_WORDS:
        return None
    cursor.take()
    note = date = by = ""
    while True:
        following = cursor.peek()
        if following is None:
            break
        if following.type == "text" and not note:
            note = cursor.take().text
        elif following.type == "date":
            date = read_date(cursor.take(), cursor.messages)
        elif following.type == "word" and following.text == "by":
            cursor.take()
            by = cursor.text("by")
        elif following.type == "word" and re.fullmatch(r"\d{1,4}[-./]\d{1,2}[-./]\d{1,4}",
                                                       following.text):
            cursor.take()
            cursor.messages.error("bad-date", f"'{following.text}' is no date", following.span,
                                  "write year-month-day, for example 2026-03-14")
        else:
            break
    if TRUST_WORDS[item.text] is Trust.COPIED and not note:
        cursor.error("'copied' needs its source in quotes",
                     'write for example: copied "book of 1987, sheet 9"', item.span)
    return Evidence(TRUST_WORDS[item.text], note, date, by, stated=True)


class Reader:
    """What all builders share: messages and the default evidence of each file."""

    def __init__(self) -> None:
        self.messages = Messages()
        self._default: dict[str, list[tuple[int, Evidence]]] = {}

    def set_default_evidence(self, fact: Fact) -> None:
        cursor = Cursor(fact, self.messages)
        evidence = read_evidence(cursor)
        if evidence is None:
            cursor.error("'evidence' needs to say how sure",
                         'write for example: evidence traced 2026-03 by "Ilse"')
            return
        if cursor:
            cursor.unknown(cursor.take(), [*TRUST_WORDS, "by"], "'evidence'")
        self._default.setdefault(fact.head.path, []).append((fact.head.line, evidence))

    def evidence_at(self, span: Span) -> Evidence:
        """Return the default evidence in force at a line of a file."""
        found = UNSTATED
        for line, evidence in self._default.get(span.path, ()):
            if line < span.line:
                found = evidence
        return found


def fact_span(fact: Fact) -> Span:
    """Return the fact's first line from head to last item."""
    return fact.span if fact.items else NOWHERE
