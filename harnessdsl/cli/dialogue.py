"""The dialogue at the car: shows the next step, takes the answer, saves, goes on."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path

import click

from harnessdsl.diagnostics import did_you_mean, printable
from harnessdsl.faults.case import (
    CHANGE_WORDS,
    FUSE_WORDS,
    LAMP_WORDS,
    LOAD_WORDS,
    RELAY_WORDS,
    Case,
    Complaint,
    Observation,
    Refusal,
)
from harnessdsl.faults.case_reader import is_load
from harnessdsl.faults.case_text import save_case
from harnessdsl.faults.next_measurement import Action, next_actions
from harnessdsl.faults.predictions import Predictor
from harnessdsl.faults.ranking import Verdict, Weights, enough, judge, weigh
from harnessdsl.faults.step_text import action_lines, cause_lines
from harnessdsl.faults.story import story_lines
from harnessdsl.model.vehicle import Likelihood

_WORDS = {"load": LOAD_WORDS, "fuse": FUSE_WORDS, "relay": RELAY_WORDS, "lamp": LAMP_WORDS,
          "swap": CHANGE_WORDS, "wiggle": CHANGE_WORDS}
_UNITS = {"volts": {"v": 1.0, "mv": 1e-3, "": 1.0},
          "ohms": {"ohm": 1.0, "kohm": 1e3, "mohm": 1e-3, "k": 1e3, "": 1.0},
          "amps": {"a": 1.0, "ma": 1e-3, "": 1.0}}
_HELP = ("answer with what you see; or: no (can't get there), other (another step), "
         "saw (something else I noticed), causes, back, found, quit")


class Dialogue:
    """One search on the terminal. `case` is saved after every change."""

    def __init__(self, predictor: Predictor, case: Case, path: Path, date: str = "",
                 ask: Callable[[str], str] | None = None,
                 say: Callable[[str], None] | None = None) -> None:
        self.predictor = predictor
        self.vehicle = predictor.bench.vehicle
        self.case = case
        self.path = path
        self.date = date
        self.ask = ask or (lambda text: str(click.prompt(text, prompt_suffix=" ")).strip())
        self.say = say or click.echo
        self.before: list[Case] = []
        self.passed: set[Observation] = set()

    def run(self) -> None:
        """Ask until the cause is found or the person stops."""
        try:
            if not self.case.title:
                self._begin()
            while not self.case.observations:
                self._saw()
            self._search()
        except (EOFError, click.Abort):
            self.say(f"\nStopped. Everything is in {self.path}; go on with the same command.")

    # --- the search

    def _search(self) -> None:
        while True:
            weights = weigh(self.predictor, self.case)
            verdict = judge(weights)
            self.say("")
            self._lines(cause_lines(weights, verdict, 3))
            if enough(weights, verdict):
                self.say("That is sure enough to open it.")
                if self._end(weights, verdict):
                    return
                continue
            actions = [a for a in next_actions(weights, self.case)
                       if a.observation not in self.passed]
            if not actions:
                self.say("Nothing that could be measured tells these apart: open the likeliest.")
                if self._end(weights, verdict):
                    return
                continue
            if self._step(weights, verdict, actions[0]):
                return

    def _step(self, weights: Weights, verdict: Verdict, action: Action) -> bool:
        """Show a step and take its answer; return whether the search is over."""
        seen = action.observation
        self.say("")
        self._lines(action_lines(weights, verdict, action))
        while True:
            text = self.ask(self._question(seen))
            word = text.casefold()
            if word in ("quit", "q"):
                self._lines(story_lines(weights, verdict, self.case))
                self.say(f"Saved in {self.path}.")
                return True
            if word in ("help", "?"):
                self.say(_HELP)
            elif word == "back":
                self._back()
                return False
            elif word == "other":
                self.passed.add(seen)
                return False
            elif word == "causes":
                self._lines(cause_lines(weights, verdict, 10))
            elif word == "saw":
                self._saw()
                return False
            elif word == "found":
                return self._found(weights, verdict)
            elif (word.startswith("no") and word in ("no", "can't", "cant", "no way")) or (
                    word.startswith("no ") and seen.kind not in _WORDS):
                reason = self.ask("Why not? (short)")
                self._save(replace(self.case, refusals=(
                    *self.case.refusals, Refusal(_place_of(self.predictor, seen), reason))))
                return False
            else:
                answer = self._answer(seen, text)
                if answer is not None:
                    self._save(replace(self.case, observations=(*self.case.observations, answer)))
                    return False

    def _question(self, seen: Observation) -> str:
        words = _WORDS.get(seen.kind)
        if words is not None:
            return f"[{' / '.join(words)}; or ?]"
        return {"volts": "volts? [a number; or ?]", "ohms": "ohms? [a number or 'open'; or ?]",
                "amps": "amperes? [a number; or ?]"}[seen.kind]

    def _answer(self, seen: Observation, text: str) -> Observation | None:
        """Return the observation with its answer, None (and say why) when it can't be read."""
        words = _WORDS.get(seen.kind)
        word = text.casefold().replace(" ", "-")
        if words is not None:
            hits = [w for w in words if w == word] or [w for w in words if word and
                                                        w.startswith(word)]
            if len(hits) == 1:
                return replace(seen, says=hits[0], date=self.date)
            self.say(did_you_mean(word, words, "answer one of: " + ", ".join(words)) or "")
            return None
        if seen.kind == "ohms" and word in ("open", "ol", "inf", "infinite", "none"):
            return replace(seen, value=math.inf, date=self.date)
        match = re.fullmatch(r"([-+]?\d+(?:[.,]\d+)?)\s*([a-zA-Z]*)", text.strip())
        factor = _UNITS[seen.kind].get(match[2].casefold()) if match else None
        if match is None or factor is None:
            self.say("a number, such as 12.4" + (", or 'open'" if seen.kind == "ohms" else ""))
            return None
        value = float(match[1].replace(",", ".")) * factor
        if abs(value) > 1e9:
            self.say("that is beyond any meter")
            return None
        return replace(seen, value=value, date=self.date)

    # --- beginning and end

    def _begin(self) -> None:
        title = self.ask("What is wrong, in your words?")
        when = self.ask("Always, or only when hot, or only when moving? [always/hot/moving]")
        word = when.casefold()
        self._save(replace(self.case, title=title, date=self.date, complaints=(
            *self.case.complaints,
            Complaint(title, word if word in ("hot", "moving") else "", self.date))))

    def _saw(self) -> None:
        """Take something that was seen."""
        name = self._one_of("Which part? (name, such as M2, or a word of its label)",
                            {p.name: p.label for p in self.vehicle.parts.values() if is_load(p)})
        word = self._one_of("What does it do? " + "/".join(LOAD_WORDS), dict.fromkeys(LOAD_WORDS, ""))
        condition = self._one_of(
            "In which condition? (name, or a word of it)",
            {c.name: c.label for c in self.vehicle.conditions.values()} or {"rest": ""})
        self._save(replace(self.case, observations=(*self.case.observations, Observation(
            "load", name, word, condition=condition, date=self.date))))

    def _one_of(self, question: str, known: dict[str, str]) -> str:
        while True:
            text = self.ask(question)
            if text in known:
                return text
            wanted = text.casefold()
            hits = [n for n, label in known.items() if wanted and (
                wanted == n.casefold() or wanted in label.casefold() or n.startswith(wanted))]
            if len(hits) == 1:
                return hits[0]
            if hits:
                self._lines(f"  {n} {known[n]}" for n in hits[:12])
            else:
                self.say(did_you_mean(text, known, "nothing is called so; known: "
                                      + ", ".join(list(known)[:30])) or "")

    def _end(self, weights: Weights, verdict: Verdict) -> bool:
        """Ask whether it was found; return whether the search is over."""
        text = self.ask("Was it that? [yes / no (it looked sound) / back / quit]").casefold()
        if text == "back":
            self._back()
            return False
        if text in ("yes", "y"):
            return self._found(weights, verdict)
        if text in ("no", "n"):
            group = [verdict.causes[i] for i in verdict.classes[0]]
            bench = self.predictor.bench
            ids = dict.fromkeys(bench.faults[i].id for c in group[:1] for i in c.candidate)
            self._save(replace(self.case, likelihoods=(
                *self.case.likelihoods, *(Likelihood((name,), 0.001) for name in ids))))
            return False
        self._lines(story_lines(weights, verdict, self.case))
        self.say(f"Saved in {self.path}.")
        return True

    def _found(self, weights: Weights, verdict: Verdict) -> bool:
        group = [verdict.causes[i] for i in (verdict.classes[0] if verdict.classes else ())]
        ids = [self.predictor.bench.faults[i].id for c in group for i in c.candidate]
        if ids:
            at = 0
            if len(group) > 1:
                self._lines(f"  {n}. {c.words}" for n, c in enumerate(group, 1))
                text = self.ask(f"Which of them? [1-{len(group)}]")
                at = min(max(int(text), 1), len(group)) - 1 if text.isdigit() else 0
            chosen = group[at].candidate
            self._save(replace(self.case, found=self.predictor.bench.faults[chosen[0]].id))
        self._lines(story_lines(weights, verdict, self.case))
        self.say(f"Saved in {self.path}.")
        return True

    # --- keeping

    def _save(self, case: Case) -> None:
        self.before.append(self.case)
        self.case = case
        save_case(case, self.path)

    def _back(self) -> None:
        if self.before:
            self.case = self.before.pop()
        elif self.case.observations:
            self.case = replace(self.case, observations=self.case.observations[:-1])
        self.passed.clear()
        save_case(self.case, self.path)
        self.say("Took the last answer back.")

    def _lines(self, lines: Iterable[str]) -> None:
        for line in lines:
            self.say(printable(line))


def _place_of(predictor: Predictor, seen: Observation) -> str:
    """Return what is refused with a step: the plug that would be opened, else the place, else the
    part."""
    from harnessdsl.faults.effort import part_of_node, places_of_node

    vehicle = predictor.bench.vehicle
    if seen.unplugged:
        return seen.unplugged[0]
    for place in places_of_node(vehicle, seen.subject):
        if place in vehicle.places:
            return place
    part = part_of_node(vehicle, seen.subject)
    return part.name if part is not None else seen.subject
