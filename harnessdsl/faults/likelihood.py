"""How well a prediction fits what was seen: the chance of the observation under each candidate.

Nothing is ever ruled out: a person misreads, a meter is off, a reading was taken at the wrong pin.
The widths are common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from harnessdsl.faults.case import Observation
from harnessdsl.faults.effects import DEAD, DIM, GLOWS, OFF, STAYS, WORKS
from harnessdsl.faults.entries import Array
from harnessdsl.faults.out_of_circuit import alone_ohms
from harnessdsl.faults.predictions import OPEN_OHM, Candidate, Predictor, lamp_word

METER_SHARE, METER_V = 0.05, 0.12
"""A battery is not always as full, an alternator not as fast as in the file: 5 % and a little."""
OHM_SHARE, OHM_FLOOR = 0.10, 0.3
AMPS_SHARE, AMPS_FLOOR = 0.10, 0.1
BY_CHANCE, WORD_BY_CHANCE = 0.1, 0.03
"""Chance that a wrong reading, or a wrong word, comes out just so."""

_ROWS = {
    #            dead   dim    works  off    glows  stays on
    "dead":     (0.97,  0.20,  0.0003, 0.30,  0.05,  0.0003),
    "dim":      (0.03,  0.95,  0.03,  0.01,  0.50,  0.20),
    "works":    (0.0003, 0.15,  0.97,  0.10,  0.10,  0.50),
    "off":      (0.90,  0.05,  0.0003, 0.97,  0.10,  0.0003),
    "glows":    (0.03,   0.30,  0.03,  0.01,  0.95,  0.20),
    "stays-on": (0.0003, 0.20,  0.30,  0.0003, 0.20,  0.97),
}
_ROWS["slow"] = _ROWS["dim"]
assert (DEAD, DIM, WORKS, OFF, GLOWS, STAYS) == (0, 1, 2, 3, 4, 5)

_LAMP = {"bright": {"bright": 0.97, "glowing": 0.1, "dark": 0.02},
         "glowing": {"bright": 0.1, "glowing": 0.9, "dark": 0.1},
         "dark": {"bright": 0.02, "glowing": 0.15, "dark": 0.97}}
_RELAY = {"clicks": {"clicks": 0.97, "silent": 0.03, "buzzes": 0.3},
          "silent": {"clicks": 0.03, "silent": 0.97, "buzzes": 0.03},
          "buzzes": {"clicks": 0.1, "silent": 0.02, "buzzes": 0.95}}


def fits(predictor: Predictor, seen: Observation, candidates: Sequence[Candidate]) -> Array:
    """Return the chance of an observation under each candidate, 1 for what it predicts exactly."""
    wrong = 1 - seen.sure
    by_chance = WORD_BY_CHANCE if seen.kind in ("load", "fuse", "relay") else BY_CHANCE
    return (1 - wrong) * _exact(predictor, seen, candidates) + wrong * by_chance


def _bell(off: Array) -> Array:
    return np.asarray(np.exp(-0.5 * off * off))


def _exact(predictor: Predictor, seen: Observation, candidates: Sequence[Candidate]) -> Array:
    state = predictor.state_of(seen)
    match seen.kind:
        case "load":
            if seen.says == "intermittent":
                return np.full(len(candidates), 1.0)
            row = np.asarray(_ROWS[seen.says])
            return np.asarray(row[predictor.load_states(state, candidates, seen.subject)])
        case "fuse":
            blown = seen.says == "blown"
            if seen.condition:  # a sound one was put in and the condition entered
                again = predictor.blows_again(seen.condition, candidates, seen.subject)
                return np.asarray([0.98 if one == blown else 0.02 for one in again])
            return np.asarray([0.98 if predictor.fuse_blown(c, seen.subject) == blown else 0.02
                               for c in candidates])
        case "relay":
            return np.asarray([_RELAY[seen.says][s] for s in
                               predictor.relay_states(state, candidates, seen.subject)])
        case "volts":
            shown = predictor.meter_v(state, candidates, seen.subject, seen.against)
            width = math.hypot(METER_SHARE * seen.value, METER_V)
            return _bell((shown - seen.value) / width)
        case "lamp":
            shares = predictor.lamp_share(state, candidates, seen.subject, seen.against)
            return np.asarray([_LAMP[seen.says][lamp_word(s)] for s in shares.tolist()])
        case "ohms":
            return ohm_fit(ohms(predictor, seen, candidates), seen)
        case "amps":
            shown = predictor.amps(state, candidates, seen.subject)
            width = math.hypot(AMPS_SHARE * seen.value, AMPS_FLOOR)
            return _bell((shown - seen.value) / width)
        case "swap":
            helped = seen.says == "helped"
            return np.asarray([0.95 if predictor.swap_helps(c, seen.subject) == helped else 0.05
                               for c in candidates])
        case _:
            return np.ones(len(candidates))


def ohms(predictor: Predictor, seen: Observation, candidates: Sequence[Candidate]) -> Array:
    """Return what an ohmmeter shows, the battery off."""
    if seen.alone:
        return alone_ohms(predictor.bench, candidates, seen.subject.partition(".")[0],
                          seen.subject, seen.against)
    state = predictor.state_of(seen)
    if seen.against:
        return predictor.between_ohms(state, candidates, seen.subject, seen.against)
    found = predictor.nodes(state, candidates)[1][:, predictor.node_index[seen.subject]]
    return found.astype(float)


def ohm_fit(shown: Array, seen: Observation) -> Array:
    """Return how well resistances fit a reading, an open circuit or continuity."""
    if seen.says == "continuity":
        return np.where(shown < 10.0, 0.97, np.where(shown < 100.0, 0.3, 0.02))
    if math.isinf(seen.value):
        return np.where(shown > OPEN_OHM, 0.97, np.where(shown > 1e5, 0.5, 0.02))
    width = math.hypot(OHM_SHARE * seen.value, OHM_FLOOR)
    return np.where(shown > OPEN_OHM, 0.0, _bell((shown - seen.value) / width))
