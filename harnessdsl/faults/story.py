"""The story of a search at its end: what was excluded by what, what it was, why it came."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from harnessdsl.faults.case import Case
from harnessdsl.faults.case_text import observation_text
from harnessdsl.faults.predictions import Candidate, Predictor
from harnessdsl.faults.ranking import UNEXPLAINED, Verdict, Weights, start, words_of
from harnessdsl.faults.step_text import observation_words

AFTER = {
    "wire-short": "A fuse blew because metal was touched: find the edge that chafed it, bush the "
                  "hole, clip the run away from it.",
    "wires-chafed": "Two wires rubbed through in their run: mend both, look along the run for the "
                    "edge or clip that did it, and sleeve it.",
    "plug-pulled": "A plug came apart: see that its lock holds, and tie the loom so that nothing "
                   "pulls at it.",
    "contact-open": "A contact did not close: see whether its coil gets full voltage before the "
                    "new one is blamed too.",
    "coil-open": "A coil burnt through or corroded: look for water in its socket.",
    "coil-short": "A coil with shorted turns ran hot: see that the charging voltage is right.",
    "wrong-relay": "A wrong relay was in: write the right kind on the lid or into the file.",
    "switch-stuck": "A switch stuck: clean and grease it; see that it carries no more current than "
                    "it is made for.",
    "motor-worn": "Brushes wore out: see whether the motor turns easily and its earth is good.",
    "motor-weak": "A motor turned hard: bearings, brushes, and what it drives.",
    "capacitor-short": "A capacitor shorted: it takes its circuit down; fit one of the same kind.",
    "output-dead": "A module's output died: measure what hangs on it before another module is put "
                   "in; a shorted coil or lamp kills the next one too.",
    "module-dead": "A module is dead: check its supply and earth under load first, then what hangs "
                   "on its outputs.",
    "wires-touch": "Two pins touched: clean the plug, look why water gets in, seal it.",
    "fuse-blown": "A fuse does not blow by itself: measure the current of its circuit before the "
                  "new one is trusted, same rating, and look for chafes on its runs.",
    "link-open": "A link burns through only on a heavy short: look for it before a new one is in.",
    "fuse-contact": "A fuse's clips went soft from heat: clean and tension them, and look whether "
                    "the circuit draws more than it should.",
    "plug-corroded": "Water stood in the plug: clean or renew the contacts, find the leak, grease "
                     "and seal; look at its other cavities.",
    "plug-open": "A pin was pushed back: its lock is broken or it was never home; pull-test all "
                 "pins of this plug.",
    "earth-lifted": "An earth came loose: bare metal, new ring, serrated washer, then paint over; "
                    "everything on this point is better checked.",
    "earth-corroded": "An earth rusted: bare metal, new ring, serrated washer, then paint over.",
    "wire-open": "A wire broke where it moves or is pulled: give it a loop, a grommet, a clip.",
    "wire-corroded": "An end went green: cut back to bright copper, new terminal, keep water out.",
    "contact-welded": "A contact welded: look for what draws too much through it, or a coil "
                      "without its diode.",
    "contact-burnt": "A contact burnt: look for what draws too much, or a relay is missing.",
    "filament-open": "If it is the second one soon: measure the charging voltage and the earth.",
    "motor-seized": "A seized motor overloads its fuse and wiring: look at both.",
    "battery-low": "Ask why: measure the charging voltage and the current with the key out.",
    "alternator-dead": "Measure its output joint and the belt before it is changed.",
}


def case_lines(case: Case) -> list[str]:
    """Return what is known, as a list."""
    lines = [f"Case: {case.title}" + (f", {case.date}" if case.date else "")]
    lines += [f"  complaint: {c.text}" + (f" (when {c.when})" if c.when else "")
              for c in case.complaints]
    lines += [f"  {observation_text(seen)}" for seen in case.observations]
    lines += [f"  changed already: {r.part} {r.note}".rstrip() for r in case.replaced]
    lines += [f"  can't get at: {r.subject} {r.reason}".rstrip() for r in case.refusals]
    return lines


def story_lines(weights: Weights, verdict: Verdict, case: Case) -> list[str]:
    """Return the story: every step with the causes that it excluded, then the end."""
    lines = [*case_lines(case), "", "What each step told:", *_steps(weights.predictor, case), ""]
    faults = weights.predictor.bench.faults
    known = {fault.id: fault for fault in faults}
    if case.found:
        proven = [known[name] for name in case.found if name in known]
        words = [known[name].words if name in known else name for name in case.found]
        lines.append(f"It was: {' and '.join(words)}.")
        numbers = {fault.id: i for i, fault in enumerate(faults)}
        candidate = tuple(sorted(numbers[fault.id] for fault in proven))
    elif verdict.causes:
        group = [verdict.causes[i] for i in verdict.classes[0]]
        lines.append(f"Most likely ({verdict.weights[0]:.0%}): {group[0].words}.")
        lines += [f"  or, the same until opened: {c.words}" for c in group[1:6]]
        proven = list({i: faults[i] for c in group for i in c.candidate}.values())
        candidate = group[0].candidate
    else:
        return lines
    after = dict.fromkeys(AFTER[fault.mode] for fault in proven if fault.mode in AFTER)
    if after:
        lines += ["So that it does not come back:", *(f"  {text}" for text in list(after)[:4])]
    lines += _fuses(weights.predictor, candidate)
    if candidate:
        lines += _left_over(weights, candidate)
    return lines


def _steps(predictor: Predictor, case: Case) -> Iterator[str]:
    """Yield what each observation spoke against, and what was likeliest after it."""
    vehicle = predictor.bench.vehicle
    weights = start(predictor, case)
    for number, seen in enumerate(case.observations, 1):
        before = weights.normal()
        weights.add(seen)
        after = weights.normal()
        yield f"{number}. {observation_words(vehicle, seen)}"
        fallen = np.flatnonzero((before > 0.01) & (after < 0.1 * before))
        fallen = fallen[np.argsort(-before[fallen], kind="stable")]
        names = [words_of(predictor, weights.candidates[i]) for i in fallen[:4].tolist()]
        if names:
            more = f" and {len(fallen) - 4} more" if len(fallen) > 4 else ""
            yield f"     speaks against: {'; '.join(names)}{more}"
        order = np.argsort(-after, kind="stable")[:2]
        likely = [f"{words_of(predictor, weights.candidates[i])} ({after[i]:.0%})"
                  for i in order.tolist() if after[i] >= 0.02]
        if likely:
            yield f"     then likeliest: {'; '.join(likely)}"


def _fuses(predictor: Predictor, candidate: Candidate) -> Iterator[str]:
    """Yield why a fuse blew, or what may have blown the one that was found blown."""
    sweep, circuit = predictor.sweep, predictor.circuit
    faults = predictor.bench.faults
    blown = predictor.blown(candidate)
    if blown:
        parts = dict.fromkeys(circuit.elements[circuit.element_index[n]].part for n in blown)
        yield (f"Why the fuse blew: this blew {', '.join(parts)}. The fuse is the consequence, not "
               "the cause. Same rating, never a larger one.")
    for i in candidate:
        if faults[i].mode not in ("fuse-blown", "link-open"):
            continue
        ids = set(predictor.fuse_ids.get(faults[i].part, ()))
        others = [n for n, names in enumerate(sweep.blown) if ids & set(names)]
        others.sort(key=lambda n: (-faults[n].likelihood, n))
        if others:
            yield f"Why did {faults[i].part} blow? Before the new one is trusted, look at:"
            yield from (f"  {faults[n].words}" for n in others[:5])


def _left_over(weights: Weights, candidate: Candidate) -> Iterator[str]:
    """Yield the observations that the cause leaves unexplained."""
    if candidate not in weights.candidates:
        return
    at = weights.candidates.index(candidate)
    vehicle = weights.predictor.bench.vehicle
    away = weights.shares[at] > 0 and weights.going()[at] > weights.lasting[at]
    for seen, row, sound in zip(weights.seen, weights.table, weights.sound, strict=True):
        if float(row[at]) < UNEXPLAINED:
            if away and sound >= UNEXPLAINED:
                yield f"  It was away at: {observation_words(vehicle, seen)}"
            else:
                yield f"  Not explained by it: {observation_words(vehicle, seen)}"
