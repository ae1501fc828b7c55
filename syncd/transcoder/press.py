"""Pressing: one track's audio is made into a file that the player can play, and inspected.

decode -> downmix by a stated matrix -> soxr -> dither -> encode, in one run of ffmpeg that also
measures what goes into the encoder. Only what the recipe asks for is in the graph. The file has no
tags; ``syncd.transcoder.dress`` puts them on when it is written to a card.
"""

import contextlib
from pathlib import Path
from typing import Any

import ffmpeg

from syncd.errors import ItemProblem
from syncd.model import AudioFacts, Codec, Track
from syncd.planner.recipe import Recipe
from syncd.transcoder import downmix, inspect, mp3_info
from syncd.transcoder.ffmpeg_port import Ffmpeg, file_address, source
from syncd.transcoder.store import Pressing, Store

_ENCODERS = {
    Codec.FLAC: "flac",
    Codec.MP3: "libmp3lame",
    Codec.OPUS: "libopus",
    Codec.VORBIS: "libvorbis",
    Codec.AAC: "aac",
}
_MUXERS = {"flac": "flac", "mp3": "mp3", "mp4": "mp4", "wav": "wav", "aiff": "aiff"}
_BITEXACT = {"fflags": "+bitexact", "flags:a": "+bitexact"}
_SUBSET_BLOCK = 16384
"""Longest FLAC block of the streamable subset (RFC 9639 section 7); ffmpeg exceeds it above
192 kHz unless told."""


def press(track: Track, recipe: Recipe, store: Store, tool: Ffmpeg) -> Pressing:
    """Return the pressing of *track* by *recipe*: from *store*, or made, inspected and kept there.

    For a recipe that carries over it is the master itself, untouched. Raises ItemProblem when the
    master is gone or damaged or the pressing fails its inspection, SetupProblem when the store
    cannot take it.
    """
    if recipe.action == "carry":
        return carried(track, recipe)
    kept = store.get(track.audio_hash, recipe.key)
    if kept is not None:
        return kept
    if not Path(track.path).is_file():
        raise ItemProblem(
            track.path, f"{_shown(track.path)} is no longer there. Scan the library again."
        )
    part = store.part(recipe.suffix)
    try:
        _make(track, recipe, part, tool)
        return store.put(track.audio_hash, recipe.key, part)
    finally:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)


def carried(track: Track, recipe: Recipe) -> Pressing:
    """The master of *track* as its own pressing. Raises ItemProblem when it is gone."""
    path = Path(track.path)
    try:
        size = path.stat().st_size
    except OSError as error:
        raise ItemProblem(
            track.path,
            f"{_shown(track.path)} cannot be read: {error.strerror}. Scan the library again.",
        ) from error
    return Pressing(track.audio_hash, recipe.key, path, size, hash=None, carried=True)


def _make(track: Track, recipe: Recipe, part: Path, tool: Ffmpeg) -> None:
    item = _shown(track.path)
    limit_s = inspect.time_limit_s(track.audio.duration_s)
    master = source(track.path, track.audio.container)["a:0"]
    run = tool.run(_graph(master, track.audio, recipe, part), item=item, limit_s=limit_s)
    before = inspect.check_source(
        item, track.audio, recipe, inspect.measured(run, recipe.channels), run
    )
    if recipe.codec is Codec.MP3:
        mp3_info.mend(part, before.samples)
    after = inspect.inspect(item, part, recipe, before, tool)
    if inspect.level_agrees(before.mean_dbfs, after.mean_dbfs):
        return
    # A codec that leaves the highest band out is quieter by it: compare what both have.
    pressed = source(str(part), recipe.container)["a:0"]
    low = [
        tool.run(
            inspect.drop(inspect.measure(inspect.low_band(stream))), item=item, limit_s=limit_s
        )
        for stream in (_processed(master, track.audio, recipe), pressed)
    ]
    low_before, low_after = (inspect.measured(one, recipe.channels) for one in low)
    inspect.check_level(
        item,
        before,
        after,
        low_before.mean_dbfs if low_before else 0.0,
        low_after.mean_dbfs if low_after else -91.0,
    )


def _graph(master: Any, audio: AudioFacts, recipe: Recipe, part: Path) -> Any:
    """Outputs of the run: the pressing, and where needed a measuring branch that ends in nothing.

    ``volumedetect`` takes 16-bit samples only; in line with anything longer it would have the
    encoder's input cut down to them.
    """
    stream = _processed(master, audio, recipe)
    if _is_16_bit(audio, recipe):
        return inspect.measure(stream.filter("aformat", sample_fmts="s16")).output(
            file_address(part), **_encoding(recipe)
        )
    branches = stream.filter_multi_output("asplit")
    measuring = inspect.measure(branches.stream(1).filter("aformat", sample_fmts="s16"))
    return ffmpeg.merge_outputs(
        branches.stream(0).output(file_address(part), **_encoding(recipe)), inspect.drop(measuring)
    )


def _is_16_bit(audio: AudioFacts, recipe: Recipe) -> bool:
    """Whether the samples that reach the encoder are 16-bit words without loss."""
    if recipe.lossless:
        return recipe.bits == 16
    untouched = not (recipe.resample or recipe.downmix)
    return untouched and audio.lossless and audio.bits_per_sample == 16 and not audio.profile


def _processed(master: Any, audio: AudioFacts, recipe: Recipe) -> Any:
    """*master* after what the recipe asks for, in the sample format that its encoder gets."""
    stream = master
    working = "dblp" if recipe.lossless else "fltp"
    if recipe.downmix:
        # In floating point: with 16-bit samples ffmpeg mixes in 16-bit arithmetic.
        stream = stream.filter("aformat", sample_fmts=working)
        stream = stream.filter("pan", args=downmix.pan(recipe.downmix))
    if recipe.resample or audio.codec is Codec.AAC:
        # AAC may decode at another rate than its container says; at the same rate it passes.
        stream = stream.filter("aformat", sample_fmts=working)
        stream = stream.filter(
            "aresample", recipe.sample_rate_hz, resampler="soxr", precision=28, osf=working
        )
    if not recipe.lossless:
        if _is_16_bit(audio, recipe):
            return stream
        return stream.filter("aformat", sample_fmts="fltp")
    word: dict[str, object] = {"osf": "s16" if recipe.bits == 16 else "s32"}
    if recipe.dither:
        word["dither_method"] = "triangular"
        if recipe.bits == 24:
            word["output_sample_bits"] = 24
        return stream.filter("aresample", **word)
    return stream.filter("aformat", sample_fmts=word["osf"])


def _encoding(recipe: Recipe) -> dict[str, object]:
    """Options of the output: muxer, encoder and setting, with nothing that varies between runs."""
    options: dict[str, object] = {
        "map_metadata": -1,
        "map_chapters": -1,
        "threads": 1,
        **_BITEXACT,
        "f": _MUXERS.get(recipe.container) or ("opus" if recipe.codec is Codec.OPUS else "ogg"),
        "c:a": _encoder(recipe),
    }
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
        if recipe.sample_rate_hz > 192000:
            options["frame_size"] = _SUBSET_BLOCK
    elif recipe.container == "mp4":
        options["movflags"] = "+faststart"
    return options


def _encoder(recipe: Recipe) -> str:
    if recipe.codec is Codec.PCM:
        return f"pcm_s{recipe.bits}{'be' if recipe.container == 'aiff' else 'le'}"
    return _ENCODERS[recipe.codec]


def _shown(path: str) -> str:
    """*path* as it can be printed: bytes that are not UTF-8 become question marks."""
    return path.encode("utf-8", "replace").decode("utf-8")
