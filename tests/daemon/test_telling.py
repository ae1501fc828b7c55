"""What the daemon says of an update, in words."""

import pytest
from daemon_kit import DONE, SCANNED

from syncd.daemon.telling import asking_notice, done_text, library_text


@pytest.mark.parametrize(("files", "words"), [(1, "1 file made"), (12, "12 files made")])
def test_music_that_was_made_for_another_profile_is_told(files: int, words: str) -> None:
    told = done_text({**DONE, "other_forms": files})
    assert f"{words} for another profile stayed and may not play" in told


def test_of_none_such_nothing_is_said() -> None:
    assert "profile" not in done_text({**DONE, "other_forms": 0})
    assert "profile" not in done_text(DONE)


def test_the_command_that_is_told_can_be_given_as_it_stands() -> None:
    assert asking_notice("Kitchen Two", "/m").text.endswith("syncd update 'Kitchen Two'")
    assert asking_notice("KITCHEN", "/m").text.endswith("syncd update KITCHEN")


@pytest.mark.parametrize(
    ("found", "words"),
    [
        ({"new": 3, "gone": 1}, "3 new, 0 changed, 0 moved, 1 gone"),
        ({"new": 0, "pictures": 1}, "other covers"),
        ({"new": 0, "pictures": 0, "identified": 7}, "works were identified anew"),
    ],
)
def test_what_changed_in_the_library_is_told_in_words(found: dict[str, int], words: str) -> None:
    assert library_text({**SCANNED, **found}) == f"The library changed: {words}."
