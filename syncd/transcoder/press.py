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
from syncd.planner.gain import level_key
from syncd.planner.recipe import Recipe
from syncd.transcoder import inspect, mp3_info
from syncd.transcoder.copying import remux
from syncd.transcoder.encoders import encoding
from syncd.transcoder.ffmpeg_port import Ffmpeg, file_address, source
from syncd.transcoder.graph import opened, processed
from syncd.transcoder.measuring import Sink, Tap, level_of
from syncd.transcoder.store import Pressing, Store


def press(
    track: Track, recipe: Recipe, store: Store, tool: Ffmpeg, sink: Sink | None = None
) -> Pressing:
    """Return the pressing of *track* by *recipe*: from *store*, or made, inspected and kept there.

    What is encoded for the first time is measured on the way for *sink*, where one is given.
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
        if recipe.action == "remux":
            remux(track, recipe, part, _shown(track.address), tool)
        else:
            _make(track, recipe, part, tool, sink)
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


def _make(track: Track, recipe: Recipe, part: Path, tool: Ffmpeg, sink: Sink | None) -> None:
    item = _shown(track.address)
    limit_s = inspect.time_limit_s(_decoded_s(track))
    master = opened(track, recipe)
    key = level_key(track.audio_hash, recipe)
    # With a gain in the samples it is another loudness than the one that is kept.
    listens = sink is not None and recipe.gain_db is None and not sink.known(key)
    tap = Tap(recipe.sample_rate_hz, recipe.channels, loudness=listens)
    graph = _graph(master, track.audio, recipe, part, tap)
    run = tool.run(graph, item=item, limit_s=limit_s, into=tap.feed)
    seen = tap.seen()
    before = inspect.check_source(item, track.audio, recipe, seen.level, run)
    if recipe.codec is Codec.MP3:
        mp3_info.mend(part, before.samples)
    after = inspect.inspect(item, part, recipe, before, tool)
    if sink is not None and seen.loudness is not None:
        sink.keep(key, seen.loudness)
    if inspect.level_agrees(before.mean_dbfs, after.mean_dbfs):
        return
    # A codec that leaves the highest band out is quieter by it: compare what both have.
    pressed = source(str(part), recipe.container)["a:0"]
    low_before, low_after = (
        level_of(
            inspect.low_band(stream),
            recipe.sample_rate_hz,
            recipe.channels,
            tool,
            item=item,
            limit_s=limit_s,
        )[0].level.mean_dbfs
        for stream in (processed(master, track.audio, recipe), pressed)
    )
    inspect.check_level(item, before, after, low_before, low_after)


def _graph(master: Any, audio: AudioFacts, recipe: Recipe, part: Path, tap: Tap) -> Any:
    """Outputs of the run: the pressing, and the very samples that its encoder gets, to *tap*."""
    branches = processed(master, audio, recipe).filter_multi_output("asplit")
    return ffmpeg.merge_outputs(
        branches.stream(0).output(file_address(part), **encoding(recipe)),
        tap.output(branches.stream(1)),
    )


def _decoded_s(track: Track) -> float:
    """How much must be decoded at most: up to the end of the track's span."""
    start = 0 if track.span is None else track.span.start
    return start / track.audio.sample_rate_hz + track.audio.duration_s


def _shown(path: str) -> str:
    """*path* as it can be printed: bytes that are not UTF-8 become question marks."""
    return path.encode("utf-8", "replace").decode("utf-8")
