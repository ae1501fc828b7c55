"""``fit``: the best quality at which all has room, and that it does not flutter."""

import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parent.parent / "applier"))

from card_world import movement, song

from syncd.model import AudioFacts, CardPath, CataloguedTrack, Codec, ContentHash, LibrarySnapshot
from syncd.planner.card_state import CardState, ManifestEntry
from syncd.planner.fitting import qualities
from syncd.planner.plan import Plan
from syncd.planner.planning import make_plan
from syncd.planner.programme import Clause, Fit, Limit, Programme
from syncd.profile import CatalogueWanted, Encode, Plays, Profile, TagWriting

FLAC = AudioFacts("flac", Codec.FLAC, 44100, 2, 600.0, 16, 900_000, samples=26_460_000)


def player(codec: str = "mp3", **encode: Any) -> Profile:
    limits = {"max_bitrate_kbps": encode.pop("most")} if "most" in encode else {}
    return Profile(
        name="test",
        plays=(Plays.model_validate({"codec": codec, **limits}),),
        encode=Encode.model_validate({"codec": codec, **encode}),
        tags=TagWriting(art="none"),
        catalogue=CatalogueWanted(present=False),
    )


def works(count: int) -> LibrarySnapshot:
    """*count* recordings of one movement of ten minutes, lossless."""
    made = []
    for number in range(count):
        entry = movement(f"Sonata {number}", 1, "Allegro")
        track = replace(entry.track, audio=FLAC, size_bytes=67_500_000)
        made.append(CataloguedTrack(track, entry.identity))
    return LibrarySnapshot(tuple(made))


def everything(**fit: int) -> Programme:
    return Programme(fit=Fit.model_validate(fit), clause=(Clause(everything=True),))


def empty(room: int) -> CardState:
    return CardState(bytes_free=room, cluster_bytes=32768)


def after(plan: Plan, room: int) -> CardState:
    """The card of *room* bytes as it is when *plan* was carried out."""
    entries = tuple(
        ManifestEntry(CardPath(p.path), p.size, ContentHash("0" * 32), p.source) for p in plan.end
    )
    card = CardState(entries, cluster_bytes=32768)
    used = sum(card.allocated(entry.size) for entry in entries)
    return replace(card, bytes_free=room - used)


def qualities_of(plan: Plan) -> set[int | None]:
    return {place.recipe.quality for place in plan.end if place.recipe is not None}


def test_the_best_quality_is_chosen_in_which_all_has_room() -> None:
    """Each rung is asked for by itself: the one above the one that was chosen does not fit."""
    library = works(20)
    for room in (200_000_000, 320_000_000, 400_000_000, 1_000_000_000):
        plan = make_plan(library, empty(room), player(), everything(lowest_kbps=32))
        (quality,) = qualities_of(plan)
        assert quality is not None
        assert len(plan.end) == 20
        assert plan.programme is not None
        assert f"quality {quality} of 0" in plan.programme.fit
        for better in range(quality):
            wished = make_plan(library, empty(room), player(quality=better))
            assert wished.not_fitting, f"{room}: quality {better} would have had room"


def test_the_lowest_quality_is_taken_where_nothing_fits_all_and_that_is_told() -> None:
    plan = make_plan(works(20), empty(60_000_000), player(), everything())
    assert qualities_of(plan) == {7}  # about 100 kbit/s, the last within the default bounds
    assert plan.not_fitting
    assert plan.programme is not None
    assert "not all that is chosen fits even so" in plan.programme.fit


def test_what_lies_on_the_card_keeps_its_quality_until_there_is_room_to_spare() -> None:
    room = 300_000_000
    plan = make_plan(works(20), empty(room), player(), everything())
    (quality,) = qualities_of(plan)
    assert quality is not None and quality > 0
    card = after(plan, room)
    for count in (20, 19, 18):
        again = make_plan(works(count), card, player(), everything())
        assert qualities_of(again) == {quality}, count
        assert not again.presses
    few = make_plan(works(4), card, player(), everything())
    assert qualities_of(few) == {0}
    many = make_plan(works(30), card, player(), everything())
    (lower,) = qualities_of(many)
    assert lower is not None and lower > quality


def test_a_limit_in_bytes_is_fitted_and_one_in_numbers_is_kept() -> None:
    library = works(20)
    for limit, count in ((Limit(size=400_000_000), 20), (Limit(recordings=5), 5)):
        programme = Programme(fit=Fit(), clause=(Clause(everything=True, limit=limit),))
        plan = make_plan(library, empty(1 << 40), player(), programme)
        assert len(plan.end) == count
        if limit.size is None:
            assert qualities_of(plan) == {0}
        else:
            assert sum(place.size for place in plan.end) <= limit.size


@pytest.mark.parametrize(
    ("profile", "fit", "steps"),
    [
        (player(), Fit(), [("quality", q) for q in range(8)]),
        (player(quality=4), Fit(lowest_kbps=165, highest_kbps=225),
         [("quality", 1), ("quality", 2), ("quality", 3), ("quality", 4)]),
        (player(bitrate_kbps=192), Fit(lowest_kbps=128, highest_kbps=200),
         [("bitrate_kbps", k) for k in (192, 160, 128)]),
        (player(most=192), Fit(lowest_kbps=128), [("bitrate_kbps", k) for k in (192, 160, 128)]),
        (player("opus", bitrate_kbps=96), Fit(lowest_kbps=80, highest_kbps=130),
         [("bitrate_kbps", k) for k in (128, 112, 96, 80)]),
        (player(), Fit(lowest_kbps=235, highest_kbps=240), [("quality", 1)]),
        (player("flac"), Fit(), []),
    ],
)  # fmt: skip
def test_the_steps_are_those_of_the_codec_within_the_bounds_and_what_the_player_plays(
    profile: Profile, fit: Fit, steps: list[tuple[str, int]]
) -> None:
    found = [
        (key, value)
        for step in qualities(profile, fit)
        for key in ("quality", "bitrate_kbps")
        if (value := getattr(step.encode, key)) is not None
    ]
    assert found == steps


def test_a_lossless_target_has_nothing_to_choose_and_the_plan_says_so() -> None:
    plan = make_plan(works(3), empty(1 << 40), player("flac"), everything())
    assert plan.programme is not None
    assert "FLAC keeps every sample and has no quality to choose" in plan.programme.fit
    assert len(plan.end) == 3


def test_files_that_are_carried_over_stay_as_they_are() -> None:
    library = LibrarySnapshot((song("A", "B", 1, "C"), *works(2).tracks))
    plan = make_plan(library, empty(1 << 40), player(), everything())
    assert {place.recipe.action for place in plan.end if place.recipe} == {"carry", "encode"}
