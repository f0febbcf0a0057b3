"""Rows out of a CSV file or a spreadsheet, one at a time, whatever its length."""

from __future__ import annotations

import codecs
import csv
import re
import zipfile
from collections.abc import Iterator
from datetime import date, datetime
from pathlib import Path
from typing import IO, Any

from .errors import InputUnreadable

TABLES = (".csv", ".tsv", ".tab", ".txt", ".xlsx")
MAX_LINE = 1_000_000  # characters: a longer one is no line of a table
MAX_CELL = 131_072  # characters, as the csv module has it
MAX_SHEET = 2 * 2**30  # bytes of an unpacked spreadsheet
MAX_SHEET_TEXTS = 256 * 2**20  # of these, what is held in memory at once: the list of its texts

Row = tuple[int, list[str] | str]
"""The line a row begins on, and its cells; or the sentence why it is no row."""


def is_table(path: Path) -> bool:
    """Whether the name is that of a table."""
    return path.suffix.lower() in TABLES


def rows_of(path: Path) -> Iterator[Row]:
    """The rows of a table that hold anything; raises :class:`InputUnreadable`.

    CSV with commas, semicolons or tabs, as UTF-8 (UTF-16 with its mark) or, where it is not that,
    as the code page that spreadsheets write without asking.  Of a spreadsheet, the first sheet.
    """
    try:
        yield from _sheet(path) if path.suffix.lower() == ".xlsx" else _csv(path)
    except OSError as error:
        raise InputUnreadable(f"{path}: {(error.strerror or str(error)).lower()}") from None


def _csv(path: Path) -> Iterator[Row]:
    encoding = _encoding(path)
    with open(path, encoding=encoding, errors="replace", newline="") as stream:
        sample = stream.read(8192)
        separator = max(",;\t", key=sample.count)
        stream.seek(0)
        reader = csv.reader(_lines(path, stream), delimiter=separator)
        while True:
            line = reader.line_num + 1
            try:
                cells = next(reader)
            except StopIteration:
                return
            except csv.Error as error:
                yield line, f"no row of a table ({error})"
                continue
            if any(cell and not cell.isspace() for cell in cells):
                yield line, cells


def _lines(path: Path, stream: IO[str]) -> Iterator[str]:
    while line := stream.readline(MAX_LINE):
        if len(line) == MAX_LINE and line[-1] not in "\r\n":
            raise InputUnreadable(
                f"{path}: a line of more than {MAX_LINE:,} characters; CSV and .xlsx are accepted"
            )
        yield line


def _encoding(path: Path) -> str:
    """'utf-8-sig', 'utf-16' or 'cp1252', by all of the file."""
    decoder = codecs.getincrementaldecoder("utf-8")()
    with open(path, "rb") as stream:
        block = stream.read(1 << 20)
        if block[:2] in (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE):
            return "utf-16"
        while block:
            if b"\0" in block:
                raise InputUnreadable(f"{path}: not a CSV file; CSV and .xlsx are accepted")
            try:
                decoder.decode(block)
            except UnicodeDecodeError:
                return "cp1252"
            block = stream.read(1 << 20)
    try:
        decoder.decode(b"", final=True)
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8-sig"


def _sheet(path: Path) -> Iterator[Row]:
    try:
        import openpyxl  # an extra: only for spreadsheets
        from openpyxl.utils.exceptions import InvalidFileException
    except ImportError:
        raise InputUnreadable(
            f"{path}: reading spreadsheets needs openpyxl (pip install 'endbell[spreadsheet]');"
            " or save the table as CSV"
        ) from None
    _check_sheet(path)
    try:
        book: Any = openpyxl.load_workbook(path, read_only=True, data_only=True)
        for line, cells in enumerate(book.worksheets[0].iter_rows(), start=1):
            texts = [_text_of(cell) for cell in cells]
            if any(text and not text.isspace() for text in texts):
                yield line, texts
        book.close()
    except (ValueError, KeyError, IndexError, TypeError, SyntaxError) as error:
        raise InputUnreadable(f"{path}: not a spreadsheet that can be read ({error})") from None
    except (InvalidFileException, zipfile.BadZipFile) as error:
        raise InputUnreadable(f"{path}: not a spreadsheet that can be read ({error})") from None


def _check_sheet(path: Path) -> None:
    """A spreadsheet is a zip: how much it claims to unpack to."""
    try:
        with zipfile.ZipFile(path) as archive:
            sizes = {info.filename: info.file_size for info in archive.infolist()}
    except (zipfile.BadZipFile, OSError) as error:
        raise InputUnreadable(f"{path}: not a spreadsheet that can be read ({error})") from None
    texts = sum(size for name, size in sizes.items() if name.endswith("sharedStrings.xml"))
    if sum(sizes.values()) > MAX_SHEET or texts > MAX_SHEET_TEXTS:
        raise InputUnreadable(f"{path}: too large for a spreadsheet; save the table as CSV")


def _text_of(cell: Any) -> str:
    """A cell as its reader sees it: numbers with the leading zeros that its format shows."""
    value: object = cell.value
    if value is None:
        return ""
    if isinstance(value, datetime) and not (value.hour or value.minute or value.second):
        value = value.date()
    if isinstance(value, datetime | date):
        return value.isoformat()
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    if isinstance(value, int) and not isinstance(value, bool):
        form = str(cell.number_format)
        return str(value).zfill(len(form)) if re.fullmatch(r"0+", form) else str(value)
    return str(value)
