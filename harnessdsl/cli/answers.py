"""Answers at the car: what is asked for each way of looking, and how the answer is read."""

from __future__ import annotations

import math
import re
from dataclasses import replace

from harnessdsl.diagnostics import did_you_mean
from harnessdsl.faults.case import (
    CHANGE_WORDS,
    FUSE_WORDS,
    LAMP_WORDS,
    LOAD_WORDS,
    RELAY_WORDS,
    Observation,
)

WORDS: dict[str, tuple[str, ...]] = {
    "load": LOAD_WORDS, "fuse": FUSE_WORDS, "relay": RELAY_WORDS, "lamp": LAMP_WORDS,
    "swap": CHANGE_WORDS, "wiggle": CHANGE_WORDS}
_ALSO = {
    "load": {"on": "works", "ok": "works", "fine": "works", "nothing": "dead", "weak": "dim"},
    "fuse": {"ok": "whole", "good": "whole", "sound": "whole", "burnt": "blown", "bad": "blown"},
    "relay": {"click": "clicks", "yes": "clicks", "nothing": "silent", "chatters": "buzzes"},
    "lamp": {"on": "bright", "off": "dark", "dim": "glowing", "nothing": "dark"},
    "swap": {"yes": "helped", "same": "no-change"},
    "wiggle": {"yes": "helped", "same": "no-change"},
}
_UNITS = {"volts": {"v": 1.0, "mv": 1e-3, "": 1.0, "volt": 1.0, "volts": 1.0},
          "ohms": {"ohm": 1.0, "ohms": 1.0, "kohm": 1e3, "k": 1e3, "megohm": 1e6, "": 1.0},
          "amps": {"a": 1.0, "ma": 1e-3, "": 1.0, "amp": 1.0, "amps": 1.0, "ampere": 1.0}}
_OPEN = ("open", "ol", "o.l", "0l", "inf", "infinite", "none", "no-continuity")
_MOST = {"volts": 2e4, "ohms": 1e9, "amps": 2e4}


def question(seen: Observation) -> str:
    """Return what is asked at a step."""
    words = WORDS.get(seen.kind)
    if words is not None:
        return f"[{' / '.join(words)}; or ?]"
    return {"volts": "volts? [a number; or ?]", "ohms": "ohms? [a number or 'open'; or ?]",
            "amps": "amperes? [a number; or ?]"}[seen.kind]


def read_answer(seen: Observation, text: str) -> tuple[Observation | None, str]:
    """Return (the observation with its answer, ''), or (None, why it can't be read)."""
    words = WORDS.get(seen.kind)
    word = text.casefold().strip().replace(" ", "-")
    if words is not None:
        word = _ALSO.get(seen.kind, {}).get(word, word)
        hits = [w for w in words if w == word] or [w for w in words if word and w.startswith(word)]
        if len(hits) == 1:
            return replace(seen, says=hits[0]), ""
        return None, did_you_mean(word, words) or "answer one of: " + ", ".join(words)
    if seen.kind == "ohms" and word in _OPEN:
        return replace(seen, value=math.inf), ""
    match = re.fullmatch(r"([-+]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)(?:[eE][-+]?[0-9]{1,2})?)"
                         r"\s*([a-zA-Z]*)", text.strip())
    factor = _UNITS[seen.kind].get(match[2].casefold()) if match else None
    if match is None or factor is None:
        return None, "a number, such as 12.4" + (", or 'open'" if seen.kind == "ohms" else "")
    value = float(match[1].replace(",", ".")) * factor
    if abs(value) > _MOST[seen.kind]:
        return None, "that is beyond any meter"
    if value < 0 and seen.kind == "ohms":
        return None, "ohms are never less than nothing: is the battery off?"
    return replace(seen, value=value), ""
