"""The dialogue at the car: shows the next step, takes the answer, saves, goes on."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from pathlib import Path

import click

from harnessdsl.cli.answers import WORDS, question, read_answer
from harnessdsl.diagnostics import did_you_mean, printable
from harnessdsl.faults.case import Case, Complaint, Observation, Refusal
from harnessdsl.faults.case_file import CaseFile
from harnessdsl.faults.case_reader import is_load, is_protection, is_relay, read_case_text
from harnessdsl.faults.case_text import (
    complaint_text,
    found_text,
    head_text,
    likelihood_text,
    observation_text,
    refusal_text,
)
from harnessdsl.faults.effort import part_of_node, places_of_node
from harnessdsl.faults.last_question import last_question
from harnessdsl.faults.next_measurement import Action, next_actions
from harnessdsl.faults.predictions import Predictor
from harnessdsl.faults.ranking import Verdict, Weights, enough, judge, weigh
from harnessdsl.faults.refusal_words import WAYS
from harnessdsl.faults.refusals import allowed, look_of, possible
from harnessdsl.faults.step_text import action_lines, cause_lines, condition_text
from harnessdsl.faults.story import story_lines
from harnessdsl.model.failures import Likelihood

HELP = """answer with what you see or read; or
  no      can't do it: another step instead, and that is not proposed again
  other   another step, just now
  saw     something else that I noticed
  causes  the causes so far
  story   what each step told so far
  back    take the last answer back (again: the one before)
  found   it is found
  quit    stop; everything is saved
or a line of a case file: changed S9; open dash-box; note "..."; read 12 V at K3.30 in parked"""
LINES = ("saw", "read", "swapped", "wiggled", "changed", "refused", "open", "likelihood", "note")
"""Facts that may be typed as they stand in a case file."""
MOST_LISTED = 9


class Back(Exception):
    """The person wants the last answer back."""


class Stop(Exception):
    """The person stops; everything is saved."""


class Dialogue:
    """One search on the terminal. Every answer is on the disk before it is acknowledged."""

    def __init__(self, predictor: Predictor, file: CaseFile, date: str = "",
                 ask: Callable[[str], str] | None = None,
                 say: Callable[[str], None] | None = None) -> None:
        self.predictor = predictor
        self.vehicle = predictor.bench.vehicle
        self.file = file
        self.date = date
        self._ask = ask or (lambda text: str(click.prompt(text, prompt_suffix=" ")))
        self.say = say or click.echo
        self.passed: set[tuple[str, str]] = set()
        self.case = self._read()

    def run(self) -> None:
        """Ask until the cause is found or the person stops."""
        try:
            while True:
                try:
                    if self._round():
                        return
                except Back:
                    self._take_back()
        except Stop:
            if self.case.observations:
                self._story()
            self.say(f"Saved in {self.file.path}; go on with the same command.")
        except (EOFError, KeyboardInterrupt, click.Abort):
            self.say(f"\nStopped. Everything is in {self.file.path}; go on with the same command.")

    def _round(self) -> bool:
        """Ask one thing; return whether the search is over."""
        if not self.case.title:
            self._begin()
            return False
        if self.case.found:
            self._story()
            text = self.ask("This case is closed. [quit, or back to open it again]")
            if text.casefold() in ("yes", "y", "end"):
                raise Stop
            return False
        if not self.case.observations:
            self._saw()
            return False
        weights = weigh(self.predictor, self.case)
        verdict = judge(weights)
        self.say("")
        self._lines(cause_lines(weights, verdict, 3))
        if enough(weights, verdict):
            last = last_question(weights, verdict, self.case)
            if last is not None and look_of(last.observation) not in self.passed and allowed(
                    self.case, last.observation):
                return self._step(weights, verdict, last)
            self.say("That is sure enough to open it.")
            return self._end(weights, verdict)
        actions = possible(self.case, weights, next_actions(weights, self.case))
        fresh = [a for a in actions if look_of(a.observation) not in self.passed]
        if not actions:
            self.say("Nothing that can be measured tells these apart: open the likeliest.")
            return self._end(weights, verdict)
        if not fresh:
            self.say("There is no other step; here they are again from the first.")
            self.passed.clear()
            fresh = list(actions)
        return self._step(weights, verdict, fresh[0])

    def ask(self, text: str) -> str:
        """Return an answer. Raises Back and Stop when that is the answer."""
        answer = printable(self._ask(text)).strip()
        word = answer.casefold()
        if word in ("back", "undo"):
            raise Back
        if word in ("quit", "q", "exit", "stop"):
            raise Stop
        return answer

    # --- the search

    def _step(self, weights: Weights, verdict: Verdict, action: Action) -> bool:
        """Show a step and take its answer; return whether the search is over."""
        seen = action.observation
        self.say("")
        self._lines(action_lines(weights, verdict, action))
        while True:
            text = self.ask(question(seen))
            try:
                over = self._took(weights, verdict, seen, text)
            except Back:  # back from a question within: to this one
                continue
            if over is not None:
                return over

    def _took(self, weights: Weights, verdict: Verdict, seen: Observation, text: str
              ) -> bool | None:
        """Do what an answer at a step says; return whether the search is over, None to ask again.
        Raises Back from a question within."""
        word = text.casefold()
        if word in ("help", "?"):
            self.say(HELP)
        elif word == "other":
            self.passed.add(look_of(seen))
            return False
        elif word == "causes":
            self._lines(cause_lines(weights, verdict, 10))
        elif word == "story":
            self._story()
        elif word == "saw":
            self._saw()
            return False
        elif word == "found":
            return self._found(weights, verdict)
        elif word in ("no", "can't", "cant", "no way", "n"):
            if seen.kind in ("swap", "wiggle") and word in ("no", "n") and self._chosen(
                    "Did it not help, or can't you do it? [not / can't]",
                    {"not": "", "can't": ""}) == "not":
                self._save([observation_text(replace(seen, says="no-change", date=self.date))])
            else:
                self._refuse(seen)
            return False
        elif word.partition(" ")[0] in LINES and " " in word:
            return self._line(text)
        else:
            answer, wrong = read_answer(seen, text)
            if answer is not None:
                self._save([observation_text(replace(answer, date=self.date))])
                return False
            self.say(wrong)
        return None

    def _line(self, text: str) -> bool | None:
        """Take a line of a case file; return False when it is saved, None when it is wrong."""
        _, wrong, _ = read_case_text(text + "\n", self.vehicle, "")
        if wrong:
            hint = f" ({wrong[0].hint})" if wrong[0].hint else ""
            self.say(printable(wrong[0].message + hint))
            return None
        self._save([text])
        return False

    def _refuse(self, seen: Observation) -> None:
        """Write down what is in the way of a step."""
        choices = {"place": "can't get there"}
        if seen.condition:
            choices["condition"] = "can't bring that about: " + condition_text(
                self.vehicle, seen.condition)
        if seen.kind in WAYS:
            choices["way"] = f"no {WAYS[seen.kind]} for me: no instrument, or I won't"
        if seen.unplugged:
            choices["plug"] = "won't open that plug"
        self._lines(f"  {name:<10} {text}" for name, text in choices.items())
        while True:
            text = self.ask(f"What is in the way? [{' / '.join(choices)}, or why in your words]")
            if text not in ("?", "help"):
                break
        word = text.casefold()
        subject = {"condition": seen.condition, "way": WAYS.get(seen.kind, ""),
                   "plug": seen.unplugged[0] if seen.unplugged else ""}.get(
            word if word in choices else "", "")
        self._save([refusal_text(Refusal(subject or self._place_of(seen),
                                         "" if word in choices else text))])

    def _place_of(self, seen: Observation) -> str:
        """Return what is refused with a step: the plug that would be opened, else the place, else
        the part."""
        if seen.unplugged:
            return seen.unplugged[0]
        for place in places_of_node(self.vehicle, seen.subject):
            if place in self.vehicle.places:
                return place
        part = part_of_node(self.vehicle, seen.subject)
        return part.name if part is not None else seen.subject

    # --- beginning and end

    def _begin(self) -> None:
        title = self.ask("What is wrong, in your words?")
        when = self._chosen("Always, or only when hot, or only when moving? [always/hot/moving]",
                            {"always": "", "hot": "", "moving": ""})
        complaint = Complaint(title, "" if when == "always" else when, self.date)
        self._save([complaint_text(complaint), head_text(Case(title, self.date))])

    def _saw(self) -> None:
        """Take something that was seen; `back` goes to the question before. Raises Back from the
        first."""
        parts = {p.name: p.label for p in self.vehicle.parts.values()
                 if is_load(p) or is_protection(p) or is_relay(p)}
        given: list[str] = []
        while len(given) < 3:
            try:
                if not given:
                    given.append(self._chosen(
                        "Which part? (name, such as M2, or a word of its label; ? lists them)",
                        parts))
                    continue
                part = self.vehicle.parts[given[0]]
                words = [w for kind, fits in (("load", is_load), ("fuse", is_protection),
                                              ("relay", is_relay)) if fits(part)
                         for w in WORDS[kind]]
                if len(given) == 1:
                    given.append(self._chosen("What does it do? " + "/".join(words),
                                              dict.fromkeys(words, "")))
                    continue
                kind = next(k for k in ("load", "fuse", "relay") if given[1] in WORDS[k] and (
                    k != "load" or is_load(part)))
                given.append("" if kind == "fuse" else self._chosen(
                    "In which condition? (name, or a word of it; ? lists them)",
                    {c.name: c.label for c in self.vehicle.conditions.values()}))
            except Back:
                if not given:
                    raise
                given.pop()
        self._save([observation_text(Observation(kind, given[0], given[1], condition=given[2],
                                                 date=self.date))])

    def _chosen(self, text: str, known: Mapping[str, str]) -> str:
        """Return one of the known names, asked for until it is clear which."""
        while True:
            answer = self.ask(text)
            if answer in known:
                return answer
            wanted = answer.casefold()
            if wanted in ("?", "help"):
                self._lines(f"  {n} {known[n]}".rstrip() for n in known)
                continue
            hits = [n for n in known if n.casefold() == wanted] or [
                n for n, label in known.items()
                if wanted and (wanted in label.casefold() or n.casefold().startswith(wanted))]
            if len(hits) == 1:
                return hits[0]
            if hits:
                self._lines(f"  {n} {known[n]}".rstrip() for n in hits[:20])
            else:
                self.say(did_you_mean(answer, known) or "nothing is called so; known: "
                         + ", ".join(list(known)[:30]) + (" ..." if len(known) > 30 else ""))

    def _end(self, weights: Weights, verdict: Verdict) -> bool:
        """Ask whether it was found; return whether the search is over."""
        while True:
            word = self.ask("Was it that? [yes / no (it was sound) / saw / causes]").casefold()
            if word in ("yes", "y", "found"):
                return self._found(weights, verdict)
            if word in ("no", "n"):
                group = [verdict.causes[i] for i in verdict.classes[0]]
                faults = self.predictor.bench.faults
                ids = dict.fromkeys(faults[i].id for i in group[0].candidate)
                self._save(["; ".join(likelihood_text(Likelihood(
                    (name,), 0.001, "looked at: sound")) for name in ids)])
                return False
            if word == "saw":
                self._saw()
                return False
            if word == "causes":
                self._lines(cause_lines(weights, verdict, 10))
            else:
                self.say("yes: it was that; no: it looked sound; saw: I noticed something else")

    def _found(self, weights: Weights, verdict: Verdict) -> bool:
        """Ask what it was; return whether the search is over."""
        faults = self.predictor.bench.faults
        listed = [verdict.causes[i] for group in verdict.classes for i in group][:MOST_LISTED]
        if len(verdict.classes) and len(verdict.classes[0]) == 1 and verdict.weights[0] > 0.9:
            listed = listed[:1]
        self._lines(f"  {n}. {c.words}" for n, c in enumerate(listed, 1))
        choice = f"1-{len(listed)}" if len(listed) > 1 else "1" if listed else ""
        while True:
            text = self.ask(f"What was it? [{choice + ', or ' if choice else ''}a part or wire, or "
                            "in your words]")
            if re.fullmatch(r"[0-9]{1,3}", text):
                if not 1 <= int(text) <= len(listed):
                    self.say(f"there is no number {text}")
                    continue
                found = [faults[i].id for i in listed[int(text) - 1].candidate]
                break
            mine = [f for f in faults if text in (f.subject, f.id)]
            if not mine:
                found = [text]
                break
            if len(mine) == 1:
                found = [mine[0].id]
                break
            self._lines(f"  {f.id}: {f.words.partition(': ')[2]}" for f in mine[:30])
            name = self._chosen("Which? (a word of it)", {
                f.id: f.words.partition(": ")[2] for f in mine})
            found = [name]
            break
        self._save([found_text(found)])
        self._story()
        self.say(f"Saved in {self.file.path}.")
        return True

    # --- keeping

    def _read(self) -> Case:
        return read_case_text(self.file.text, self.vehicle, str(self.file.path))[0]

    def _save(self, lines: list[str]) -> None:
        """Write lines into the case; they are on the disk when they are acknowledged."""
        self._write(lambda: self.file.add(lines))
        self.case = self._read()
        self._lines(f"  saved: {line}" for line in lines)

    def _take_back(self) -> None:
        gone: list[str] = []
        self._write(lambda: gone.append(self.file.take_back()))
        self.case = self._read()
        self.passed.clear()
        self.say(f"Took back: {printable(gone[-1])}" if gone[-1] else "There is no answer to take "
                 "back.")

    def _write(self, action: Callable[[], None]) -> None:
        """Write, and ask for another place where that can't be done."""
        while True:
            try:
                action()
                return
            except OSError as error:
                self.say(f"'{self.file.path}' can't be written: {error.strerror or error}.")
                try:
                    text = printable(self._ask("Write it to which other file?")).strip()
                except (EOFError, KeyboardInterrupt, click.Abort):
                    self.say("It was not saved. Until here it says:")
                    self._lines(self.file.text.splitlines())
                    raise
                if text:
                    self.file.path = Path(text)

    def _story(self) -> None:
        weights = weigh(self.predictor, self.case)
        self._lines(story_lines(weights, judge(weights), self.case))

    def _lines(self, lines: Iterable[str]) -> None:
        for line in lines:
            self.say(printable(line))
