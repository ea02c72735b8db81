"""A condition that no file declares, from words such as a command line gives: `S1=run`."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace

from harnessdsl.diagnostics import Diagnostic
from harnessdsl.language.parser import parse_text
from harnessdsl.model.condition_builder import Settings
from harnessdsl.model.reading import Cursor, Reader
from harnessdsl.model.vehicle import Condition, Vehicle
from harnessdsl.text import SourceFile

NAME = "given"
_TEMPERATURE = re.compile(r"[+-]?\d+(\.\d+)?\s*(C|F|K)")


def given_condition(vehicle: Vehicle, settings: Iterable[str], *, base: Condition | None = None,
                    engine_running: bool | None = None, label: str = ""
                    ) -> tuple[Condition, list[Diagnostic]]:
    """Return `base` (else everything at rest) with `settings` on top, and what is wrong with them.

    Settings are written as in a condition's block, with or without blanks: `S1=run`, `S5.turn =
    left`, `engine=95C`, `S9 95 C`, `M3 = stalled`, `engine running`.
    """
    settings = list(settings)
    source = SourceFile("--set", "\n".join(_spaced(text) for text in settings) + "\n")
    facts, messages = parse_text(source)
    reader = Reader()
    found = Settings(reader, dict(vehicle.parts))
    for fact in facts:
        cursor = Cursor(fact, reader.messages, start=0)
        found.read(cursor)
    start = base or Condition(NAME)
    condition = replace(
        start, name=NAME if settings or base is None else start.name,
        label=label or ", ".join([*([start.name] if base else []), *settings]),
        positions={**start.positions, **found.positions},
        temperatures_c={**start.temperatures_c, **found.temperatures_c},
        states={**start.states, **found.states},
        engine_running=start.engine_running or found.engine_running,
        moving=start.moving or found.moving)
    if engine_running is not None:
        condition = replace(condition, engine_running=engine_running)
    return condition, [*messages, *reader.messages.found]


def _spaced(text: str) -> str:
    """Return `engine 95 C` for `engine=95C`: temperatures take no equals sign in the language."""
    name, sign, value = text.partition("=")
    if sign and _TEMPERATURE.fullmatch(value.strip()):
        number = re.match(r"[+-]?[\d.]+", value.strip())
        assert number is not None
        unit = value.strip()[number.end():].strip()
        return f"{name.strip()} {number[0]} {unit}"
    return f"{name.strip()} = {value.strip()}" if sign else text.strip()
