"""Encoders and muxers: the options of ffmpeg that write a recipe's kind of file.

Nothing in them varies between runs, so equal samples give equal bytes.
"""

from syncd.model import Codec
from syncd.planner.recipe import Recipe

_ENCODERS = {
    Codec.FLAC: "flac",
    Codec.MP3: "libmp3lame",
    Codec.OPUS: "libopus",
    Codec.VORBIS: "libvorbis",
    Codec.AAC: "aac",
}
_MUXERS = {
    "flac": "flac",
    "mp3": "mp3",
    "mp4": "mp4",
    "wav": "wav",
    "aiff": "aiff",
    "aac": "adts",
}
_BITEXACT = {"fflags": "+bitexact", "flags:a": "+bitexact"}
_BLOCKS = ((48000, 4608), (96000, 8192))
"""FLAC block sizes by the highest rate that they are for: about 0.1 s, which is what ffmpeg chooses
by itself unless its first frame is shorter. Up to 48 kHz also the longest of the streamable subset
(RFC 9639 section 7)."""
_LONGEST_BLOCK = 16384
"""The longest of the subset at higher rates."""


def copying(recipe: Recipe) -> dict[str, object]:
    """Options of an output that is a remux: coded frames as they are, plain samples exactly."""
    options = _muxing(recipe)
    options["c:a"] = _words(recipe) if recipe.codec is Codec.PCM else "copy"
    if recipe.container == "mp4":
        options["movflags"] = "+faststart"
    elif recipe.container == "flac":
        options["metadata_header_padding"] = 0
    return options


def _words(recipe: Recipe) -> str:
    big = recipe.container == "aiff"
    if recipe.bits == 8:
        return "pcm_s8" if big else "pcm_u8"
    return f"pcm_s{recipe.bits}{'be' if big else 'le'}"


def _muxing(recipe: Recipe) -> dict[str, object]:
    return {
        "map_metadata": -1,
        "map_chapters": -1,
        "threads": 1,
        **_BITEXACT,
        "f": _MUXERS.get(recipe.container) or ("opus" if recipe.codec is Codec.OPUS else "ogg"),
    }


def encoding(recipe: Recipe) -> dict[str, object]:
    """Options of the output: muxer, encoder and setting, with nothing that varies between runs."""
    options = _muxing(recipe)
    options["c:a"] = _encoder(recipe)
    if recipe.bitrate_kbps is not None:
        options["b:a"] = f"{recipe.bitrate_kbps}k"
    if recipe.codec is Codec.MP3:
        if recipe.quality is not None:
            options["q:a"] = recipe.quality
        options |= {"id3v2_version": 0, "write_id3v1": 0, "write_xing": 1}
    elif recipe.codec is Codec.FLAC:
        options |= {"compression_level": recipe.level, "metadata_header_padding": 0}
        if recipe.bits == 24:
            options |= {"sample_fmt": "s32", "bits_per_raw_sample": 24}
        # Said always: else it is the length of the first frame, as the master's encoder chose it.
        options["frame_size"] = recipe.block_samples or _block(recipe.sample_rate_hz)
    elif recipe.codec is Codec.OPUS and recipe.constant:
        options["vbr"] = "off"
    elif recipe.codec is Codec.VORBIS and recipe.constant:
        options |= {"minrate": options["b:a"], "maxrate": options["b:a"]}
    elif recipe.container == "mp4":
        options["movflags"] = "+faststart"
    return options


def _block(rate_hz: int) -> int:
    return next((block for most, block in _BLOCKS if rate_hz <= most), _LONGEST_BLOCK)


def _encoder(recipe: Recipe) -> str:
    if recipe.codec is Codec.PCM:
        return _words(recipe)
    return _ENCODERS[recipe.codec]
