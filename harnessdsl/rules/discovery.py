"""Finds the modules of rules. Those that need the circuit computed load numeric libraries, so they
are told apart by their text and imported only when they are wanted."""

from __future__ import annotations

import importlib
import importlib.util
import pkgutil
import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache

_ELECTRIC = re.compile(r'^@rule\(\s*"([a-z-]+)",\s*Severity\.\w+,\s*(?:needs=)?ELECTRIC\)', re.M)


@dataclass(frozen=True, slots=True)
class Found:
    """A module of the rules' folder, and the codes of the rules in it that need computation."""

    module: str
    electric_codes: tuple[str, ...]


@cache
def found_modules() -> tuple[Found, ...]:
    """Return the modules beside this one, in the order of their names."""
    package = __name__.rpartition(".")[0]
    folder = importlib.import_module(package).__path__
    found = []
    for module in pkgutil.iter_modules(folder):
        if not module.ispkg:
            name = f"{package}.{module.name}"
            found.append(Found(name, tuple(_ELECTRIC.findall(_source(name)))))
    return tuple(found)


def _source(name: str) -> str:
    spec = importlib.util.find_spec(name)
    if spec is None or spec.origin is None or spec.loader is None:
        return ""
    data: bytes = spec.loader.get_data(spec.origin)  # type: ignore[attr-defined]
    return data.decode("utf-8")


def import_modules(modules: Iterable[Found]) -> None:
    """Import the modules, which register their rules."""
    for found in modules:
        importlib.import_module(found.module)
