"""A plan carried out on its card: content and catalogue handed to the applier, progress told."""

from collections.abc import Sequence
from pathlib import Path

import xxhash

from syncd.applier.applied import Applied, CatalogueBuilder
from syncd.applier.apply import apply
from syncd.applier.reading import CardReading
from syncd.catalogue.build import build
from syncd.catalogue.from_plan import entries_of
from syncd.model import CardPath
from syncd.planner.plan import Action, Placement, Plan, Step
from syncd.profile import Profile
from syncd.updating.content import content_of
from syncd.updating.values import Progress, Target
from syncd.updating.workshop import Workshop


def carry_out(
    shop: Workshop, target: Target, plan: Plan, reading: CardReading, scratch: Path
) -> Applied:
    """Do on the card what *plan* says. Raises CardProblem, and CannotMake."""
    telling = _Telling(shop, plan)
    applied = apply(
        plan,
        target.volume,
        reading,
        lambda placement: content_of(shop, target.profile, placement, scratch),
        catalogue_builder(target.profile, plan, scratch),
        telling.step_done,
        read_back=target.read_back,
        compared=telling.compared,
    )
    shop.notices.extend(_of_reading_back(target.volume.name, applied))
    return applied


class _Telling:
    """Reports the steps on the card as they are done, and heeds the word to stop after each."""

    def __init__(self, shop: Workshop, plan: Plan) -> None:
        at_home = (Action.MEASURE, Action.PRESS)
        writes = [step for step in plan.steps if step.action is Action.WRITE]
        self._shop = shop
        self._steps = sum(step.action not in at_home for step in plan.steps)
        self._files = len(writes)
        self._bytes = sum(step.bytes for step in writes)
        self._done = self._done_bytes = 0
        self._compared = self._compared_bytes = 0

    def step_done(self, step: Step, written: int) -> None:
        self._done += 1
        self._done_bytes += step.bytes if step.action is Action.WRITE else 0
        self._tell("write", self._done, self._steps, self._done_bytes, step.target)

    def compared(self, path: CardPath, size: int) -> None:
        self._compared = min(self._compared + 1, self._files)
        self._compared_bytes = min(self._compared_bytes + size, self._bytes)
        self._tell("compare", self._compared, self._files, self._compared_bytes, path)

    def _tell(self, stage: str, done: int, total: int, done_bytes: int, item: str) -> None:
        self._shop.report(Progress(stage, done, total, done_bytes, self._bytes, item))
        self._shop.heed_stop()


def _of_reading_back(card: str, applied: Applied) -> list[str]:
    """What a person should know of how new files were read back."""
    notices = []
    if applied.from_memory:
        notices.append(
            f"Of {applied.read_back} new files on {card} that were read back, the system may "
            f"have given {applied.from_memory} from its memory instead of the card: its file "
            "system does not let us past that. To be sure, take the card out, put it in again "
            "and run 'syncd verify'."
        )
    if applied.mended:
        notices.append(
            f"{applied.mended} new files came back from {card} otherwise than written, and "
            "were written once more. If that comes again, replace the card."
        )
    return notices


def catalogue_builder(profile: Profile, plan: Plan, scratch: Path) -> CatalogueBuilder:
    """Builds catalogues in *scratch*, each once: for reckoning its size, then for the card.

    What it returns raises SetupProblem where there is no room for one.
    """

    def build_catalogue(placements: Sequence[tuple[Placement, int]]) -> Path:
        digest = xxhash.xxh3_128()
        for place, size in placements:
            digest.update(f"{place.path}\0{size}\0".encode("utf-8", "surrogatepass"))
        path = scratch / f"catalogue-{digest.hexdigest()}.db"
        if not path.exists():
            whole = len(placements) == sum(place.track is not None for place in plan.end)
            # An interim catalogue names no picture that is about to move or to go.
            end = [place for place in plan.end if whole or place.path in plan.staying]
            build(entries_of(placements, end, profile), path, profile.card.charset)
        return path

    return build_catalogue
