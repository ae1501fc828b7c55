"""What the daemon says of an update, in words."""

import pytest
from daemon_kit import DONE

from syncd.daemon.telling import done_text


@pytest.mark.parametrize(("files", "words"), [(1, "1 file made"), (12, "12 files made")])
def test_music_that_was_made_for_another_profile_is_told(files: int, words: str) -> None:
    told = done_text({**DONE, "other_forms": files})
    assert f"{words} for another profile stayed and may not play" in told


def test_of_none_such_nothing_is_said() -> None:
    assert "profile" not in done_text({**DONE, "other_forms": 0})
    assert "profile" not in done_text(DONE)
