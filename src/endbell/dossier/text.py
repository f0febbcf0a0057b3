"""A file as text, a text as TOML tables, and whether they are those of a dossier at all."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from pathlib import Path

from .errors import NotToml, UnknownFormat, UnreadableFile
from .keys import FORMAT_NAME, FORMAT_NUMBER
from .limits import LONG_LINE, MAX_BYTES, MAX_KEY_STEPS, visible
from .values import say

Table = dict[str, object]

# Nothing is given back once it is taken (*+): else a line of spaces takes quadratic time.
_STEP = r"""(?:[A-Za-z0-9_-]++|"[^"\n]*+"|'[^'\n]*+')[ \t]*+\.[ \t]*+"""
_LONG_KEY = re.compile(rf"[ \t]*+\[{{0,2}}+[ \t]*+(?:{_STEP}){{{MAX_KEY_STEPS}}}")


def read_text(path: Path | str, what: str = "a dossier") -> str:
    """The text of a file of at most five million bytes; raises :class:`UnreadableFile`.

    ``what`` the file should be, for the sentence.
    """
    file = str(path)
    try:
        with open(path, "rb") as stream:
            data = stream.read(MAX_BYTES + 1)
    except FileNotFoundError as error:
        raise UnreadableFile(file, "there is no such file") from error
    except IsADirectoryError as error:
        raise UnreadableFile(file, f"is a folder; {what} is one TOML file") from error
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise UnreadableFile(file, f"can't be opened: {reason.lower()}") from error
    return decode(data, file, what)


def decode(data: bytes, file: str, what: str = "a dossier") -> str:
    """The text in the bytes of a file, of which one past the limit is enough to refuse it."""
    if len(data) > MAX_BYTES:
        raise UnreadableFile(
            file, f"is larger than {MAX_BYTES / 1e6:.0f} MB; {what} is a few pages of text"
        )
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise UnreadableFile(file, "is not UTF-8; save it as UTF-8 text", line=line) from error


def parse_toml(text: str, file: str) -> Table:
    """The tables of a TOML text; raises :class:`NotToml` with line, column and the line itself."""
    for number, line in enumerate(text.split("\n"), start=1):
        if len(line) > LONG_LINE and _LONG_KEY.match(line):
            raise NotToml(file, "is nested too deeply to be a dossier", line=number)
    try:
        return tomllib.loads(text)
    except RecursionError as error:
        raise NotToml(file, "is nested too deeply to be a dossier") from error
    except tomllib.TOMLDecodeError as error:
        raise _not_toml(file, text, str(error)) from error
    except ValueError as error:  # a number of thousands of digits
        raise NotToml(file, f"can't be read as TOML: {visible(str(error), 120)}") from error


def _not_toml(file: str, text: str, message: str) -> NotToml:
    what, _, place = message.rpartition(" (at ")
    digits = [int(n) for n in "".join(c if c.isdigit() else " " for c in place).split()]
    if len(digits) != 2:  # it says 'at end of document'
        said = what or message
        return NotToml(file, f"can't be read as TOML ({said})", line=text.count("\n") + 1)
    line, column = digits
    shown = visible(text.split("\n")[line - 1].strip(), 60)
    return NotToml(
        file, f"can't be read as TOML ({what or message}, column {column}): {shown}", line=line
    )


def check_format(
    file: str, top: Mapping[str, object], form: str = FORMAT_NAME, newest: int = FORMAT_NUMBER
) -> None:
    """Raise :class:`UnknownFormat` where ``format`` is another kind of file or a newer form."""
    raw = top.get("format", f"{form}/{newest}")
    accepted = f'format = "{form}/{newest}"'
    name, slash, number = raw.partition("/") if isinstance(raw, str) else ("", "", "")
    if name != form or not slash or not (number.isascii() and number.isdigit()):
        raise UnknownFormat(file, f"format is {say(raw)}; accepted: {accepted}")
    if len(number) > 6 or int(number) > newest:
        raise UnknownFormat(
            file,
            f"format is {say(raw)}, newer than this Endbell reads ({accepted}): a newer Endbell "
            f"reads it",
        )
    if int(number) < 1:
        raise UnknownFormat(file, f"format is {say(raw)}; accepted: {accepted}")
