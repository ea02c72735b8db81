"""The story of a search at its end: what was excluded by what, what it was, why it came."""

from __future__ import annotations

import numpy as np

from harnessdsl.faults.case import Case
from harnessdsl.faults.case_text import observation_text
from harnessdsl.faults.ranking import Verdict, Weights, words_of
from harnessdsl.faults.step_text import observation_words

AFTER = {
    "wire-short": "A fuse blew because metal was touched: find the edge that chafed it, bush the "
                  "hole, clip the run away from it.",
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
    predictor = weights.predictor
    vehicle = predictor.bench.vehicle
    lines = [*case_lines(case), "", "What each step told:"]
    logs = np.log(weights.prior)
    final = weights.normal()
    # causes that mattered: those ever among the likely ones
    for number, seen in enumerate(weights.seen, 1):
        before = np.exp(logs - logs.max())
        before /= before.sum()
        chance = np.maximum(weights.table[number - 1], 1e-9)
        logs = logs + np.log(chance)
        after = np.exp(logs - logs.max())
        after /= after.sum()
        fallen = np.flatnonzero((before > 0.01) & (after < 0.1 * before))
        fallen = fallen[np.argsort(-before[fallen], kind="stable")]
        lines.append(f"{number}. {observation_words(vehicle, seen)}")
        names = [words_of(predictor, weights.candidates[i]) for i in fallen[:4].tolist()]
        if names:
            more = f" and {len(fallen) - 4} more" if len(fallen) > 4 else ""
            lines.append(f"     speaks against: {'; '.join(names)}{more}")
    lines.append("")
    known = {f.id: f for f in predictor.bench.faults}
    proven = [known[name] for name in case.found if name in known]
    if case.found:
        words = [known[name].words if name in known else name for name in case.found]
        lines.append(f"It was: {' and '.join(words)}.")
        modes = [fault.mode for fault in proven]
    elif verdict.causes:
        group = [verdict.causes[i] for i in verdict.classes[0]]
        lines.append(f"Most likely ({verdict.weights[0]:.0%}): {group[0].words}.")
        lines += [f"  or, the same until opened: {c.words}" for c in group[1:6]]
        modes = list(dict.fromkeys(predictor.bench.faults[i].mode
                                   for c in group for i in c.candidate))
        del final
    else:
        return lines
    after_words = [AFTER[m] for m in modes if m in AFTER]
    if after_words:
        lines += ["So that it does not come back:", *(f"  {text}" for text in after_words[:4])]
    candidate = next((c.candidate for c in verdict.causes), ())
    blown = predictor.blown(candidate)
    if blown:
        parts = dict.fromkeys(predictor.circuit.elements[
            predictor.circuit.element_index[n]].part for n in blown)
        lines.append(f"  It blew {', '.join(parts)}: the fuse is the consequence, not the cause. "
                     "Same rating, never a larger one.")
    wrong = [seen for seen, row in zip(weights.seen, weights.table, strict=True)
             if candidate and float(row[weights.candidates.index(candidate)]) < 0.2]
    lines += [f"  Not explained by it: {observation_words(vehicle, seen)}" for seen in wrong]
    return lines


