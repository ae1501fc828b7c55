"""A second opinion from music21: its names for keys, and the labels of its open corpus.

music21 (BSD) is a library for musicology whose corpus was encoded and labelled by many hands. It
knows key names in five languages, and its labels are tags as people write them: composer, title,
opus and key in whatever form. Only its index of labels is read here; no score is parsed.
"""

import re
from collections.abc import Callable
from typing import Any, NamedTuple

import pytest

from syncd.model import Identity, TaggedFile
from syncd.works.identify import identify
from syncd.works.keys import parse_key
from syncd.works.known_works import by_number
from syncd.works.worktitle.reader import read_work

music21 = pytest.importorskip("music21", reason="the Python package music21 is not installed")

MAJORS = ["C-", "G-", "D-", "A-", "E-", "B-", "F", "C", "G", "D", "A", "E", "B", "F#", "C#"]
MINORS = ["a-", "e-", "b-", "f", "c", "g", "d", "a", "e", "b", "f#", "c#", "g#", "d#", "a#"]

MODES = {
    "english": ("major", "minor"),
    "german": ("Dur", "Moll"),
    "french": ("majeur", "mineur"),
    "italian": ("maggiore", "minore"),
    "spanish": ("mayor", "menor"),
}
TITLES = {
    "english": "Symphony No. 3 in {}, Op. 5: II. Adagio",
    "german": "Sinfonie Nr. 3 {} op. 5: II. Adagio",
    "french": "Symphonie n° 3 en {}, op. 5: II. Adagio",
    "italian": "Sinfonia n. 3 in {} op. 5: II. Adagio",
    "spanish": "Sinfonía n.º 3 en {}, op. 5: II. Adagio",
}


def expected(key: Any) -> str:
    """The name by the project's conventions of music21's *key*, from step and alteration."""
    sign = {-1: "-flat", 0: "", 1: "-sharp"}[int(key.tonic.alter)]
    return f"{key.tonic.step}{sign} {key.mode}"


def english(key: Any) -> list[str]:
    flat = key.tonic.name.replace("-", "b")
    word = key.tonic.name.replace("-", " flat").replace("#", " sharp")
    return [
        f"{name} {key.mode}"
        for name in (flat, key.tonic.unicodeName, word, word.replace(" ", "-"), word.lower())
    ]


def german(key: Any) -> list[str]:
    name, mode = key.tonic.german, MODES["german"][key.mode == "minor"]
    # Minor keys are written small: h-Moll; older prints have capitals throughout.
    return [f"{name.lower() if mode == 'Moll' else name}-{mode}", f"{name} {mode.lower()}"]


def romance(language: str) -> Callable[[Any], list[str]]:
    def names(key: Any) -> list[str]:
        name = str(getattr(key.tonic, language))
        mode = MODES[language][key.mode == "minor"]
        forms = [
            f"{name} {mode}",
            f"{name.capitalize()} {mode}",
            f"{name.replace(' ', '-')} {mode}",
        ]
        if language == "french":  # music21 says do, French titles say ut as well
            forms += [re.sub("^do", "ut", form) for form in forms]
        return forms

    return names


NAMES = {
    "english": english,
    "german": german,
    **{language: romance(language) for language in ("french", "italian", "spanish")},
}


@pytest.fixture(scope="module")
def keys() -> list[Any]:
    found = [music21.key.Key(name) for name in MAJORS + MINORS]
    assert len({(key.tonic.name, key.mode) for key in found}) == 30
    assert all(abs(key.sharps) <= 7 for key in found)
    return found


@pytest.mark.parametrize("language", list(NAMES))
def test_all_thirty_keys_are_read_in_each_language(language: str, keys: list[Any]) -> None:
    wrong = []
    for key in keys:
        for name in NAMES[language](key):
            readings = {parse_key(name), read_work(TITLES[language].format(name)).key}
            if readings != {expected(key)}:
                wrong.append((name, readings))
    assert not wrong


def test_a_letter_says_the_mode_by_its_case(keys: list[Any]) -> None:
    """music21's ``tonicPitchNameWithCase``: small letters for minor, as in German scores."""
    for key in keys:
        name = key.tonicPitchNameWithCase
        for written in (name.replace("-", "b"), name.replace("-", "♭").replace("#", "♯")):
            assert parse_key(written) == expected(key), written
            assert read_work(f"Sonata in {written}, Op. 5").key == expected(key), written
        germans = key.tonic.german.lower() if key.mode == "minor" else key.tonic.german
        assert read_work(f"Klaviersonate Nr. 1 in {germans}").key == expected(key), germans


def test_the_key_field_of_id3_is_read_for_all_keys(keys: list[Any]) -> None:
    """ID3v2.4 §4.2.3, TKEY: ``Cb``, ``F#``, with ``m`` for minor."""
    for key in keys:
        written = key.tonic.name.replace("-", "b") + ("m" if key.mode == "minor" else "")
        assert parse_key(written) == expected(key), written


def test_the_names_given_are_keys_to_music21_too() -> None:
    """The other way round: a name of ours, written its way, has the signature of the key."""
    for text, sharps in (
        ("fis-Moll", 3),
        ("Des-Dur", -5),
        ("si bemolle minore", -5),
        ("h-moll", 2),
    ):
        name = parse_key(text)
        assert name is not None
        tonic, mode = name.split()
        tonic = tonic.replace("-flat", "-").replace("-sharp", "#")
        assert music21.key.Key(tonic.lower() if mode == "minor" else tonic).sharps == sharps


# --- the corpus -----------------------------------------------------------------------------------

# Folder of the corpus, and whose works it holds. Folk song, lead sheets and exercises are left out.
FOLDERS = {
    "bach": "Bach, Johann Sebastian",
    "beethoven": "Beethoven, Ludwig van",
    "chopin": "Chopin, Frédéric",
    "ciconia": "Ciconia, Johannes",
    "corelli": "Corelli, Arcangelo",
    "cpebach": "Bach, Carl Philipp Emanuel",
    "josquin": "Josquin des Prez",
    "monteverdi": "Monteverdi, Claudio",
    "mozart": "Mozart, Wolfgang Amadeus",
    "palestrina": "Palestrina, Giovanni Pierluigi da",
    "schubert": "Schubert, Franz",
    "schumann_clara": "Schumann, Clara",
    "schumann_robert": "Schumann, Robert",
    "weber": "Weber, Carl Maria von",
    "webern": "Webern, Anton",
}
# Labels that hold no composer's name: what a text recogniser made of a facsimile, the name of a
# poet or of a part, and two with a work's number or a typesetter's command run into the name.
NO_COMPOSER = re.compile(
    r"[\\{}!\"]|^\d|^'|^V\.|GIOVINETTA|Guarini|Tasso|Celiano|Gatti|W\.AMozart|K\. 156$"
)


class Label(NamedTuple):
    """What the corpus says of one score: its place, its label, the sharps of its signature."""

    folder: str
    path: str
    composer: str
    title: str
    sharps: int | None


@pytest.fixture(scope="module")
def labels() -> list[Label]:
    """Every labelled score by a composer of FOLDERS, once."""
    found: dict[str, Label] = {}
    # As a slice: iterating over the bundle itself takes time by the square of its 15,000 entries.
    for entry in music21.corpus.corpora.CoreCorpus().metadataBundle[:]:
        path = str(entry.sourcePath).replace("\\", "/")
        folder = path.split("/")[0]
        if folder not in FOLDERS:
            continue
        about = entry.metadata
        if about is None or not about.composer or NO_COMPOSER.search(about.composer):
            continue
        title = about.title or about.movementName or ""
        found.setdefault(path, Label(folder, path, about.composer, title, about.keySignatureFirst))
    return list(found.values())


def filed(composer: str, title: str) -> Identity:
    (identity,) = identify([TaggedFile("a/1.flac", {"COMPOSER": [composer], "TITLE": [title]})])
    return identity


def test_the_labels_of_the_corpus_lead_to_its_composers(labels: list[Label]) -> None:
    spellings = {(label.folder, label.composer) for label in labels}
    assert len(spellings) >= 25
    wrong = []
    for folder, composer in sorted(spellings):
        found = filed(composer, "Adagio").composer
        if found is None or found.sort != FOLDERS[folder]:
            wrong.append((folder, composer, found))
    assert not wrong
    assert {folder for folder, _ in spellings} == set(FOLDERS)


# Where the corpus keeps a work, by its number: "mozart/k155", "beethoven/opus18no1", "bach/bwv1.6".
PLACES = [
    (re.compile(r"^bach/bwv(\d+[a-z]?)\b"), "BWV {0}"),
    (re.compile(r"^beethoven/opus(\d+)no(\d+)"), "Op. {0} No. {1}"),
    (re.compile(r"^beethoven/opus(\d+)\.mxl"), "Op. {0}"),
    (re.compile(r"^chopin/mazurka0?(\d+)-(\d+)"), "Op. {0} No. {1}"),
    (re.compile(r"^corelli/opus(\d+)no(\d+)"), "Op. {0} No. {1}"),
    (re.compile(r"^cpebach/h(\d+)"), "H. {0}"),
    (re.compile(r"^mozart/k(\d+)/"), "K. {0}"),
    (re.compile(r"^webern/.*_op_(\d+)_no_(\d+)"), "Op. {0} No. {1}"),
]


def number_of_place(path: str, places: list[tuple[re.Pattern[str], str]]) -> str | None:
    for pattern, form in places:
        match = pattern.match(path)
        if match:
            return form.format(*match.groups())
    return None


def test_numbers_in_the_labels_are_those_under_which_the_corpus_keeps_the_works(
    labels: list[Label],
) -> None:
    wrong, compared = [], 0
    for label in labels:
        number = number_of_place(label.path, PLACES)
        # A label counts if it says a number at all; the chorales' is their file's name.
        if number is None or not re.search(r"\b(?:op|opus|k|h|bwv)[ .]{0,2}\d", label.title, re.I):
            continue
        compared += 1
        work = filed(label.composer, re.sub(r"\.(?:mxl|xml)$", "", label.title)).work
        found = work.catalogue if work else ()
        # "Op. 16/II" is read as Op. 16: a Roman number behind a slash is as often the movement.
        if number not in found and label.title != "Dormi Jesu (Op. 16/II)":
            wrong.append((label.title, number, found))
    assert not wrong
    assert compared >= 300


def test_keys_in_the_labels_agree_with_the_signature_of_the_score(labels: list[Label]) -> None:
    """The first movement is in the work's key; music21 counted the sharps in the score itself."""
    stated = signatures = 0
    for label in labels:
        said = re.search(r"\bin ([A-G])(?:-(flat|sharp))? (major|minor)", label.title, re.I)
        if said is None:
            continue
        stated += 1
        work = filed(label.composer, label.title).work
        assert work is not None and work.key is not None, label
        tonic, mode = work.key.split()
        sign = f"-{said[2].lower()}" if said[2] else ""
        assert (tonic, mode) == (said[1].upper() + sign, said[3].lower())
        # later movements and those of C. P. E. Bach's sonata stand in other keys
        if "movement1" in label.path or label.folder == "chopin":
            name = tonic.replace("-flat", "-").replace("-sharp", "#")
            key = music21.key.Key(name.lower() if mode == "minor" else name)
            assert key.sharps == label.sharps, label
            signatures += 1
    assert stated >= 8
    assert signatures >= 3


def test_movements_in_the_labels_are_those_under_which_the_corpus_keeps_them(
    labels: list[Label],
) -> None:
    """ "Op. 18 no. 1 mvmnt 1", "Op 59  No 2  3rd Movement - Score", "K.80, Mvmnt. 3"."""
    wrong, compared = [], 0
    for label in labels:
        place = re.search(r"/movement(\d)\.", label.path)
        if place is None or not re.search(r"\b(?:movement|mvmnt)\b", label.title, re.I):
            continue
        compared += 1
        movement = filed(label.composer, label.title).movement
        if movement is None or movement.number != int(place[1]):
            wrong.append((label.path, label.title, movement))
    assert not wrong
    assert compared >= 14


# First movements, and scores of all movements in one, of works in the table: by place and number.
FIRST_MOVEMENTS = [
    *PLACES,
    (re.compile(r"^haydn/opus(\d+)no(\d+)"), "Op. {0} No. {1}"),
    (re.compile(r"^schumann_robert/opus(\d+)no(\d+)"), "Op. {0} No. {1}"),
]


def test_the_table_of_works_has_the_key_that_the_score_is_signed_with() -> None:
    """Signatures as music21 read them from the scores; quartets, sonatas and a mazurka."""
    owners = {**FOLDERS, "haydn": "Haydn, Joseph"}
    wrong, compared = [], set()
    for entry in music21.corpus.corpora.CoreCorpus().metadataBundle[:]:
        path = str(entry.sourcePath).replace("\\", "/")
        folder = path.split("/")[0]
        if folder not in owners or re.search(r"movement[2-9]", path):
            continue
        number = number_of_place(path, FIRST_MOVEMENTS)
        # A chorale of a cantata, a movement of a sonata, a fugue in all keys: not the work's key.
        if number is None or folder in ("bach", "cpebach", "corelli") or number == "Op. 133":
            continue
        work = by_number(owners[folder], (number,))
        if work is None or work.key is None or entry.metadata is None:
            continue
        tonic, mode = work.key.split()
        name = tonic.replace("-flat", "-").replace("-sharp", "#")
        key = music21.key.Key(name.lower() if mode == "minor" else name)
        compared.add((folder, number))
        if key.sharps != entry.metadata.keySignatureFirst:
            wrong.append((path, work.key, entry.metadata.keySignatureFirst))
    assert not wrong
    assert len(compared) >= 12
