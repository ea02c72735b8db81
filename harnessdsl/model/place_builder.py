"""Facts -> places, boxes and their slots."""

from __future__ import annotations

from dataclasses import replace

from harnessdsl.diagnostics import did_you_mean
from harnessdsl.language.facts import Fact
from harnessdsl.model.reading import (
    TOP_LEVEL_WORDS,
    Cursor,
    Reader,
    expand_range,
    names_of,
    read_evidence,
)
from harnessdsl.model.vehicle import Photo, Place, ReachStep, Slot

EXPOSURES = ("wet", "hot", "moving")
_HEAD_WORDS = ("at", "zone", "in", "note", *EXPOSURES)
_BLOCK_WORDS = ("slots", "slot", "reach", "photo", "grid", "caution", "note", "in", "zone", "at")


def _position(cursor: Cursor) -> tuple[float, float, float] | None:
    start = cursor.here
    numbers: list[float] = []
    while cursor:
        cursor.skip_commas()
        item = cursor.take_if("number", "quantity")
        if item is None:
            break
        if item.type == "number":
            numbers.append(float(item.text))
            continue
        number, unit = item.text.rstrip("mc"), item.text.strip("+-0123456789. \t")
        if unit not in ("mm", "cm", "m"):
            cursor.error("a position is written in millimetres", "write: at 320, -540, 610 mm",
                         item.span, "wrong-unit")
            return None
        numbers.append(float(number))
        scale = {"mm": 1.0, "cm": 10.0, "m": 1000.0}[unit]
        if len(numbers) == 3:
            return numbers[0] * scale, numbers[1] * scale, numbers[2] * scale
        break
    cursor.error("a position is three numbers and its unit: back, right, up",
                 "write: at 320, -540, 610 mm", start)
    return None


def _photo(cursor: Cursor) -> Photo:
    span = cursor.here
    path = cursor.text("photo")
    mark = None
    if cursor.take_word("mark"):
        x = cursor.number("mark")
        cursor.skip_commas()
        y = cursor.number("mark")
        if x is not None and y is not None:
            if 0 <= x <= 1 and 0 <= y <= 1:
                mark = (x, y)
            else:
                cursor.error("the mark is given as shares of width and height, 0 to 1",
                             "write for example: mark 0.41, 0.22", span)
    return Photo(path, mark, span)


class PlaceBuilder:
    """Reads `place` facts into places."""

    def __init__(self, reader: Reader) -> None:
        self.reader = reader
        self.messages = reader.messages
        self.places: dict[str, Place] = {}

    def build(self, facts: list[Fact]) -> dict[str, Place]:
        for fact in facts:
            self._place(fact)
        for place in self.places.values():
            self._check_inside(place)
        return self.places

    def _place(self, fact: Fact) -> None:
        cursor = Cursor(fact, self.messages)
        name = cursor.name("a place")
        if name is None:
            return
        place = Place(name.text, cursor.label(), evidence=self.reader.evidence_at(fact.head.span),
                      span=name.span)
        place = self._attributes(cursor, place)
        for inner in fact.block or ():
            place = self._line(inner, place)
        if name.text in self.places:
            self.messages.duplicate("places", name.text, name.span, self.places[name.text].span)
            return
        self.places[name.text] = place

    def _attributes(self, cursor: Cursor, place: Place) -> Place:
        while cursor:
            evidence = read_evidence(cursor)
            if evidence is not None:
                place = replace(place, evidence=evidence)
                continue
            item = cursor.take()
            if item.type == "comma":
                continue
            if item.type != "word":
                cursor.unknown(item, _HEAD_WORDS, "a place")
            elif item.text == "at":
                place = replace(place, position_mm=_position(cursor))
            elif item.text == "zone":
                zone = cursor.name("zone")
                place = replace(place, zone=zone.text if zone else "")
            elif item.text == "in":
                inside = cursor.name("in")
                place = replace(place, inside=inside.text if inside else "")
            elif item.text == "note":
                place = replace(place, note=cursor.text("note"))
            elif item.text in EXPOSURES:
                place = replace(place, exposure=(*place.exposure, item.text))
            else:
                cursor.unknown(item, _HEAD_WORDS, "a place")
        return place

    def _line(self, fact: Fact, place: Place) -> Place:
        cursor = Cursor(fact, self.messages)
        word = fact.word
        if word == "slots" or word == "slot":
            return self._slots(cursor, place)
        if word == "reach":
            step = ReachStep(cursor.text("reach"))
            if cursor and (item := cursor.peek()) is not None and item.type == "quantity":
                seconds = cursor.quantity("reach", "time", "5 min")
                step = replace(step, minutes=(seconds or 0.0) / 60)
            place = replace(place, reach=(*place.reach, step))
        elif word == "photo":
            place = replace(place, photo=_photo(cursor))
        elif word == "caution":
            item = cursor.take_if("text", "word")
            if item is None:
                cursor.error("'caution' needs a text or a word such as airbag or fuel")
            else:
                place = replace(place, cautions=(*place.cautions, item.text))
        elif word == "grid":
            columns = cursor.number("grid")
            cursor.take_word("columns")
            if columns is not None and columns >= 1:
                place = replace(place, grid_columns=int(columns))
        elif word in ("note", "in", "zone", "at"):
            return self._attributes(Cursor(fact, self.messages, start=0), place)
        else:
            hint = did_you_mean(word, _BLOCK_WORDS, "known here: " + ", ".join(_BLOCK_WORDS))
            if word in TOP_LEVEL_WORDS:
                hint = f"is the brace of place '{place.name}' closed before this line?"
            self.messages.error("unknown-word", f"'{word}' means nothing in a place",
                                fact.head.span, hint)
            return place
        if cursor:
            cursor.unknown(cursor.take(), (), f"'{word}'")
        return place

    def _slots(self, cursor: Cursor, place: Place) -> Place:
        slots = dict(place.slots)
        while cursor:
            cursor.skip_commas()
            item = cursor.peek()
            if item is None:
                break
            if item.type == "range":
                cursor.take()
                members = expand_range(item)
                if members == [item]:
                    cursor.error(f"'{item.text}' is no range of slots",
                                 "write 1..18 or A..F, low to high", item.span)
                    return place
            else:
                name = cursor.name("a slot")
                if name is None:
                    return place
                members = names_of([name])
            slot_type = cursor.take_if("word")
            limit = None
            if cursor.take_word("max"):
                limit = cursor.quantity("max", "current", "max 30 A")
            label = cursor.label()
            if cursor.take_word("max"):
                limit = cursor.quantity("max", "current", "max 30 A")
            for member in members:
                before = slots.get(member.text)
                if before is not None and slot_type is None:
                    slots[member.text] = replace(before, label=label or before.label,
                                                 max_current_a=limit or before.max_current_a)
                else:
                    slots[member.text] = Slot(
                        member.text, slot_type.text if slot_type else "", label,
                        limit if limit is not None or before is None else before.max_current_a,
                        member.span)
        return replace(place, slots=slots)

    def _check_inside(self, place: Place) -> None:
        seen = [place.name]
        inside = place.inside
        while inside:
            if inside not in self.places:
                if len(seen) == 1:
                    self.messages.error(
                        "unknown-place", f"there is no place '{inside}'", place.span,
                        did_you_mean(inside, self.places), subject=place.name)
                return
            if inside in seen:
                self.messages.error(
                    "place-cycle", "places lie in one another in a circle: "
                    + " -> ".join([*seen, inside]), place.span,
                    "one of them must lie in the vehicle itself", subject=place.name)
                # cut the circle, so that nobody walks around it for ever
                self.places[place.name] = replace(place, inside="")
                return
            seen.append(inside)
            inside = self.places[inside].inside
