"""Movements that are counted behind their work with no separator but a comma (common practice)."""

import pytest

from syncd.model import TaggedFile
from syncd.works.identify import identify


@pytest.mark.parametrize(
    ("text", "number", "title"),
    [
        ("Symphony No. 5 in C minor, Op. 67, Movement 3", 3, None),
        ("Symphony No. 5 in C minor, Op. 67 3rd Movement", 3, None),
        ("Symphony No. 5 in C minor, Op. 67, mvt. 3", 3, None),
        ("Symphony No. 5 in C minor, Op. 67 Movement III", 3, None),
        ("Symphony No. 5 in C minor, Op. 67 Movement 3: Allegro", 3, "Allegro"),
        ("Symphony No. 5 in C minor, Op. 67, Fourth Movement: Allegro", 4, "Allegro"),
        ("Sinfonie Nr. 5 c-Moll op. 67 3. Satz", 3, None),
        ("Sinfonie Nr. 5 c-Moll op. 67, dritter Satz", 3, None),
        ("Symphonie n° 5 en ut mineur, op. 67, 3e mouvement", 3, None),
        ("Sinfonia n. 5 in do minore op. 67 3° movimento", 3, None),
    ],
)
def test_a_movement_counted_behind_its_work_is_read(
    text: str, number: int, title: str | None
) -> None:
    file = TaggedFile("a/1.flac", {"COMPOSER": ["Beethoven"], "TITLE": [text]})
    (identity,) = identify([file])
    assert identity.work is not None and identity.movement is not None
    assert (identity.work.title, identity.work.catalogue) == ("Symphony No. 5", ("Op. 67",))
    assert identity.work.key == "C minor"
    assert (identity.movement.number, identity.movement.title) == (number, title)


@pytest.mark.parametrize(
    ("text", "title"),
    [
        ("Symphony in Three Movements", "Symphony in Three Movements"),
        ("Quartet Movement in C minor", "Quartet Movement"),
        (
            "Theme from the Second Movement of Symphony No. 5",
            "Theme from the Second Movement of Symphony No. 5",
        ),
    ],
)
def test_a_movement_in_running_text_is_not_counted(text: str, title: str) -> None:
    file = TaggedFile("a/1.flac", {"COMPOSER": ["Beethoven"], "TITLE": [text]})
    (identity,) = identify([file])
    assert identity.work is not None and identity.work.title == title
    assert identity.movement is None
