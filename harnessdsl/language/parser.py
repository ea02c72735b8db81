"""Text -> facts, by lark (LALR); every syntax error of a file is reported in one run."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import suppress
from functools import lru_cache
from typing import Any, cast

from lark import Lark, Token, Transformer
from lark.exceptions import UnexpectedCharacters, UnexpectedInput, UnexpectedToken

from harnessdsl.diagnostics import Diagnostic, Severity
from harnessdsl.language.facts import Fact, Item
from harnessdsl.quantity import GAUGE_UNIT, UNITS
from harnessdsl.resources import data_folder
from harnessdsl.text import SourceFile, Span

MAX_NESTING = 24
MAX_LINE_CHARACTERS = 20_000
MAX_FILE_CHARACTERS = 8_000_000
MAX_SYNTAX_ERRORS = 50
MAX_FIGURE = 1e9
MIN_GAUGE, MAX_GAUGE = -3, 50
_FIGURE = re.compile(r"[-+]?\d+(?:\.\d+)?")

_TYPES = {
    "WORD": "word",
    "NAME_TEXT": "text",
    "NUMBER": "number",
    "QUANTITY": "quantity",
    "RANGE": "range",
    "DATE": "date",
    "ARROW": "arrow",
    "EQUALS": "equals",
    "COMMA": "comma",
}


class _Facts(Transformer[Token, Any]):
    """Builds facts while parsing, so that nothing recurses however deep the braces are."""

    def __init__(self) -> None:
        super().__init__(visit_tokens=False)
        self.path = ""
        self.line_offset = 0
        self.wrong: list[Diagnostic] = []
        self.nameless: list[Fact] = []
        """Blocks inside blocks with nothing before their brace."""

    def _item(self, token: Token) -> Item:
        kind = _TYPES[token.type]
        text = str(token)
        if kind == "text":
            text = text[1:-1]
            if "\\" in text:
                text = re.sub(r"\\(.)", r"\1", text)
        column = token.column or 1
        if kind in ("quantity", "number") and (len(text) > 9 or text.endswith(GAUGE_UNIT)):
            text = self._sane(text, token)
        return Item(
            kind,
            text,
            self.path,
            (token.line or 1) + self.line_offset,
            column,
            column + len(token),
        )

    def _sane(self, text: str, token: Token) -> str:
        """Return the figure; one that nothing in a vehicle can have is reported, and 1 taken."""
        match = _FIGURE.match(text)
        unit = text[match.end() :].strip() if match else ""
        value = float(match[0]) if match else 0.0
        if unit == GAUGE_UNIT and not MIN_GAUGE <= value <= MAX_GAUGE:
            wrong = f"there is no wire of '{text}'"
            hint = f"gauges go from {MIN_GAUGE} (that is 4/0) to {MAX_GAUGE}; or write mm2"
        elif abs(value) > MAX_FIGURE:
            wrong = f"'{text[:20]}{'...' if len(text) > 20 else ''}' is beyond any vehicle"
            hint = "correct the figure"
        else:
            return text
        column = token.column or 1
        line = (token.line or 1) + self.line_offset
        self.wrong.append(
            _error(wrong, Span(self.path, line, column, column + len(token)), hint, "bad-figure"))
        return f"1 {unit}".rstrip()

    def fact(self, children: list[Any]) -> Fact:
        block: tuple[Fact, ...] | None = None
        end_line = 0
        if children and isinstance(children[-1], tuple):
            block, end_line = children.pop()
        items = tuple(self._item(token) for token in children)
        return Fact(items, block, end_line or (items[-1].line if items else 0))

    def block(self, children: list[Any]) -> tuple[tuple[Fact, ...], int]:
        end_line = self.line_offset
        facts = []
        for child in children:
            if isinstance(child, Fact):
                if child.items:
                    facts.append(child)
                elif child.block is not None:
                    self.nameless.append(child)
            elif child.type == "RBRACE":
                end_line = (child.line or 1) + self.line_offset
        return tuple(facts), end_line

    def start(self, children: list[Any]) -> tuple[Fact, ...]:
        return tuple(child for child in children if isinstance(child, Fact))


class _Braces:
    """Lark's hook between lexer and parser: keeps track of open braces."""

    always_accept = ()

    def __init__(self) -> None:
        self.open: list[Token] = []
        self.stray: list[Token] = []
        """Closing braces that close nothing; they are left out of the stream."""
        self.too_deep: Token | None = None
        self.close_at_margin = False
        self.closed_early: list[tuple[Token, Token]] = []

    def reset(self, close_at_margin: bool) -> None:
        self.open = []
        self.stray = []
        self.too_deep = None
        self.close_at_margin = close_at_margin
        self.closed_early = []

    def process(self, stream: Iterator[Token]) -> Iterator[Token]:
        fresh_line = True
        for token in stream:
            kind = token.type
            if kind == "LBRACE":
                self.open.append(token)
                if len(self.open) > MAX_NESTING:
                    self.too_deep = token
                    return
            elif kind == "RBRACE":
                if not self.open:
                    self.stray.append(token)
                    continue
                self.open.pop()
            elif (
                self.close_at_margin and fresh_line and token.column == 1 and kind == "WORD"
                and self.open
            ):
                # a fact at the left margin inside braces: the brace before it was forgotten
                while self.open:
                    opener = self.open.pop()
                    self.closed_early.append((opener, token))
                    yield Token.new_borrow_pos("RBRACE", "}", opener)
                yield Token.new_borrow_pos("NEWLINE", "\n", opener)
            fresh_line = kind == "NEWLINE"
            yield token
        while self.open:  # the file ends inside braces
            opener = self.open.pop()
            self.closed_early.append((opener, opener))
            yield Token.new_borrow_pos("RBRACE", "}", opener)


_FACTS = _Facts()
_BRACES = _Braces()


@lru_cache(maxsize=1)
def _lark() -> Lark:
    units = sorted([*UNITS, GAUGE_UNIT], key=lambda unit: (-len(unit), unit))
    grammar = (data_folder("grammar") / "harness.lark").read_text(encoding="utf-8")
    grammar = grammar.replace("%UNITS%", "|".join(re.escape(unit) for unit in units))
    return Lark(
        grammar,
        parser="lalr",
        lexer="basic",
        transformer=_FACTS,
        postlex=cast(Any, _BRACES),
        propagate_positions=False,
        maybe_placeholders=False,
    )


def _error(message: str, span: Span, hint: str | None, code: str = "syntax") -> Diagnostic:
    return Diagnostic(Severity.ERROR, code, message, span, hint)


def _too_large(source: SourceFile) -> Diagnostic | None:
    if len(source.text) > MAX_FILE_CHARACTERS:
        return _error(
            f"the file holds {len(source.text):,} characters, more than {MAX_FILE_CHARACTERS:,}",
            Span(source.path, 1, 1, 1),
            "a whole car takes far less: is this the right file? split it with 'use'",
            "file-too-large",
        )
    if "\x00" in source.text:
        line = source.text.count("\n", 0, source.text.index("\x00")) + 1
        return _error(
            "this is not a text file: it holds NUL bytes",
            Span(source.path, line, 1, 1),
            "save it as plain text (UTF-8)",
            "not-text",
        )
    if len(source.text) > MAX_LINE_CHARACTERS:
        for number, content in enumerate(source.text.split("\n"), 1):
            if len(content) > MAX_LINE_CHARACTERS:
                return _error(
                    f"line {number} holds {len(content):,} characters, more than "
                    f"{MAX_LINE_CHARACTERS:,}",
                    Span(source.path, number, 1, 2),
                    "write one fact a line",
                    "line-too-long",
                )
    return None


class _Recovery:
    """Turns lark's exceptions into messages and says how to go on after each."""

    def __init__(self, source: SourceFile, line_offset: int) -> None:
        self.path = source.path
        self.source = source
        self.line_offset = line_offset
        self.diagnostics: list[Diagnostic] = []

    def span(self, line: int, column: int, width: int = 1) -> Span:
        return Span(self.path, line + self.line_offset, column, column + width)

    def __call__(self, error: UnexpectedInput) -> bool:
        if len(self.diagnostics) >= MAX_SYNTAX_ERRORS:
            return False
        if isinstance(error, UnexpectedCharacters):
            return self._bad_character(error)
        if isinstance(error, UnexpectedToken):
            return self._bad_token(error)
        return False

    def _bad_character(self, error: UnexpectedCharacters) -> bool:
        # lark has taken one character away already and lexes on behind it
        if self.diagnostics and self.diagnostics[-1].span.line == error.line + self.line_offset:
            return True  # one message a line is enough
        rest = self.source.line(error.line)[error.column - 1 :]
        if error.char == '"':
            # the rest of the line is that text: what is in it must not be taken for facts
            lexer = error.interactive_parser.lexer_thread.state
            assert lexer is not None
            lexer.line_ctr.feed(rest)
            self.diagnostics.append(
                _error(
                    "the text in quotes is not closed",
                    self.span(error.line, error.column, max(1, len(rest))),
                    'put a " at its end; text stays on one line',
                )
            )
        else:
            self.diagnostics.append(
                _error(
                    f"a character that has no place here: {error.char!r}",
                    self.span(error.line, error.column),
                    "delete it",
                )
            )
        return True

    def _bad_token(self, error: UnexpectedToken) -> bool:
        token: Token = error.token
        interactive = error.interactive_parser
        line, column = token.line or 1, token.column or 1
        if token.type == "$END":
            return False  # an open brace: the caller knows where
        # items behind a closed block: end the fact and go on
        self.diagnostics.append(
            _error(
                f"{str(token)!r} stands behind a closed block",
                self.span(line, column, len(token)),
                "start it on a new line, or put it before the '{'",
            )
        )
        interactive.feed_token(Token.new_borrow_pos("NEWLINE", "\n", token))
        interactive.feed_token(token)
        return True


def _parse(
    source: SourceFile, line_offset: int, close_at_margin: bool
) -> tuple[tuple[Fact, ...], list[Diagnostic], list[Diagnostic]]:
    """Return facts, syntax errors, and the errors that are about unclosed braces."""
    lark = _lark()
    _FACTS.path, _FACTS.line_offset = source.path, line_offset
    _FACTS.wrong, _FACTS.nameless = [], []
    _BRACES.reset(close_at_margin)
    recovery = _Recovery(source, line_offset)
    facts: tuple[Fact, ...] = ()
    with suppress(UnexpectedInput):
        # a newline at the end, so that the last fact's position is never that of an end of file
        facts = lark.parse(source.text + "\n", on_error=recovery)  # type: ignore[assignment]
    unclosed: list[Diagnostic] = []
    if _BRACES.too_deep is not None:
        token = _BRACES.too_deep
        span = Span(source.path, (token.line or 1) + line_offset, token.column or 1,
                    (token.column or 1) + 1)
        message = f"braces are nested more than {MAX_NESTING} deep"
        return (), [_error(message, span, "close a block before opening the next")], []
    for opener in [pair[0] for pair in _BRACES.closed_early]:
        unclosed.append(
            _error(
                "the block that this brace opens is not closed",
                Span(source.path, (opener.line or 1) + line_offset, opener.column or 1,
                     (opener.column or 1) + 1),
                "put a '}' on a line of its own behind its last line",
            )
        )
    stray = [
        _error("this brace closes nothing", recovery.span(token.line or 1, token.column or 1),
               "delete it, or look for a '{' that is missing before it")
        for token in _BRACES.stray[:MAX_SYNTAX_ERRORS]
    ]
    return facts, recovery.diagnostics + stray + _FACTS.wrong[:MAX_SYNTAX_ERRORS], unclosed


def parse_text(
    source: SourceFile, line_offset: int = 0
) -> tuple[tuple[Fact, ...], list[Diagnostic]]:
    """Return the facts of one file and every syntax error in it.

    `line_offset` is added to all line numbers, for a stretch cut out of a file.
    """
    refused = _too_large(source)
    if refused is not None:
        return (), [refused]
    facts, diagnostics, unclosed = _parse(source, line_offset, close_at_margin=False)
    if unclosed:
        # read again, taking a fact at the left margin for the end of the block before it
        facts, diagnostics, unclosed = _parse(source, line_offset, close_at_margin=True)
    kept = []
    for fact in [*facts, *_FACTS.nameless]:
        if fact.items:
            kept.append(fact)
        elif fact.block is not None:
            head = Span(source.path, fact.end_line, 1, 2)
            if fact.block and fact.block[0].items:
                head = fact.block[0].head.span
            diagnostics.append(
                _error("a block in braces with nothing before it", head,
                       "say what it belongs to: KIND NAME { ... }")
            )
    return tuple(kept), diagnostics + unclosed
