"""Which tracks run on into each other, and what their filters shall hear beyond their edges. Pure.

Only recipes that resample or undo pre-emphasis have use for it; for all others there is nothing
to join, since their samples are the master's or depend on no neighbour.

What runs on: tracks that follow each other in a recording or an album and lie in one folder, with
consecutive track numbers on one disc (without track numbers, consecutive movements); and the spans
of one file, whose neighbours are whatever lies beside them in the file. Whether there is silence
between them is not asked: then the context is silence and changes nothing.
"""

from collections.abc import Sequence
from dataclasses import replace
from math import gcd
from typing import Protocol

from syncd.model import AudioFacts, CataloguedTrack, Codec, Track
from syncd.planner.join import CONTEXT_S, Join, Piece, join_of
from syncd.planner.recipe import Recipe

_TOLD = "joined without a break to what is played beside it"


class Joined(Protocol):
    """A track on its way to a card, as far as its edges are concerned."""

    entry: CataloguedTrack
    recipe: Recipe
    recipe_key: str


def has_edges(recipe: Recipe) -> bool:
    """Whether what *recipe* does to a track's edges depends on what is beyond them."""
    return recipe.action == "encode" and (recipe.resample or recipe.deemphasis)


def join_members(entries: Sequence[CataloguedTrack], members: Sequence[Joined]) -> None:
    """Give the recipes of *members* their joins.

    *entries* are all tracks of a group in playing order, *members* some of them: what cannot be
    played has its place in a run all the same.
    """
    if not any(has_edges(member.recipe) for member in members):
        return
    placed = {id(entry): run for entry, run in zip(entries, _runs(entries), strict=True)}
    for member in members:
        if not has_edges(member.recipe):
            continue
        join = _join(*placed[id(member.entry)], member.recipe)
        if join is not None:
            told = (*member.recipe.reasons, _TOLD)
            member.recipe = replace(member.recipe, join=join, reasons=told)
            member.recipe_key = member.recipe.key


def join_for(entries: Sequence[CataloguedTrack], place: int, recipe: Recipe) -> Join | None:
    """The join of the track at *place* among *entries*; None where there is nothing to join."""
    if not has_edges(recipe):
        return None
    run, index = _runs(entries)[place]
    return _join(run, index, recipe)


def runs_on(before: CataloguedTrack, after: CataloguedTrack) -> bool:
    """Whether *after*, the next in its recording or album, follows *before* without a break."""
    first, second = before.track, after.track
    if not (_exact(first) and _exact(second) and first.emphasis == second.emphasis):
        return False
    if not _alike(first.audio, second.audio):
        return False
    if first.path == second.path:
        return _begin(first) + _length(first) == _begin(second)
    if not (first.audio.lossless and second.audio.lossless) or _begin(second) != 0:
        return False
    if first.path.rpartition("/")[0] != second.path.rpartition("/")[0]:
        return False
    if first.disc_number != second.disc_number:
        return False
    numbers = (first.track_number, second.track_number)
    if numbers == (None, None):
        movements = before.identity.movement, after.identity.movement
        numbers = (
            movements[0].number if movements[0] else None,
            movements[1].number if movements[1] else None,
        )
    return numbers[0] is not None and numbers[1] == numbers[0] + 1


def _runs(entries: Sequence[CataloguedTrack]) -> list[tuple[list[Track], int]]:
    """For each of *entries*, the run in which it is and its place in that."""
    found: list[tuple[list[Track], int]] = []
    run: list[Track] = []
    for index, entry in enumerate(entries):
        if index and runs_on(entries[index - 1], entry):
            run.append(entry.track)
        else:
            run = [entry.track]
        found.append((run, len(run) - 1))
    return found


def _join(run: Sequence[Track], index: int, recipe: Recipe) -> Join | None:
    track = run[index]
    if not _exact(track):
        return None
    if not recipe.resample and track.span is not None and track.span.start > 0:
        return None  # de-emphasis: a span hears its own file before the cut anyway
    rate = track.audio.sample_rate_hz
    step = rate // gcd(rate, recipe.sample_rate_hz)
    context = round(CONTEXT_S * rate)
    played = _begin(run[0]) + sum(_length(one) for one in run[:index])
    # The context begins on the run's grid: a whole number of steps after the run's beginning.
    lead = min(played, played % step + -(-max(0, context - played % step) // step) * step)
    before = _back(run, index, lead)
    after = _on(run[index + 1 :], track, context) if recipe.resample else []
    return join_of(before, after) if before or after else None


def _back(run: Sequence[Track], index: int, lead: int) -> list[Piece]:
    """The *lead* sample frames before the track at *index* of *run*."""
    pieces: list[Piece] = []
    for one in reversed(run[:index]):
        if lead == 0:
            return pieces
        taken = min(lead, _length(one))
        pieces.insert(0, Piece(one, _begin(one) + _length(one) - taken, taken))
        lead -= taken
    if lead:  # what lies in the file before the run's first track
        pieces.insert(0, Piece(run[0], _begin(run[0]) - lead, lead))
    return pieces


def _on(run: Sequence[Track], track: Track, context: int) -> list[Piece]:
    """About *context* sample frames after *track*, which *run* follows."""
    pieces: list[Piece] = []
    last = track
    for one in run:
        if context == 0:
            return pieces
        taken = min(context, _length(one))
        pieces.append(Piece(one, _begin(one), taken))
        context -= taken
        last = one
    if context and last.span is not None:  # what may lie in the file after it
        pieces.append(Piece(last, _begin(last) + _length(last), context))
    return pieces


def _exact(track: Track) -> bool:
    """Whether a decoder gives exactly the samples that the header promises.

    One-bit audio passes a filter in the decoder, which begins anew with each file.
    """
    audio = track.audio
    if not audio.samples or audio.codec in (Codec.DSD, Codec.AAC):
        return False
    return audio.lossless or track.span is not None


def _alike(first: AudioFacts, second: AudioFacts) -> bool:
    return first.sample_rate_hz == second.sample_rate_hz and first.channels == second.channels


def _begin(track: Track) -> int:
    return 0 if track.span is None else track.span.start


def _length(track: Track) -> int:
    return track.audio.samples or 0
