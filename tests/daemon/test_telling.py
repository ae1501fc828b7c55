"""What the daemon says of an update, in words."""

import pytest
from daemon_kit import DONE

from syncd.daemon.telling import asking_notice, done_text


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
