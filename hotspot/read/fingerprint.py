"""SHA-256 of input files, so that a result names exactly what it was made from."""

import hashlib
from pathlib import Path


def sha256_of(path: Path) -> str:
    """Hexadecimal SHA-256 of a file, read in blocks. Raises OSError where it cannot be read."""
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()
