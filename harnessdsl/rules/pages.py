"""The pages of the rules, read from their docstrings, and all of them as one document."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass

from harnessdsl.rules import all_rules
from harnessdsl.rules.registry import Rule

HEADINGS = ("What", "Why", "Wrong", "Right", "Source")


@dataclass(frozen=True, slots=True)
class RulePage:
    """What a rule's docstring says."""

    code: str
    severity: str
    summary: str
    what: str
    why: str
    wrong: str
    """A whole small file that the rule finds fault with."""
    right: str
    """The same, put right."""
    source: str


class PageError(Exception):
    """A rule's docstring lacks a heading."""


def rule_page(rule: Rule) -> RulePage:
    """Return the page of a rule; raises PageError when a heading is missing or out of order."""
    lines = rule.docstring.rstrip().splitlines()
    found = [line for line in lines[1:] if line and not line.startswith(" ")]
    if tuple(found) != HEADINGS:
        raise PageError(f"{rule.module}: headings are {found}, not {list(HEADINGS)}")
    starts = [lines.index(heading, 1) for heading in HEADINGS]
    stops = [*starts[1:], len(lines)]
    texts = [textwrap.dedent("\n".join(lines[a + 1:b])).strip("\n")
             for a, b in zip(starts, stops, strict=True)]
    empty = [heading for heading, text in zip(HEADINGS, texts, strict=True) if not text.strip()]
    if empty:
        raise PageError(f"{rule.module}: nothing under {', '.join(empty)}")
    return RulePage(rule.code, rule.severity.word, lines[0], *texts)


def page_text(code: str) -> str:
    """Return the page of one rule as plain text; raises KeyError for an unknown code."""
    page = rule_page(all_rules()[code])

    def indent(text: str) -> str:
        return textwrap.indent(text, "    ")

    return "\n".join([
        f"{page.code} ({page.severity}): {page.summary}", "", page.what, "", page.why, "",
        "wrong:", indent(page.wrong), "", "right:", indent(page.right), "",
        f"source: {page.source}"])


def rules_page() -> str:
    """Return docs/checks.md: all rules in a table, then a page of each."""
    pages = [rule_page(rule) for rule in all_rules().values()]
    lines = [
        "# Checks", "",
        "<!-- Written by harnessdsl.rules.pages.rules_page() from the rules' docstrings. -->", "",
        "What `harnessdsl check` looks for. A finding is accepted in the file with",
        "`accept CODE NAME \"reason\"`; it is then listed as accepted, not hidden. The maker's",
        "data, local codes and licensed practice go before anything said here.", "",
        "| check | at worst | finds |", "|---|---|---|"]
    lines += [f"| [{p.code}](#{p.code}) | {p.severity} | {p.summary.rstrip('.')} |" for p in pages]
    for p in pages:
        lines += ["", f"## {p.code}", "", f"*{p.severity}.* {p.summary}", "", p.what, "",
                  f"**Why.** {p.why}", "", "Wrong:", "", "```harness", p.wrong, "```", "",
                  "Right:", "", "```harness", p.right, "```", "", f"**Source.** {p.source}"]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    print(rules_page(), end="")
