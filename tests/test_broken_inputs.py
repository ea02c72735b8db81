"""What is broken in a file is said clearly: where, what, and what to write instead.

Each file in tests/broken/ has one mistake; its first line names the line of it and words that the
message must hold: `# expect LINE: word | word`, or `# expect LINE (3): ...` where a mistake cannot
but bring three messages. Files that no editor would write are made here.
No source outside the project: common practice for messages of compilers.
"""

from __future__ import annotations

import re
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from harnessdsl.cli.main import main
from harnessdsl.diagnostics import Severity
from harnessdsl.pipeline import load

FOLDER = Path(__file__).with_name("broken")
FILES = sorted(FOLDER.glob("*.harness"))
SECONDS = 5.0

SOUND = """vehicle "Hollin Ten" { supply 12 V negative-earth }
place nose "Nose" at 200, 0, 500 mm
battery G1 "Battery" in nose 60 Ah
earth E1 "Nose" in nose
wire G1.- -> E1 16 mm2 BK 0.4 m
"""


def check(path: Path | str, *options: str) -> Result:
    """Run `check` and hold what every answer must keep to."""
    start = time.process_time()
    result = CliRunner().invoke(main, ["check", *options, str(path)])
    assert time.process_time() - start < SECONDS
    assert "Traceback" not in result.output
    assert result.exception is None or isinstance(result.exception, SystemExit)
    assert len(result.output) < 100_000
    # nothing from a file may reach the terminal as a control sequence
    assert not re.search(
        r"[\x00-\x08\x0b-\x1f\x7f\x80-\x9f\u202a-\u202e\u2066-\u2069]", result.output
    )
    return result


def expectation(path: Path) -> tuple[str, int, int, list[str]]:
    """Return (file of the message, its line, how many messages at most, words in it)."""
    first = path.read_text(encoding="utf-8").split("\n", 1)[0]
    match = re.fullmatch(r"# expect (?:(\S+):)?(\d+)(?: \((\d+)\))?: (.+)", first)
    assert match is not None, f"{path.name} does not say what is expected"
    return match[1] or path.name, int(match[2]), int(match[3] or 1), match[4].split(" | ")


def test_there_are_enough_broken_files() -> None:
    assert len(FILES) >= 60


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_mistake_is_reported_where_it_is(path: Path) -> None:
    where, line, _, words = expectation(path)
    result = check(path, "--show", "warning")
    assert result.exit_code == 1
    blocks = re.split(r"\n(?=\S)", result.output)
    at = re.escape(str(FOLDER / where)) + rf":{line}:(\d+): (?:error|warning)\[[a-z-]+\]: "
    found = [(block, m) for block in blocks if (m := re.match(at, block))]
    assert found, result.output
    block, match = next(((b, m) for b, m in found if all(word in b for word in words)), found[0])
    assert [word for word in words if word not in block] == []
    _, shown, caret, *rest = block.splitlines()
    assert re.match(rf" *{line} \| ", shown)
    assert re.fullmatch(r" +\| *\^+", caret)
    column = int(match[1])
    assert caret.index("^") - caret.index("|") - 2 == column - 1 or column > 100
    assert any(text.startswith("  help: ") and len(text) > 12 for text in rest), "no remedy"


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_one_mistake_brings_one_message(path: Path) -> None:
    most = expectation(path)[2]
    errors = [d for d in load(path).diagnostics if d.severity is Severity.ERROR]
    assert len(errors) <= most, [d.message for d in errors]


def test_every_mistake_of_a_file_is_reported_in_one_run(tmp_path: Path) -> None:
    """The mistakes of many files, one below another, each in a copy of its own line."""
    file = tmp_path / "many.harness"
    file.write_text(
        SOUND
        + 'blade-fus F1 "Horn" in nose\n'
        + 'horn H1 "Horn in nose\n'
        + "wire G1.+ -> H9.1 2 mm2 RD 1 m\n"
        + "wire G1.+ G1.- 2 mm2 RD 1 m\n"
        + "wire G1.+ -> E1 2 mm2 XX 1 m\n"
        + 'lamp-w5w E5 "Lamp" in nowhere\n',
        encoding="utf-8",
    )
    lines = {d.span.line for d in load(file).diagnostics if d.severity is Severity.ERROR}
    assert lines == {6, 7, 8, 9, 10, 11}


# -------------------------------------------------------------------- what no editor would write


def _nested(opening: str, closing: str, count: int) -> bytes:
    return (SOUND + opening * count + closing * count + "\n").encode()


MADE: dict[str, tuple[bytes, str]] = {
    "empty": (b"", "no facts"),
    "only blanks": (b" \n\t\n \r\n", "no facts"),
    "only a comment": (b"# nothing yet\n", "no facts"),
    "all bytes": (bytes(range(256)) * 200, "text"),
    "a picture": (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR" + bytes(range(255, 0, -1)), "text"),
    "NUL bytes": (SOUND.encode() + b'earth E2 "a\x00b" in nose\n', "text"),
    "UTF-16": (SOUND.encode("utf-16"), "text"),
    "Latin-1": (SOUND.encode() + 'earth E2 "Türe" in nose\n'.encode("latin-1"), "UTF-8"),
    "10 MB in one line": (b"x" * 10_000_000, "characters"),
    "10 MB of words in one line": (b"wire " * 2_000_000, "characters"),
    "10 MB of quotes": (b'"' * 10_000_000, "characters"),
    "10 MB of lines": (b"wire G1.+ -> E1 2 mm2 RD\n" * 420_000, "characters"),
    "50 MB": (b"#\n" * 25_000_000, "MB"),
    "one long line": (
        SOUND.encode() + b'earth E2 "' + b"y" * 30_000 + b'" in nose\n', "characters"),
    "10,000 braces": (_nested("{", "}", 10_000), "deep"),
    "10,000 braces on lines": (_nested("place x {\n", "}\n", 10_000), "deep"),
    "10,000 open braces": (_nested("place x {\n", "", 10_000), "deep"),
    "5,000 closing braces": (_nested("", "}\n", 5_000), "brace"),
    "5,000 open quotes": (SOUND.encode() + b'earth E2 "a\n' * 5_000, "quotes"),
    "5,000 unknown kinds": (
        SOUND.encode() + b"".join(b"odd U%d\n" % i for i in range(5_000)), "odd"),
    "3,000 kinds like one another": (
        SOUND.encode()
        + b"".join(b"kind k%d like k%d\n" % (i, i + 1) for i in range(3_000))
        + b"k0 K1\n",
        "deep",
    ),
    "a figure beyond all numbers": (SOUND.encode() + b"battery G2 " + b"9" * 400 + b" Ah\n", "999"),
    "a gauge beyond all numbers": (
        SOUND.encode() + b"wire G1.+ -> E1 -99999 AWG RD 1 m\n",
        "AWG",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", MADE)
def test_what_is_no_vehicle_gets_a_plain_answer(name: str, tmp_path: Path) -> None:
    data, word = MADE[name]
    file = tmp_path / "car.harness"
    file.write_bytes(data)
    result = check(file, "--show", "error")
    assert result.exit_code in (1, 2)
    # a message about the whole file has no line of its own to begin with
    assert re.search(rf"(?m)^(.*car\.harness:\d.*: )?error\[[a-z-]+\]: .*{word}", result.output)
    assert "car.harness" in result.output
    assert "  help: " in result.output


def test_a_missing_file_names_a_near_one(tmp_path: Path) -> None:
    (tmp_path / "tourer.harness").write_text(SOUND, encoding="utf-8")
    result = check(tmp_path / "torer.harness")
    assert result.exit_code == 2
    assert "tourer.harness" in result.output


def test_a_folder_is_no_file(tmp_path: Path) -> None:
    result = check(tmp_path)
    assert result.exit_code == 2
    assert "folder" in result.output


def test_a_device_is_no_file() -> None:
    """A device never ends; it must not be read at all."""
    device = Path("/dev/zero")
    if not device.exists():
        pytest.skip("no such device here")
    assert check(device).exit_code == 2


def _circular_link(folder: Path) -> Path:
    link = folder / "car.harness"
    link.symlink_to(link)
    return link


def _link_out_of_the_folder(folder: Path) -> Path:
    inner = folder / "inner"
    inner.mkdir()
    (folder / "secret.harness").write_text("earth E9\n", encoding="utf-8")
    (inner / "linked.harness").symlink_to(folder / "secret.harness")
    file = inner / "car.harness"
    file.write_text(SOUND + 'use "linked.harness"\n', encoding="utf-8")
    return file


def _long_chain_of_files(folder: Path) -> Path:
    for i in range(1_500):
        text = f'use "f{i + 1}.harness"\n' if i < 1_499 else "odd U1\n"
        (folder / f"f{i}.harness").write_text(text, encoding="utf-8")
    return folder / "f0.harness"


@pytest.mark.parametrize(
    "make",
    [_circular_link, _link_out_of_the_folder, _long_chain_of_files],
    ids=lambda f: f.__name__,
)
def test_odd_files_on_disk(make: Callable[[Path], Path], tmp_path: Path) -> None:
    try:
        file = make(tmp_path)
    except OSError:
        pytest.skip("this file system makes no links")
    result = check(file, "--show", "error")
    assert result.exit_code in (1, 2)
    assert "error[" in result.output


# ------------------------------------------------------------------- what looks odd and is sound


@pytest.mark.parametrize(
    "data",
    [
        b"\xef\xbb\xbf" + SOUND.encode(),
        SOUND.replace("\n", "\r\n").encode(),
        SOUND.rstrip("\n").encode(),
        SOUND.replace(" ", "\t").replace("Hollin\tTen", "Hollin Ten").encode(),
        (SOUND + "# Größe, 大きさ, ⌀\n").encode(),
        SOUND.replace("\n", "\n\n\n").encode(),
    ],
    ids=["BOM", "CRLF", "no last line end", "tabs", "other scripts", "empty lines"],
)
def test_odd_but_sound_text_is_read(data: bytes, tmp_path: Path) -> None:
    file = tmp_path / "car.harness"
    file.write_bytes(data)
    result = load(file)
    assert [d.message for d in result.diagnostics if d.severity is Severity.ERROR] == []
    assert list(result.vehicle.parts) == ["G1", "E1"]
    assert len(result.vehicle.wires) == 1


def test_a_tab_does_not_shift_the_caret(tmp_path: Path) -> None:
    file = tmp_path / "car.harness"
    file.write_text(SOUND + "\tearth\tE2\tin\tnowhere\n", encoding="utf-8")
    lines = check(file).output.splitlines()
    at = next(i for i, line in enumerate(lines) if "unknown-place" in line)
    assert lines[at + 2].index("^") == lines[at + 1].index("nowhere")


def test_wrong_calls_end_with_status_2() -> None:
    for call in (["chek", "x"], ["check"], ["check", "--fail-on", "never", "x"], ["--nonsense"]):
        result = CliRunner().invoke(main, call)
        assert result.exit_code == 2
        assert "Traceback" not in result.output
