"""What the settings file may say. Where it is, is ``settings.py``'s affair."""

from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field, ValidationInfo, field_validator

from syncd.toml_config import Table, read_table


class Settings(Table):
    """What ``syncd.toml`` may say. Every key may be left out.

    ``ffmpeg``: path of another ffmpeg than the one that came with syncd. ``workers``: encoders at
    once, default one a core. ``store_limit_gb``: size of the store in 10^9 bytes, above which the
    pressings that were not used for longest are removed. ``damaged``: whether damaged files are
    left out of cards, as the rest of their recording is, or used as far as they can be decoded;
    the errata may say otherwise of some.

    For the daemon: ``card_folders`` are looked at for cards besides what is mounted,
    ``settle_seconds`` is how long nothing must happen in a folder of the library before it is
    taken to be finished; ``polled_roots`` are roots of the library of which the system does not
    tell changes, though it seems to, whose folders are looked at every ``poll_minutes`` as those
    on network shares are, and ``rescan_minutes`` is how often such roots are scanned;
    ``notice_command`` is a program that is called with the title and the text of each notice
    instead of the desktop (and gets them as JSON on its standard input); without
    ``desktop_notices`` they are in the log only.
    """

    format: Literal[1] = 1
    ffmpeg: str | None = None
    workers: Annotated[int, Field(ge=1, le=256)] | None = None
    store_limit_gb: Annotated[float, Field(gt=0)] = 100.0
    damaged: Literal["leave out", "use"] = "leave out"
    card_folders: list[str] = Field(default_factory=list)
    settle_seconds: Annotated[float, Field(ge=1, le=86_400)] = 60.0
    polled_roots: list[str] = Field(default_factory=list)
    poll_minutes: Annotated[float, Field(gt=0)] = 5.0
    rescan_minutes: Annotated[float, Field(gt=0)] = 60.0
    notice_command: Annotated[list[str], Field(min_length=1)] | None = None
    desktop_notices: bool = True

    @field_validator("ffmpeg", "card_folders", "polled_roots", "notice_command")
    @classmethod
    def _whole_paths(cls, said: str | list[str] | None, info: ValidationInfo) -> Any:
        """With ~ as the shell has it. The daemon is in no folder that a path could begin in."""
        if said is None:
            return None
        if isinstance(said, str):
            return _program(said)
        if info.field_name == "notice_command":
            return [_program(said[0]), *said[1:]]
        return [_whole(place) for place in said]


def _program(said: str) -> str:
    """A program by its path, or by its name alone, which is looked for where programs are."""
    return _whole(said) if "/" in said else said


def _whole(said: str) -> str:
    try:
        place = Path(said).expanduser()
    except RuntimeError as error:
        raise ValueError(f"'{said}' begins in the folder of a user who is not known") from error
    if not place.is_absolute():
        raise ValueError(f"'{said}' is not a whole path; it must begin with / or ~")
    return str(place)


def read_settings(path: Path) -> Settings:
    """The settings in *path*; defaults where there is no file. Raises SetupProblem."""
    return read_table(path, Settings, "settings file") if path.exists() else Settings()
