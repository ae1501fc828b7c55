"""Pressing: one track's audio is made into a file that the player can play, and inspected.

decode -> downmix by a stated matrix -> soxr -> dither -> encode, in one run of ffmpeg that also
measures what goes into the encoder. Only what the recipe asks for is in the graph; with a join,
``around.py`` puts the neighbours' audio about the track's. The file has no tags;
``syncd.transcoder.dress`` puts them on when it is written to a card.
"""

import contextlib
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import ffmpeg

from syncd.errors import ItemProblem
from syncd.library.asknown import Holds, anything, sure
from syncd.model import Track
from syncd.planner.gain import level_key
from syncd.planner.recipe import Recipe
from syncd.transcoder import inspect
from syncd.transcoder.around import Counted, around, check_others, others
from syncd.transcoder.checking import DamagedSource, Witness, checked, checksum_file
from syncd.transcoder.copying import remux
from syncd.transcoder.edges import mend, mirrors, with_mirrors
from syncd.transcoder.encoders import encoding
from syncd.transcoder.ffmpeg_port import Ffmpeg, file_address, source
from syncd.transcoder.graph import (
    is_16_bit,
    is_the_masters_16_bit,
    may_exceed,
    opened,
    processed,
    unworded,
    worded,
)
from syncd.transcoder.measuring import Sink, Tap, level_of
from syncd.transcoder.overs import UnclippedTap
from syncd.transcoder.store import Pressing, Store
from syncd.utf8 import printable


def press(
    track: Track,
    recipe: Recipe,
    store: Store,
    tool: Ffmpeg,
    sink: Sink | None = None,
    *,
    forgiven: bool = False,
    holds: Holds = anything,
) -> Pressing:
    """Return the pressing of *track* by *recipe*: from *store*, or made, inspected and kept there.

    What is encoded for the first time is measured on the way for *sink*, where one is given.
    For a recipe that carries over it is the master itself, untouched. Whether the master is sound
    is remembered in the store; with *forgiven* a damaged one is used as far as it can be decoded.
    Raises ItemProblem when the master is gone, by what *holds* says another one than the library
    knows, or (DamagedSource) damaged, or the pressing fails its inspection; SetupProblem when the
    store cannot take it.
    """
    if recipe.action == "carry":
        return carried(track, recipe)
    kept = store.get(track.audio_hash, recipe.key)
    if kept is not None:
        return kept
    if not Path(track.path).is_file():
        raise ItemProblem(
            track.path, f"{printable(track.path)} is no longer there. Scan the library again."
        )
    part = store.part(recipe.suffix)
    try:
        if recipe.action == "remux":
            damage = checked(track, tool, store.checks(), holds)
            if damage is not None and not forgiven:
                raise DamagedSource(printable(track.address), damage)
            remux(track, recipe, part, printable(track.address), tool, forgiven=damage is not None)
            sure(track, holds)
        else:
            _make(track, recipe, part, tool, sink, store, forgiven, holds)
        return store.put(track.audio_hash, recipe.key, part, tool.version())
    finally:
        for left in (part, checksum_file(part)):
            with contextlib.suppress(OSError):
                left.unlink(missing_ok=True)


def carried(track: Track, recipe: Recipe) -> Pressing:
    """The master of *track* as its own pressing. Raises ItemProblem when it is gone."""
    path = Path(track.path)
    try:
        size = path.stat().st_size
    except OSError as error:
        raise ItemProblem(
            track.path,
            f"{printable(track.path)} cannot be read: {error.strerror}. Scan the library again.",
        ) from error
    return Pressing(track.audio_hash, recipe.key, path, size, hash=None, carried=True)


def _make(
    track: Track,
    recipe: Recipe,
    part: Path,
    tool: Ffmpeg,
    sink: Sink | None,
    store: Store,
    forgiven: bool,
    holds: Holds,
) -> None:
    item = printable(track.address)
    if recipe.join is not None:
        check_others(item, track, recipe.join)
    try:
        _encode(track, recipe, part, tool, sink, store, forgiven, holds, alone=False)
    except DamagedSource:
        raise
    except ItemProblem:
        if recipe.join is None or not others(track, recipe.join):
            raise
        # It may be a neighbour that is damaged, and will be told of by itself.
        _encode(track, recipe, part, tool, sink, store, forgiven, holds, alone=True)
        store.notices.append(
            f"{item} runs on from or into a damaged file. It was pressed with silence in place of "
            "that, and will be pressed again when the other is repaired."
        )


def _encode(
    track: Track,
    recipe: Recipe,
    part: Path,
    tool: Ffmpeg,
    sink: Sink | None,
    store: Store,
    forgiven: bool,
    holds: Holds,
    *,
    alone: bool,
) -> None:
    """Make *part* and inspect it. With *alone*, silence is what filters hear of other files."""
    item = printable(track.address)
    limit_s = inspect.time_limit_s(_decoded_s(track, recipe))
    key = level_key(track.audio_hash, recipe)
    # With a gain in the samples it is another loudness than the one that is kept.
    listens = sink is not None and recipe.gain_db is None and not sink.known(key)
    own_words = recipe.join is None and is_the_masters_16_bit(track.audio, recipe)
    witness = Witness(track, part, store.checks(), sees_words=own_words)
    # What the word length may clip is measured before it, everything else in the words it gets.
    clips = recipe.lossless and may_exceed(track.audio, recipe)
    tap = (UnclippedTap if clips else Tap)(
        recipe.sample_rate_hz,
        recipe.channels,
        loudness=listens,
        words=not clips and is_16_bit(track.audio, recipe),
        digest=witness.wants_digest,
    )
    process = unworded if clips else processed
    finish = partial(worded, audio=track.audio, recipe=recipe) if clips else None
    missing = 0
    if recipe.join is None:
        stream = process(opened(track, recipe), track.audio, recipe)
        made = mirrors(track, recipe, None)
        mirrored = partial(with_mirrors, samples=track.audio.samples or 0, made=made)
        graph = witness.joined(_graph(stream, recipe, part, tap, mirrored, finish))
        run = tool.run(graph, item=item, limit_s=limit_s, into=tap.feed)
    else:
        placed = around(track, recipe, alone=alone, to=process)
        counted = Counted(tap, placed.own)
        made = mirrors(track, recipe, placed.own)

        def own(branch: Any) -> Any:
            return with_mirrors(placed.cut(branch), placed.own, made)

        graph = witness.joined(_graph(placed.stream, recipe, part, tap, own, finish))
        run = tool.run(graph, item=item, limit_s=limit_s, into=counted.feed)
        missing = placed.missing(counted.frames)
    sure(track, holds)  # what was decoded is about to be kept under its hash
    seen = tap.seen()
    before = seen.level
    shared = recipe.join is not None and not alone
    damage = witness.testimony(
        recipe, before, run, tool, limit_s, missing, digest=tap.md5, shared=shared
    )
    if damage is not None and not forgiven:
        raise DamagedSource(item, damage)
    mend(part, recipe, before.samples, made)
    after = inspect.inspect(item, part, recipe, before, tool)
    if sink is not None and seen.loudness is not None:
        sink.keep(key, seen.loudness)
    peak = tap.peak if isinstance(tap, UnclippedTap) else before.sample_peak
    store.overs.see(item, recipe, peak)
    if inspect.level_agrees(before.mean_dbfs, after.mean_dbfs):
        return
    # A codec that leaves the highest band out is quieter by it: compare what both have.
    pressed = source(str(part), recipe.container)["a:0"]
    edged = replace(recipe, join=None)  # its edges do not matter for a level
    low_before, low_after = (
        level_of(
            inspect.low_band(stream),
            recipe.sample_rate_hz,
            recipe.channels,
            tool,
            item=item,
            limit_s=limit_s,
        )[0].level.mean_dbfs
        for stream in (processed(opened(track, edged), track.audio, edged), pressed)
    )
    inspect.check_level(item, before, after, low_before, low_after)


def _graph(
    stream: Any,
    recipe: Recipe,
    part: Path,
    tap: Tap,
    ends: Callable[[Any], Any],
    finish: Callable[[Any], Any] | None,
) -> Any:
    """Outputs of the run: the pressing, and the very samples that its encoder gets, to *tap*.

    *ends* cuts or extends what the encoder gets; the tap gets *stream* as it is. With *finish*
    what the tap gets is still in floating point, and the encoder gets what *finish* makes of it.
    """
    branches = stream.filter_multi_output("asplit")
    pressed, measured = branches.stream(0), branches.stream(1)
    if finish is not None:
        # On both branches, else ffmpeg may make 32-bit floats for the tap before they part.
        pressed = finish(pressed.filter("aformat", sample_fmts="dblp"))
        measured = measured.filter("aformat", sample_fmts="dblp")
    return ffmpeg.merge_outputs(
        ends(pressed).output(file_address(part), **encoding(recipe)),
        tap.output(measured),
    )


def _decoded_s(track: Track, recipe: Recipe) -> float:
    """How much must be decoded at most: up to the end of the track's span, and its neighbours."""
    start = 0 if track.span is None else track.span.start
    seconds = start / track.audio.sample_rate_hz + track.audio.duration_s
    if recipe.join is not None:
        seconds += sum(other.audio.duration_s for other in others(track, recipe.join))
    return seconds
