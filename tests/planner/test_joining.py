"""Which tracks run on into each other, where their context begins, and what the key depends on."""

from dataclasses import replace
from typing import Any

import pytest

from syncd.model import (
    AudioFacts,
    AudioHash,
    CataloguedTrack,
    Codec,
    Identity,
    Kind,
    LibraryPath,
    LibrarySnapshot,
    Movement,
    Span,
    Track,
)
from syncd.planner.card_state import CardState
from syncd.planner.join import CONTEXT_S, frames_out
from syncd.planner.joining import join_for, runs_on
from syncd.planner.plan import Action
from syncd.planner.planning import make_plan
from syncd.planner.prescribing import make_recipe
from syncd.planner.recipe import Recipe
from syncd.profile import Encode, Plays, Profile

PROFILE = Profile(
    name="p",
    plays=(Plays(codec="flac", max_sample_rate_hz=44100),),
    encode=Encode(codec="flac", max_sample_rate_hz=44100),
)


def movement(number: int, samples: int = 96000 * 60, rate: int = 96000, **facts: Any) -> (
    CataloguedTrack
):  # fmt: skip
    audio = AudioFacts(
        "flac", Codec.FLAC, rate, 2, samples / rate, facts.pop("bits", 24), None, samples
    )
    path = facts.pop("path", f"/music/a/{number}.flac")
    track = Track(
        LibraryPath(path), AudioHash(f"{number:032x}"), audio, 1000, track_number=number, **facts
    )
    return CataloguedTrack(
        track, Identity(Kind.WORK, recording="r", movement=Movement(number, f"No. {number}"))
    )


def recipe_of(entry: CataloguedTrack) -> Recipe:
    return make_recipe(
        entry.track.audio, PROFILE, part=entry.track.span is not None, emphasis=entry.track.emphasis
    )


def changed(entry: CataloguedTrack, **facts: Any) -> CataloguedTrack:
    return replace(entry, track=replace(entry.track, **facts))


def keys(entries: list[CataloguedTrack]) -> list[str]:
    """The recipes' keys in a plan, in the order of playing."""
    plan = make_plan(LibrarySnapshot(tuple(entries)), CardState(bytes_free=1 << 40), PROFILE)
    return [place.recipe.key for place in plan.end if place.recipe is not None]


def test_a_plan_joins_the_movements_of_a_recording() -> None:
    first, second, third = keys([movement(1), movement(2), movement(3)])
    assert len({first, second, third}) == 3
    assert all("-join" in key for key in (first, second, third))


def test_the_plan_tells_of_joins() -> None:
    snapshot = LibrarySnapshot((movement(1), movement(2)))
    plan = make_plan(snapshot, CardState(bytes_free=1 << 40), PROFILE)
    presses = [step.reason for step in plan.steps if step.action is Action.PRESS]
    assert len(presses) == 2
    assert all("joined without a break" in reason for reason in presses)


def test_what_is_not_resampled_is_not_joined() -> None:
    assert not any("join" in key for key in keys([movement(n, rate=44100) for n in (1, 2)]))


def test_a_movement_alone_keeps_the_key_that_it_had() -> None:
    assert keys([movement(1)]) == [recipe_of(movement(1)).key]


def test_a_changed_tag_or_place_changes_no_key() -> None:
    entries = [movement(1), movement(2)]
    other = [
        changed(one, title="Other", date="1999", path=LibraryPath(f"/b/{number}.flac"))
        for number, one in enumerate(entries)
    ]
    assert keys(entries) == keys(other)


def test_a_changed_neighbour_is_another_join() -> None:
    before = keys([movement(1), movement(2), movement(3)])
    mended = changed(movement(3), audio_hash=AudioHash("f" * 32))
    after = keys([movement(1), movement(2), mended])
    # The third's own audio is another, but what is around it is as it was.
    assert [a == b for a, b in zip(before, after, strict=True)] == [True, False, True]


def test_a_longer_beginning_moves_the_grid_of_all_that_follow() -> None:
    before = keys([movement(1), movement(2), movement(3)])
    longer = keys([movement(1, 96000 * 60 + 1), movement(2), movement(3)])
    assert before[2] != longer[2]
    whole_steps = keys([movement(1, 96000 * 60 + 320), movement(2), movement(3)])
    assert before[2] == whole_steps[2]


@pytest.mark.parametrize(
    "other",
    [
        movement(3),
        movement(2, rate=48000),
        movement(2, path="/music/b/2.flac"),
        movement(2, disc_number=2),
        movement(2, emphasis=True),
        movement(2, samples=0),
    ],
)
def test_what_does_not_follow_is_not_joined(other: CataloguedTrack) -> None:
    assert runs_on(movement(1), movement(2))
    assert not runs_on(movement(1), other)


def test_without_track_numbers_the_movements_must_follow_each_other() -> None:
    first, second, third = (changed(movement(n), track_number=None) for n in (1, 2, 3))
    assert runs_on(first, second)
    assert not runs_on(first, third)


def test_lossy_files_are_not_joined_but_spans_of_one_are() -> None:
    def lossy(entry: CataloguedTrack, span: Span | None) -> CataloguedTrack:
        audio = replace(entry.track.audio, codec=Codec.MP3, container="mp3", bits_per_sample=None)
        return changed(entry, audio=audio, span=span)

    assert not runs_on(lossy(movement(1), None), lossy(movement(2), None))
    spans = [
        changed(
            lossy(movement(number), Span((number - 1) * 96000 * 60, 96000 * 60, number)),
            path=LibraryPath("/music/a.mp3"),
        )
        for number in (1, 2, 3)
    ]
    assert runs_on(spans[0], spans[1])
    assert not runs_on(spans[0], spans[2])


@pytest.mark.parametrize("lengths", [(96000, 96000, 96000), (1, 5000, 7), (320, 1, 30000)])
def test_the_context_begins_on_the_grid_of_the_run(lengths: tuple[int, ...]) -> None:
    entries = [movement(number, length) for number, length in enumerate(lengths, 1)]
    played = 0
    for place, entry in enumerate(entries):
        join = join_for(entries, place, recipe_of(entry))
        assert join is not None
        # 96 to 44.1 kHz is 320 to 147: equal places modulo 320 have equal outputs.
        assert (played - join.lead) % 320 == 0
        assert join.lead <= played
        assert join.lead == played or join.lead >= CONTEXT_S * 96000
        assert sum(piece.length for piece in join.after) == min(24000, sum(lengths[place + 1 :]))
        for piece in (*join.before, *join.after):
            assert piece.start >= 0
            assert piece.start + piece.length <= (piece.track.audio.samples or 0)
        played += lengths[place]


def test_a_span_hears_its_file_whatever_work_is_beside_it() -> None:
    span = changed(movement(5), path=LibraryPath("/music/a.flac"), span=Span(100_000, 50_000, 5))
    span = changed(span, audio=replace(span.track.audio, samples=50_000))
    join = join_for([span], 0, recipe_of(span))
    assert join is not None
    assert (100_000 - join.lead) % 320 == 0
    assert [(piece.start, piece.length) for piece in join.after] == [(150_000, 24_000)]
    assert join.before[0].start + join.before[0].length == 100_000


@pytest.mark.parametrize(("rate", "new"), [(96000, 44100), (44100, 48000), (192000, 32000)])
def test_the_outputs_of_all_tracks_are_those_of_the_whole(rate: int, new: int) -> None:
    lengths = (12345, 1, 99999, 4410)
    entries = [movement(number, length, rate) for number, length in enumerate(lengths, 1)]
    recipe = replace(recipe_of(entries[0]), action="encode", sample_rate_hz=new, resample=True)
    outputs = 0
    for place, length in enumerate(lengths):
        join = join_for(entries, place, recipe)
        lead = join.lead if join is not None else 0
        outputs += frames_out(lead + length, rate, new) - frames_out(lead, rate, new)
        assert outputs == -(-sum(lengths[: place + 1]) * new // rate)
