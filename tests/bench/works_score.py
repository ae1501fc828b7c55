"""Score the works engine on a file of cases and print the table of accuracies.

Usage: python tests/bench/works_score.py [CASES.json] [--show] [--dev | --held] [--only ID]

A case is a folder of tagged files with what a cataloguer expects (tests/data/tagcases.json). A
figure is right over asked; "asked" are tracks for which the cases give a value. --dev leaves out
every fourth case, --held scores only those: the grammar was developed without reading them.
"""

import argparse
import json
import sys
from collections import defaultdict
from itertools import combinations
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from syncd.model import Identity, Kind, TaggedFile
from syncd.works.identify import identify


def plain(text: str | None) -> str:
    """A text for comparison: case, spaces and full stops do not count."""
    return "" if text is None else "".join(text.lower().replace(".", "").split())


def accepted(case: dict[str, Any], name: str) -> list[Any]:
    """All right answers under *name*."""
    return [case.get(name), *case.get(f"{name}_accept", ())]


class Score:
    """Right and asked, by measure."""

    def __init__(self) -> None:
        self.right: dict[str, int] = defaultdict(int)
        self.asked: dict[str, int] = defaultdict(int)
        self.misses: list[str] = []

    def count(self, name: str, right: bool, note: str) -> None:
        self.asked[name] += 1
        if right:
            self.right[name] += 1
        else:
            self.misses.append(f"{name:11} {note}")


def people(identity: Identity, *roles: str) -> list[str]:
    return sorted({plain(c.name) for c in identity.credits if c.role in roles})


def soloists(identity: Identity) -> list[tuple[str, str]]:
    return sorted(
        {(plain(c.name), c.instrument or "") for c in identity.credits if c.role == "soloist"}
    )


def score_case(case: dict[str, Any], score: Score) -> tuple[int, int, int]:
    """Score one folder; returns pairs (right, given, expected) of the grouping."""
    files = [TaggedFile(f["path"], f["tags"]) for f in case["files"]]
    identities = identify(files)
    for file, identity, expect in zip(files, identities, case["expect"], strict=True):
        where = f"{case['id']} {file.path.rsplit('/', 1)[-1][:70]}"
        kinds = [expect["kind"], *expect.get("kind_accept", ())]
        score.count(
            "kind", identity.kind.value in kinds, f"{where}: {identity.kind.value} for {kinds}"
        )
        if expect["kind"] != "work" or identity.kind is not Kind.WORK:
            if expect["kind"] == "work" and identity.kind.value not in kinds:
                for name in ("composer", "catalogue", "key"):
                    if expect.get(name):
                        score.count(name, False, f"{where}: not filed as a work")
            continue
        sort = identity.composer.sort if identity.composer else None
        right_composer = sort in accepted(expect, "composer")
        if expect["composer"]:
            score.count("composer", right_composer, f"{where}: {sort} for {expect['composer']}")
        if not right_composer and sort is not None:
            score.count("wrong name", False, f"{where}: {sort} for {expect['composer']}")
        work = identity.work
        numbers = list(work.catalogue) if work else []
        options = [expect.get("catalogue") or [], *expect.get("catalogue_accept", ())]
        right_number = sorted(map(plain, numbers)) in [
            sorted(map(plain, option or [])) for option in options
        ]
        score.count("catalogue", right_number, f"{where}: {numbers} for {options}")
        key = work.key if work else None
        score.count(
            "key", key in accepted(expect, "key"), f"{where}: {key} for {accepted(expect, 'key')}"
        )
        titles = [expect["work_title"], *expect.get("work_accept", ())]
        title = work.title if work else None
        score.count(
            "work title", plain(title) in map(plain, titles), f"{where}: {title!r} for {titles[:3]}"
        )
        number = identity.movement.number if identity.movement else None
        score.count(
            "movement",
            number in accepted(expect, "movement"),
            f"{where}: {number} for {accepted(expect, 'movement')}",
        )
        heading = identity.movement.title if identity.movement else None
        score.count(
            "mvt title",
            plain(heading) in map(plain, accepted(expect, "movement_title")),
            f"{where}: {heading!r} for {accepted(expect, 'movement_title')[:2]}",
        )
        given = people(identity, "conductor")
        want = sorted(map(plain, expect.get("conductor") or []))
        score.count("conductor", given == want, f"{where}: {given} for {want}")
        given = people(identity, "ensemble", "choir")
        want = sorted(map(plain, expect.get("ensembles") or []))
        score.count("ensembles", given == want, f"{where}: {given} for {want}")
        soloed = soloists(identity)
        wanted = sorted(
            {(plain(s["name"]), s.get("instrument") or "") for s in expect.get("soloists") or []}
        )
        score.count("soloists", soloed == wanted, f"{where}: {soloed} for {wanted}")
        if identity.confidence > 0.9:
            wrong = (not right_composer and sort is not None) or (
                not right_number and bool(numbers)
            )
            score.count(
                "sure", not wrong, f"{where}: confidence {identity.confidence} though wrong"
            )
    return _pairs(identities, case["expect"])


def _pairs(identities: list[Identity], expects: list[dict[str, Any]]) -> tuple[int, int, int]:
    right = given = wanted = 0
    for (a, ea), (b, eb) in combinations(list(zip(identities, expects, strict=True)), 2):
        together = a.recording is not None and a.recording == b.recording
        expected = ea.get("work_group") is not None and ea.get("work_group") == eb.get("work_group")
        given += together
        wanted += expected
        right += together and expected
    return right, given, wanted


def score_file(cases: list[dict[str, Any]]) -> tuple[Score, dict[str, float]]:
    """Score all *cases*; the score and the figures of the table in per cent."""
    score = Score()
    right = given = wanted = 0
    for case in cases:
        r, g, w = score_case(case, score)
        if g != r or w != r:
            score.misses.append(
                f"{'grouping':11} {case['id']}: {r} right of {g} given, {w} expected"
            )
        right, given, wanted = right + r, given + g, wanted + w
    figures = {
        name: 100.0 * score.right[name] / score.asked[name]
        for name in score.asked
        if name not in ("wrong name",)
    }
    tracks = sum(len(case["files"]) for case in cases)
    figures["wrong name"] = 100.0 * score.asked["wrong name"] / max(1, tracks)
    precision = right / given if given else 1.0
    recall = right / wanted if wanted else 1.0
    figures["grouping F1"] = 100.0 * 2 * precision * recall / ((precision + recall) or 1.0)
    return score, figures


TARGETS = {
    "kind": 98.0, "composer": 99.0, "wrong name": 0.5, "catalogue": 99.0, "key": 98.0,
    "grouping F1": 98.0, "movement": 97.0, "conductor": 95.0, "ensembles": 95.0, "soloists": 95.0,
    "sure": 100.0,
}  # fmt: skip


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument(
        "cases", nargs="?", default=str(Path(__file__).parents[1] / "data" / "tagcases.json")
    )
    parser.add_argument("--show", action="store_true", help="print every miss")
    parser.add_argument("--dev", action="store_true")
    parser.add_argument("--held", action="store_true")
    parser.add_argument("--only", default="")
    arguments = parser.parse_args()
    cases = json.loads(Path(arguments.cases).read_text(encoding="utf-8"))
    if arguments.dev or arguments.held:
        cases = [case for n, case in enumerate(cases) if (n % 4 == 3) == arguments.held]
    if arguments.only:
        cases = [case for case in cases if case["id"] in arguments.only.split(",")]
    score, figures = score_file(cases)
    if arguments.show:
        print("\n".join(score.misses))
    tracks = sum(len(case["files"]) for case in cases)
    print(f"{len(cases)} folders, {tracks} tracks")
    for name in ("kind", "composer", "wrong name", "catalogue", "key", "grouping F1", "movement", "conductor",  # noqa: E501
                 "ensembles", "soloists", "sure", "work title", "mvt title"):  # fmt: skip
        if name not in figures:
            continue
        target = (
            f"(target {'below ' if name == 'wrong name' else ''}{TARGETS[name]:.1f})"
            if name in TARGETS
            else ""
        )
        asked = (
            f"{score.right[name]}/{score.asked[name]}"
            if name in score.asked and name != "wrong name"
            else ""
        )
        print(f"{name:12} {figures[name]:6.2f} %  {asked:>9}  {target}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
