"""Making at home what a plan lacks: masters decoded, loudness measured, pressings encoded.

Each of these tells whether there was anything to do: then the plan is made anew.
"""

from collections.abc import Iterable, Iterator, Sequence

from syncd.library.asknown import still_holds
from syncd.model import Track
from syncd.planner.gain import level_key
from syncd.planner.plan import Action, Plan, pressing_id
from syncd.planner.recipe import Recipe
from syncd.profile import Profile
from syncd.transcoder.measurements import Measurements
from syncd.transcoder.pool import Pressed, check_all, measure_all, press_all
from syncd.transcoder.store import PressingKey
from syncd.updating.values import Progress
from syncd.updating.workshop import Workshop
from syncd.utf8 import printable

Items = Sequence[tuple[Track, Recipe]]


def check(shop: Workshop, plan: Plan) -> bool:
    """Decode what *plan* carries over and nobody has decoded yet; whether there was any.

    What is damaged is not passed on: the plan is made again without it. Raises SetupProblem when
    the store fails, KeyboardInterrupt when the run was told to stop.
    """
    if not shop.checks:
        return False
    written = {step.target for step in plan.steps if step.action is Action.WRITE}
    known = shop.store.checks()
    items = [
        (placement.track.track, placement.recipe)
        for placement in plan.end
        if placement.path in written
        and placement.track is not None
        and placement.recipe is not None
        and placement.recipe.action == "carry"
        and pressing_id(placement) not in shop.uncheckable
        and not known.known(placement.track.track.audio_hash)
    ]
    if not items:
        return False
    outcomes = check_all(
        items, known, shop.tool, workers=shop.workers, stop=shop.stop, holds=still_holds
    )
    for outcome in _told(shop, "check", items, outcomes):
        if outcome.problem is not None:
            key = (outcome.track.audio_hash, outcome.recipe.key)
            shop.uncheckable.add(key)
            if not shop.forgives(outcome.track):
                shop.give_up(outcome.track, outcome.recipe.key, outcome.problem.reason)
    return True


def listen(shop: Workshop, profile: Profile, plan: Plan) -> bool:
    """Measure the loudness that *plan* lacks; whether anything was to be done.

    What is about to be encoded is measured there, unless the encoder needs the gain itself.
    Raises as :func:`check`.
    """
    if not plan.measures:
        return False
    sink = shop.measurements(profile)
    later = {
        level_key(placement.track.track.audio_hash, placement.recipe)
        for placement in plan.presses
        if placement.track is not None
        and placement.recipe is not None
        and placement.recipe.action == "encode"
    }
    if profile.loudness.mode == "baked":
        later = set()
    items = [
        (track, recipe)
        for track, recipe in plan.measures
        if level_key(track.audio_hash, recipe) not in later
    ]
    if sink is None or not items:
        return False
    outcomes = measure_all(
        items, sink, shop.tool, workers=shop.workers, stop=shop.stop, holds=still_holds
    )
    for outcome in _told(shop, "measure", items, outcomes):
        if outcome.problem is not None:
            shop.unmeasurable.add(level_key(outcome.track.audio_hash, outcome.recipe))
            shop.notices.append(
                f"The loudness of {_shown(outcome)} cannot be measured, so it gets no gain, "
                f"and its recording or album has none: {outcome.problem.reason}"
            )
    return True


def press(shop: Workshop, plan: Plan, sink: Measurements | None) -> set[PressingKey]:
    """Make the pressings that *plan* lacks; returns those that were made. Raises as :func:`check`.

    What cannot be made is given up (``Workshop.give_up``), the others go on.
    """
    items = [
        (placement.track.track, placement.recipe)
        for placement in plan.presses
        if placement.track is not None and placement.recipe is not None
    ]
    made: set[PressingKey] = set()
    outcomes = press_all(
        items,
        shop.store,
        shop.tool,
        workers=shop.workers,
        stop=shop.stop,
        sink=sink,
        forgiven=shop.forgives if shop.checks else lambda track: True,
        holds=still_holds,
    )
    for outcome in _told(shop, "press", items, outcomes):
        key = (outcome.track.audio_hash, outcome.recipe.key)
        if outcome.problem is not None:
            shop.give_up(outcome.track, outcome.recipe.key, outcome.problem.reason)
        elif outcome.made:
            made.add(key)
    return made


def _told(
    shop: Workshop, stage: str, items: Items, outcomes: Iterable[Pressed]
) -> Iterator[Pressed]:
    """*outcomes* of *items* as they come; each is reported, by seconds, once it was dealt with.

    Raises KeyboardInterrupt at the end when the run was told to stop.
    """
    total_s = sum(track.audio.duration_s for track, _ in items)
    done_s = 0.0
    for done, outcome in enumerate(outcomes, 1):
        yield outcome
        done_s += outcome.track.audio.duration_s
        shop.report(Progress(stage, done, len(items), int(done_s), int(total_s), _shown(outcome)))
    shop.heed_stop()


def _shown(outcome: Pressed) -> str:
    return printable(outcome.track.path.rpartition("/")[2])
