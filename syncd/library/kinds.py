"""The kinds of files that count as audio by their names. What a file really is, ``sniff`` finds."""

from pathlib import PurePath

AUDIO_SUFFIXES = {
    ".flac": "flac",
    ".fla": "flac",
    ".mp3": "mp3",
    ".m4a": "mp4",
    ".m4b": "mp4",
    ".mp4": "mp4",
    ".aac": "aac",
    ".ogg": "ogg",
    ".oga": "ogg",
    ".opus": "ogg",
    ".wav": "wav",
    ".wave": "wav",
    ".rf64": "wav",
    ".aif": "aiff",
    ".aiff": "aiff",
    ".aifc": "aiff",
    ".wv": "wavpack",
    ".tta": "tta",
    ".ape": "ape",
    ".wma": "asf",
    ".asf": "asf",
    ".dsf": "dsf",
    ".dff": "dff",
    ".mp2": "mp3",
}
"""Suffixes of files that syncd reads, with the container that the suffix promises."""

FOREIGN_SUFFIXES = frozenset(
    {".mpc", ".mp+", ".tak", ".ra", ".ac3", ".dts"}
    | {".mka", ".shn", ".ofr", ".au", ".amr", ".spx", ".m4p", ".caf", ".w64"}
)
"""Suffixes of audio that syncd does not read: such files are listed with that reason."""

CONTAINER_NAMES = {
    "flac": "FLAC",
    "mp3": "MPEG audio",
    "mp4": "MP4",
    "ogg": "Ogg",
    "wav": "WAV",
    "aiff": "AIFF",
    "wavpack": "WavPack",
    "aac": "AAC in ADTS frames",
    "tta": "TTA",
    "ape": "APE",
    "asf": "WMA",
    "dsf": "DSF",
    "dff": "DSDIFF",
}


def promised_container(path: str) -> str | None:
    """The container that the name of *path* promises, None if it promises none."""
    return AUDIO_SUFFIXES.get(PurePath(path).suffix.lower())
