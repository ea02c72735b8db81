"""The formatter: even spacing and columns; comments, grouping and meaning stay as they are.

It works on lines, not on facts: blank lines (at most one), comments and the choice of what shares
a line stay the user's. Neighbouring lines of the same depth and form make a group, and a group's
columns are aligned. Before anything is written, the caller proves with
`same_meaning` that both texts hold the same facts and comments.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from harnessdsl.language.facts import Fact
from harnessdsl.language.parser import parse_text
from harnessdsl.text import SourceFile

INDENT = "    "
COLUMN_LIMIT = 40
"""A cell wider than this does not push its column."""
_TOKEN = re.compile(
    r"""(?P<comment>\#[^\n]*)|(?P<text>"(?:\\.|[^"\\])*")|(?P<arrow>->|→)|(?P<mark>[{};,=])"""
    r"""|(?P<word>(?:(?!->)[^\s"{}=,;#→])+)"""
)
_QUANTITY_UNIT = re.compile(r"[-+]?\d+(?:\.\d+)?\Z")


@dataclass(slots=True)
class _Line:
    """One line of the file: its depth, its cells, its comment."""

    depth: int
    cells: list[str] = field(default_factory=list)
    comment: str = ""

    @property
    def form(self) -> str:
        """What a line must share with its neighbour to be aligned with it: both are wires, both
        are a kind, a name and a label, or both begin with the same word."""
        if len(self.cells) > 2 and self.cells[2].startswith('"'):
            return '"'
        return self.cells[0].split(" ")[0] if self.cells else ""


def _tokens(text: str) -> list[tuple[str, str]]:
    return [(match.lastgroup or "", match.group()) for match in _TOKEN.finditer(text)]


def _join(tokens: list[str]) -> str:
    """Join tokens with single spaces; none before a comma or a semicolon."""
    out = ""
    for token in tokens:
        if token in (",", ";"):
            out += token
        elif out:
            out += " " + token
        else:
            out = token
    return out


def _cells(tokens: list[str]) -> list[str]:
    """Split a line's tokens into the cells that are aligned: a wire's ends, or head, name and
    label; what follows is the last cell."""
    if "{" in tokens:  # a line with a block keeps its head together and its block behind
        at = tokens.index("{")
        if not at:
            return [_join(tokens)]
        *first, last = _cells(tokens[:at])
        return [*first, f"{last} {_join(tokens[at:])}"]
    if tokens and tokens[0] == "wire" and "->" in tokens:
        stop = len(tokens) - 1 - tokens[::-1].index("->") + 2
        attributes = tokens[stop:]
        return [_join(tokens[:stop]), *_attributes(attributes)]
    if len(tokens) > 2 and tokens[2].startswith('"'):
        return [tokens[0], tokens[1], tokens[2], *([_join(tokens[3:])] if tokens[3:] else [])]
    if len(tokens) > 2 and tokens[1] not in ("=", "->") and tokens[2] not in ("=", "->", ","):
        return [tokens[0], tokens[1], _join(tokens[2:])]
    return [_join(tokens)]


def _attributes(tokens: list[str]) -> list[str]:
    """Split a wire's attributes: each quantity or word is a cell while they are short."""
    cells: list[str] = []
    index = 0
    while index < len(tokens) and len(cells) < 3:
        token = tokens[index]
        if token.startswith('"') or token == "note":
            break
        if _QUANTITY_UNIT.fullmatch(token) and index + 1 < len(tokens):
            cells.append(f"{token} {tokens[index + 1]}")
            index += 2
        else:
            cells.append(token)
            index += 1
    rest = _join(tokens[index:])
    return [*cells, rest] if rest else cells


def _read_lines(text: str) -> list[_Line]:
    lines: list[_Line] = []
    depth = 0
    for raw in text.replace("\r\n", "\n").split("\n"):
        tokens = _tokens(raw)
        comment = tokens.pop()[1] if tokens and tokens[-1][0] == "comment" else ""
        words = ["->" if kind == "arrow" else value for kind, value in tokens]
        closes = 0
        for word in words:
            if word != "}":
                break
            closes += 1
        line = _Line(max(0, depth - closes), _cells(words) if words else [],
                     comment.rstrip())
        depth = max(0, depth + words.count("{") - words.count("}"))
        lines.append(line)
    return lines


def _groups(lines: list[_Line]) -> list[list[_Line]]:
    groups: list[list[_Line]] = []
    for line in lines:
        last = groups[-1][-1] if groups else None
        if last is not None and line.cells and last.cells and (
                last.form == line.form and last.depth == line.depth):
            groups[-1].append(line)
        else:
            groups.append([line])
    return groups


def _render(group: list[_Line]) -> list[str]:
    columns = max(len(line.cells) for line in group)
    widths = [
        max((len(line.cells[i]) for line in group
             if i < len(line.cells) and len(line.cells[i]) <= COLUMN_LIMIT), default=0)
        for i in range(columns)
    ]
    texts = []
    for line in group:
        padded = [cell.ljust(widths[i]) if i + 1 < len(line.cells) else cell
                  for i, cell in enumerate(line.cells)]
        texts.append((INDENT * line.depth + " ".join(padded)) if line.cells else "")
    reach = max((len(text) for text, line in zip(texts, group, strict=True) if line.comment),
                default=0)
    out = []
    for text, line in zip(texts, group, strict=True):
        if line.comment and text:
            out.append(f"{text.ljust(reach)}  {line.comment}")
        elif line.comment:
            out.append(INDENT * line.depth + line.comment)
        else:
            out.append(text)
    return out


def format_text(text: str) -> str:
    """Return the text with even spacing; a second pass changes nothing."""
    out: list[str] = []
    for group in _groups(_read_lines(text)):
        for line in _render(group):
            if line.strip() or (out and out[-1].strip()):
                out.append(line.rstrip())
    while out and not out[-1]:
        out.pop()
    return "\n".join(out) + "\n" if out else ""


Meaning = tuple[object, ...]


def _meaning(fact: Fact) -> Meaning:
    items = tuple(
        (item.type, re.sub(r"[ \t]+", " ", item.text) if item.type == "quantity" else item.text)
        for item in fact.items)
    block = None if fact.block is None else tuple(_meaning(inner) for inner in fact.block)
    return (items, block)


def comments_of(text: str) -> list[str]:
    """Return the comments of a text in order."""
    return [value.rstrip() for raw in text.replace("\r\n", "\n").split("\n")
            for kind, value in _tokens(raw) if kind == "comment"]


def same_meaning(before: str, after: str) -> bool:
    """Say whether two texts hold the same facts, in the same order, and the same comments."""
    first, mistakes_before = parse_text(SourceFile("before", before))
    second, mistakes_after = parse_text(SourceFile("after", after))
    if mistakes_before or mistakes_after:
        return False
    return ([_meaning(fact) for fact in first] == [_meaning(fact) for fact in second]
            and comments_of(before) == comments_of(after))
