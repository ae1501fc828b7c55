"""The conventional English title of a form with its medium: "Piano Trio", "Violin Sonata".

The rules are those of published cataloguing conventions for general forms. The words of
a title are read elsewhere.
"""

from collections.abc import Mapping, Sequence

_CHAMBER = frozenset({"Trio", "Quartet", "Quintet", "Sextet", "Septet", "Octet", "Nonet"})
_SOLO = frozenset({"Sonata", "Sonatina", "Suite", "Partita", "Duo"})
_ORCHESTRAL = frozenset({"Concerto", "Concertino", "Symphony", "Fantasia", "Concert Piece"})
_STRING_PLAYERS = frozenset({"violin", "viola", "cello", "double bass"})
_KEYBOARD = ("piano", "harpsichord", "fortepiano", "organ")
_COUNT_NAMES = {2: "Two", 3: "Three", 4: "Four", 5: "Five", 6: "Six"}


def medium_title(
    form: str,
    instruments: Sequence[str],
    counts: Mapping[str, int],
    section: str | None,
    orchestra: bool,
    numbered: bool,
) -> str:
    """The title of *form* for *instruments*, each once or as *counts* says.

    *section* is an adjective that the title has ("String"), *orchestra* says that one is named,
    *numbered* that the work has a number within its form.
    """
    names = [name for name in instruments if name != "strings"]
    strings = len(names) < len(instruments)
    if form == "Sinfonia" and numbered:
        form = "Symphony"
    if form in _CHAMBER:
        return _chamber_title(form, names, section, strings, numbered)
    if form in _SOLO:
        return _solo_title(form, names, counts, section)
    if form in _ORCHESTRAL:
        return _orchestral_title(form, names, counts, section, orchestra, strings)
    return form


def _chamber_title(
    form: str, names: Sequence[str], section: str | None, strings: bool, numbered: bool
) -> str:
    if section and section != "Chamber":
        return f"{section} {form}"
    if not names:
        usual = form in ("Quartet", "Quintet") and numbered
        return f"String {form}" if strings or usual else form
    for name in names:
        if name not in _STRING_PLAYERS and name != "piano":
            return f"{_capitals(name)} {form}"
    return f"Piano {form}" if "piano" in names else f"String {form}"


def _solo_title(
    form: str, names: Sequence[str], counts: Mapping[str, int], section: str | None
) -> str:
    if section and section not in ("Solo", "Chamber"):
        return f"{section} {form}"
    if not names:
        return form
    melodic = [name for name in names if name not in _KEYBOARD]
    chief = names if len(names) == 1 else melodic if len(names) == 2 else ()
    if len(chief) == 1 and counts.get(chief[0], 1) == 1:
        return f"{_capitals(chief[0])} {form}"
    return f"{form} for {_listed(names, counts)}"


def _orchestral_title(
    form: str,
    names: Sequence[str],
    counts: Mapping[str, int],
    section: str | None,
    orchestra: bool,
    strings: bool,
) -> str:
    if section in ("Piano", "Violin", "Cello", "Clarinet") and not names:
        return f"{section} {form}"
    if section and section != "Solo" and form == "Symphony":
        return f"{section} {form}"
    if len(names) == 1:
        if counts.get(names[0], 1) > 1:
            return f"{form} for {_listed(names, counts)}"
        return form if form == "Fantasia" else f"{_capitals(names[0])} {form}"
    if names and form not in ("Symphony", "Fantasia"):
        return f"{form} for {_listed(names, counts)}"
    if form in ("Concerto", "Concertino") and orchestra and not names:
        kind = f"{section} " if section in ("String", "Chamber", "Wind", "Brass") else ""
        return f"{form} for {kind}Orchestra"
    if form == "Concerto" and strings:
        return "Concerto for Strings"
    return form


def joined(words: Sequence[str]) -> str:
    """*words* as a list in English: "A", "A and B", "A, B and C"."""
    if len(words) == 1:
        return words[0]
    return ", ".join(words[:-1]) + f" and {words[-1]}"


def _listed(names: Sequence[str], counts: Mapping[str, int]) -> str:
    return joined([_counted(name, counts.get(name, 1)) for name in names])


def _counted(name: str, count: int) -> str:
    if count > 1:
        return f"{_COUNT_NAMES.get(count, str(count))} {_capitals(name)}s"
    return _capitals(name)


def _capitals(name: str) -> str:
    return " ".join(word.capitalize() for word in name.split(" "))
