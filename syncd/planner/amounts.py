"""Amounts of bytes in words that people read."""

_UNITS = ("bytes", "kB", "MB", "GB", "TB")


def amount(size: int) -> str:
    """*size* bytes for people, in powers of ten as on a card's label: "3.2 GB"."""
    value = float(size)
    for unit in _UNITS:
        if abs(value) < 1000 or unit == _UNITS[-1]:
            return f"{int(value)} {unit}" if unit == "bytes" else f"{value:.1f} {unit}"
        value /= 1000
    return ""


def needs_and_left(needs: int, left: int, reserve: int) -> str:
    """That *needs* bytes are needed and *left* are there beside *reserve*, which stays free.

    Exact where needed and left would look alike.
    """
    needed, there = amount(needs), amount(left)
    if needed == there:
        needed, there = f"{needs:,} bytes", f"{left:,} bytes"
    return f"It needs {needed}, and {there} are left beside the reserve of {amount(reserve)}."
