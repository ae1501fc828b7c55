"""The page about profiles: it names every key, and every way in which tags give way."""

from pathlib import Path

import pytest

from syncd.profile import Profile
from syncd.toml_config import Table
from syncd.transcoder.fitting import LAST_TO_GO

PAGE = (Path(__file__).resolve().parent.parent / "docs" / "profiles.md").read_text("utf-8")


def keys(table: type[Table]) -> set[str]:
    found = set(table.model_fields)
    for field in table.model_fields.values():
        inner = [field.annotation, *getattr(field.annotation, "__args__", ())]
        for kind in inner:
            if isinstance(kind, type) and issubclass(kind, Table):
                found |= keys(kind)
    return found


def test_the_walk_over_the_tables_finds_keys_at_every_depth() -> None:
    assert {"plays", "object_types", "art_byte_order", "block_samples", "name"} <= keys(Profile)


@pytest.mark.parametrize("key", sorted(keys(Profile)))
def test_every_key_is_explained(key: str) -> None:
    assert f"`{key}`" in PAGE or f"`[{key}]`" in PAGE or f"`[[{key}]]`" in PAGE


def test_the_order_in_which_fields_go_is_that_of_the_program() -> None:
    order = [name for name in LAST_TO_GO if not name.startswith(("REPLAYGAIN", "R128"))]
    places = [PAGE.index(f"{name},") for name in order[:-1]]
    assert places == sorted(places)
    assert PAGE.index("the fields of gain") < PAGE.index("ALBUMARTIST,")
