"""Prints the licence of everything that Standclear needs to run, and ends with 1 at one unknown.

Usage: python deploy/licences.py. Reads what is installed; asks nobody.
"""

import re
import sys
from importlib.metadata import Distribution, PackageNotFoundError, distribution

FREE = re.compile(
    r"\b(MIT|MIT-CMU|BSD|Apache|PSF|Python Software Foundation|ISC|Zlib|Unlicense|MPL|HPND|OFL|EPL|"
    r"LGPL|GNU Lesser|GPL)\b",
    re.IGNORECASE,
)
#: Said nowhere that a program can read; read by a person in the package's own files.
READ = {
    "gphoto2": "LGPL-3.0-or-later",
    "python-bidi": "LGPL-3.0-or-later",
    "simplejpeg": "MIT",
}


def needed(name: str, seen: dict[str, Distribution]) -> None:
    """``name`` and all that it needs, without extras, into ``seen``."""
    key = re.sub(r"[-_.]+", "-", name).lower()
    if key in seen:
        return
    try:
        seen[key] = distribution(name)
    except PackageNotFoundError:
        return  # for another platform or Python
    for requirement in seen[key].requires or ():
        if "extra ==" not in requirement:
            needed(re.split(r"[ ;<>=!~\[(]", requirement, maxsplit=1)[0], seen)


def licence(key: str, found: Distribution) -> str:
    """In one line, as far as it is told."""
    told = found.metadata
    classes = (one for one in told.get_all("Classifier") or () if one.startswith("License ::"))
    texts = [told.get("License-Expression"), *(one.split("::")[-1].strip() for one in classes)]
    texts += [(told.get("License") or "").split("\n")[0], READ.get(key)]
    return "; ".join(dict.fromkeys(text[:60] for text in texts if text)) or "unknown"


def main() -> int:
    """Print, and say whether all are known."""
    seen: dict[str, Distribution] = {}
    needed("standclear", seen)
    unknown = 0
    for key, found in sorted(seen.items()):
        says = licence(key, found)
        fine = FREE.search(says) is not None
        unknown += not fine
        sys.stdout.write(f"{'  ' if fine else '? '}{key} {found.version}: {says}\n")
    sys.stdout.write(f"{len(seen)} packages, {unknown} of unknown licence\n")
    return 1 if unknown else 0


if __name__ == "__main__":
    sys.exit(main())
