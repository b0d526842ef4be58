"""Names on disk: readable, safe on every file system, sorting in the order of shooting.

A shot's folder is ``<serial> <slug>``, an original ``<slug>_<serial>.<extension>``. The slug is
made from the name the shot had at first; renaming a shot renames nothing on disk. Serials are
never used twice.
"""

import re
import unicodedata

SLUG_MAX = 40
TEMPORARY = ".part"
_NOT_PLAIN = re.compile(r"[^a-z0-9]+")
_ORIGINAL = re.compile(r"^[a-z0-9-]+_([0-9]{6,})(_[0-9]+)?\.[a-z0-9]{1,8}$")
_FOLDER = re.compile(r"^([0-9]{4,}) ([a-z0-9-]+)$")


def slug(name: str) -> str:
    """ASCII letters, digits and hyphens only; ``shot`` where nothing of the name remains."""
    plain = unicodedata.normalize("NFKD", name[:400]).encode("ascii", "ignore").decode().lower()
    return _NOT_PLAIN.sub("-", plain).strip("-")[:SLUG_MAX].strip("-") or "shot"


def shot_folder(serial: int, stem: str) -> str:
    """The folder of the ``serial``-th shot."""
    return f"{serial:04d} {stem}"


def folder_parts(folder: str) -> tuple[int, str] | None:
    """Serial and slug of a shot's folder; ``None`` where the name is not one of ours."""
    match = _FOLDER.match(folder)
    return (int(match[1]), match[2]) if match else None


def original_names(stem: str, serial: int, extensions: list[str]) -> list[str]:
    """One name per file of an exposure; a second file of the same kind gets ``_2`` and so on."""
    names: list[str] = []
    for extension in extensions:
        kind = extension.lower() if re.fullmatch(r"[A-Za-z0-9]{1,8}", extension) else "bin"
        name, count = f"{stem}_{serial:06d}.{kind}", 1
        while name in names:
            count += 1
            name = f"{stem}_{serial:06d}_{count}.{kind}"
        names.append(name)
    return names


def serial_of(file_name: str) -> int | None:
    """The serial in an original's name; ``None`` where the name is not one of ours."""
    match = _ORIGINAL.match(file_name)
    return int(match[1]) if match else None


def temporary(file_name: str) -> str:
    """The name a file has until it is whole."""
    return f".{file_name}{TEMPORARY}"


def is_temporary(file_name: str) -> bool:
    """Whether a file was left half written."""
    return file_name.startswith(".") and file_name.endswith(TEMPORARY)
