"""Bytes from the day folder, whatever lies there: every way a file cannot be read is a problem."""

from __future__ import annotations

import codecs
import hashlib
import stat
from pathlib import Path

from scheduler.intake.findings import FILES, Findings, nearest, one_line

MAX_BYTES = 20_000_000


def there(path: Path) -> bool:
    """Whether anything of this name lies in the folder, a broken link included."""
    return path.exists() or path.is_symlink()


def open_folder(folder: Path, found: Findings) -> bool:
    """Whether the folder can be looked into; if not, the problem is noted."""
    try:
        if not folder.exists():
            found.add(str(folder), "", "", "", "there is no such folder", "Make one with: pressday new DIR.")
        elif not folder.is_dir():
            found.add(str(folder), "", "", "", "this is a file, not a folder", "Name the folder that holds shop.toml.")
        else:
            next(folder.iterdir(), None)
            return True
    except (OSError, ValueError) as error:
        found.add(one_line(str(folder)), "", "", "", f"the folder cannot be opened ({reason(error)})", "Check it.")
    return False


def read_bytes(path: Path, found: Findings) -> bytes | None:
    """The file's bytes, or None with the problem noted."""
    name = path.name
    try:
        mode = path.stat().st_mode
        if stat.S_ISDIR(mode):
            found.add(name, "", "", "", "this is a folder, not a file", f"Put a file named {name} in its place.")
        elif not stat.S_ISREG(mode):
            found.add(name, "", "", "", "this is not an ordinary file", f"Put a file named {name} in its place.")
        else:
            return _limited(path, found)
    except FileNotFoundError:
        found.add(name, "", "", "", "there is no such file in the folder", _missing_hint(path))
    except PermissionError:
        found.add(name, "", "", "", "the file may not be read (no permission)", "Give yourself the right to read it.")
    except (OSError, ValueError) as error:
        found.add(name, "", "", "", f"the file cannot be read ({reason(error)})", "Check the disk and the file.")
    return None


def sha256(data: bytes) -> str:
    """The file's fingerprint, hexadecimal."""
    return hashlib.sha256(data).hexdigest()


def reason(error: Exception) -> str:
    """The system's own short words for what failed."""
    return one_line(getattr(error, "strerror", None) or str(error) or type(error).__name__, 120)


def utf8(data: bytes, name: str, found: Findings) -> str | None:
    """TOML's text: UTF-8 by its specification (v1.0), without a byte order mark."""
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        found.add(name, "line 1", "", "", "the file is UTF-16, TOML is UTF-8", "Save it as UTF-8 without a BOM.")
        return None
    if data.startswith(codecs.BOM_UTF8):
        found.add(name, "line 1", "", "", "the file starts with a byte order mark", "Save it as UTF-8 without a BOM.")
        data = data.removeprefix(codecs.BOM_UTF8)
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        _bad_byte(name, data, error.start, "is not UTF-8", found)
        return None


def table_text(data: bytes, name: str, found: Findings) -> str | None:
    """A CSV's text: UTF-8 with or without BOM, UTF-16 with BOM, else Windows-1252."""
    try:
        if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
            text = data.decode("utf-16")
        else:
            text = _utf8_or_1252(data.removeprefix(codecs.BOM_UTF8))
    except UnicodeDecodeError as error:
        _bad_byte(name, data, error.start, "belongs to no encoding tried (UTF-8, UTF-16, Windows-1252)", found)
        return None
    if "\0" in text:
        line = text[: text.index("\0")].count("\n") + 1
        found.add(name, f"line {line}", "", "\\x00", "a NUL character stands in the text", "Save the table as UTF-8.")
        return None
    return text


def _utf8_or_1252(data: bytes) -> str:
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        return data.decode("cp1252")


def _bad_byte(name: str, data: bytes, at: int, what: str, found: Findings) -> None:
    line = data[:at].count(b"\n") + 1
    value = f"byte 0x{data[at]:02x}" if at < len(data) else ""
    found.add(name, f"line {line}", "", value, f"a byte {what}", "Save the file as UTF-8.")


def _limited(path: Path, found: Findings) -> bytes | None:
    with path.open("rb") as stream:
        data = stream.read(MAX_BYTES + 1)
    if len(data) <= MAX_BYTES:
        return data
    found.add(path.name, "", "", "", "the file is larger than 20 MB", "A day's file is far smaller: split the days.")
    return None


def _missing_hint(path: Path) -> str:
    others = [p.name for p in path.parent.iterdir() if p.name not in FILES]
    near = nearest(path.name, others, 1)
    return f"Rename {one_line(near[0])} to {path.name}." if near else f"Write {path.name}, or start with: pressday new."
