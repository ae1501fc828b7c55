"""mutagen's modules, loaded when the first file is read: a scan with nothing new needs none.

They come back as Any, since mutagen's own annotations cover it only in part.
"""

from functools import cache
from importlib import import_module
from typing import Any


@cache
def mutagen(module: str = "") -> Any:
    """The module ``mutagen.<module>``, or mutagen itself."""
    return import_module(f"mutagen.{module}" if module else "mutagen")
