"""What a delimited line looks like: its separator, its width, its header."""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass

SEPARATORS = {"semicolon": b";", "tab": b"\t", "comma": b",", "blank": b" "}
"""By the rig file's word for them; a blank stands for any number of blanks or tabs."""

MAX_COLUMNS = 64
"""Own choice: more than any logger of the trade sends, and few enough to stay readable."""

LONGEST_NAME = 80
"""Characters in a column name: own choice, so that a header of noise is none."""

LATIN_SHARE = 0.2
"""Share of bytes beyond ASCII up to which a header that is no UTF-8 is taken for Latin-1: own
choice, for a degree sign or an accent; noise has more."""


@dataclass(frozen=True, slots=True)
class Header:
    """A line that names columns.

    Args:
        separator: Between the names.
        names: Untrusted, but printable and not endless.
    """

    separator: bytes
    names: tuple[str, ...]


def is_comment(line: bytes) -> bool:
    """Whether a line begins as comments do."""
    return line.lstrip().startswith((b"#", b"%", b"//"))


def separator_of(line: bytes) -> bytes:
    """The separator that a line seems to use; a line without any is one column.

    Blanks win over a comma where each part between blanks is a number with at most one comma
    inside its digits: that is a decimal comma.
    """
    inner = line.strip()
    if b";" in inner:
        return b";"
    if b"," not in inner:
        return b"\t" if b"\t" in inner else b" " if b" " in inner else b","
    if b"\t" in inner:
        return b"\t"
    parts = inner.split()
    return b" " if len(parts) > 1 and all(map(_has_decimal_comma, parts)) else b","


def _has_decimal_comma(part: bytes) -> bool:
    """Whether the part is a number in which a comma, if any, stands inside the digits."""
    whole, comma, fraction = part.partition(b",")
    return whole.lstrip(b"+-").isdigit() and (not comma or fraction.isdigit())


def read_header(line: bytes, separator: bytes | None = None) -> Header | None:
    """The header in a line, None where it reads as none: each field a name, none twice.

    A name may be missing at the start, where tables number their rows, and at the end, behind a
    last separator.
    """
    separator = separator or separator_of(line.lstrip(b"#% "))
    text = _decoded(line).lstrip("#% ")
    names = [name.strip().strip("\"'").strip() for name in fields_in(text, separator)]
    if len(names) > 1 and not names[-1]:
        names.pop()
    if len(names) > 1 and not names[0]:
        names[0] = "c0"
    if len(names) > MAX_COLUMNS or len(set(names)) != len(names) or not all(map(is_name, names)):
        return None
    return Header(separator, tuple(names))


def fields_in(text: str, separator: bytes) -> list[str]:
    """Fields of a line; a separator inside quotes parts nothing."""
    if separator == b" ":
        return text.split()
    if '"' in text:
        return next(csv.reader([text], delimiter=separator.decode()), [])
    return text.split(separator.decode())


def _decoded(line: bytes) -> str:
    """Text of a line: UTF-8, else Latin-1 where little of it is beyond ASCII."""
    try:
        return line.decode("utf-8")
    except UnicodeDecodeError:
        beyond = sum(byte > 0x7F for byte in line)
        latin = beyond <= LATIN_SHARE * len(line)
        return line.decode("cp1252" if latin else "utf-8", "replace")


_UNIT_NAME = re.compile(
    r"[\[(]?\s*(?:s|ms|us|µs|V|mV|A|mA|g|mg|deg|degC|degF|°|°C|°F|rad|m/s2|m/s²|deg/s|rad/s|%|counts?"
    r"|raw|bool|-|1|Hz|rpm|K|hPa|uT)?\s*[\])]?"
)


def is_units(line: bytes, separator: bytes) -> bool:
    """Whether a line names units below the names of columns."""
    fields = fields_in(_decoded(line), separator)
    return len(fields) > 1 and all(_UNIT_NAME.fullmatch(field.strip(" \"'")) for field in fields)


def is_name(name: str) -> bool:
    """Whether a field can name a column: printable, begins like a word, not endless."""
    return (
        0 < len(name) <= LONGEST_NAME
        and name.isprintable()
        and "\ufffd" not in name
        and (name[0].isalpha() or name[0] == "_")
    )
