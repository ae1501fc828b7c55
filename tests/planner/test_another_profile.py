"""A card that was enrolled anew for another player: what cannot be made anew stays, and is told."""

import sys
from dataclasses import replace
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent.parent / "applier"))

from card_world import library, profile, song, update
from counting_volume import CountingVolume

from syncd.applier.reading import read_card
from syncd.model import LibraryPath, LibrarySnapshot
from syncd.planner.card_state import CardState
from syncd.planner.plan import Action, Plan
from syncd.planner.planning import make_plan
from syncd.profile import Encode, Plays, Profile

TIDE = [song("Marnesund Five", "Low Tide", n, f"Song {n}") for n in (1, 2)]
AWAY = LibrarySnapshot(tuple(TIDE), away=(LibraryPath("/library"),))


def player(codec: str) -> Profile:
    """A player of *codec* alone."""
    return profile().model_copy(
        update={"plays": (Plays(codec=codec),), "encode": Encode(codec=codec)}
    )


def card() -> CardState:
    """The card as the player of MP3 has it."""
    volume = CountingVolume()
    volume.put("SYNCD/card.json", b"{}")
    update(volume, library(*TIDE), profile())
    return read_card(volume).state


def made_by(state: CardState, recipe: str) -> CardState:
    entries = [replace(one, source=replace(one.source, recipe=recipe)) for one in state.entries]
    return replace(state, entries=tuple(entries))


def told(plan: Plan) -> set[str]:
    return {item.reason.partition(". It stays")[0] for item in plan.other_forms}


def test_music_that_another_player_could_play_is_made_anew_when_its_master_is_at_hand() -> None:
    plan = make_plan(library(*TIDE), card(), player("opus"))
    assert plan.other_forms == ()
    assert plan.count(Action.PRESS) == plan.count(Action.WRITE) == 2
    assert {place.path.rpartition(".")[2] for place in plan.end} == {"opus"}


def test_while_its_master_is_away_it_stays_and_the_plan_says_that_the_player_cannot_play_it() -> (
    None
):
    plan = make_plan(AWAY, card(), player("opus"))
    assert [item.path for item in plan.other_forms] == [place.path for place in plan.end]
    assert told(plan) == {"It was made for another profile, as MP3: this player cannot play it"}
    assert all("/library/Marnesund Five" in item.reason for item in plan.other_forms)
    assert plan.count(Action.WRITE) == plan.count(Action.REMOVE) == 0


@pytest.mark.parametrize(
    ("recipe", "words"),
    [
        ("r1-opus-48000-2ch-b96", "as Opus: this player may not play it"),
        ("r1-flac-44100-2ch-16bit-l5", "as FLAC: this player cannot play it"),
        ("r1-remux-opus-ogg", "as Opus: this player may not play it"),
    ],
)
def test_it_says_by_the_codec_whether_the_player_may(recipe: str, words: str) -> None:
    plan = make_plan(AWAY, made_by(card(), recipe), player("opus"))
    assert told(plan) == {f"It was made for another profile, {words}"}


def test_a_card_of_its_own_profile_says_nothing() -> None:
    assert make_plan(AWAY, card(), profile()).other_forms == ()
