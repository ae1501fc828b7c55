"""Titles in Greek, Korean, Ukrainian and Bulgarian are read as those in other languages are.

Words for forms, numbers, keys and opus: any dictionary of music of these languages; from memory. In
Korean the notes are named by the first letters of the alphabet (da ra ma ba sa ga na for C to B).
"""

import pytest

from syncd.works.ensembles import kind_of
from syncd.works.title import read_title
from syncd.works.worktitle.reader import read_work


@pytest.mark.parametrize(
    ("title", "work", "key", "opus"),
    [
        ("Συμφωνία αρ. 5 σε ντο ελάσσονα, έργο 67", "Symphony No. 5", "C minor", "67"),
        ("Σονάτα για βιολί και πιάνο αρ. 1 σε ρε μείζονα", "Violin Sonata No. 1", "D major", None),
        ("Κουαρτέτο αρ. 2 σε σι ύφεση μείζονα", "String Quartet No. 2", "B-flat major", None),
        ("Кoнцерт", "Кoнцерт", None, None),  # one Latin letter: no word of the table
        ("Соната ля мінор, тв. 16", "Sonata", "A minor", "16"),
        ("Симфонія № 3 до мінор, ор. 50", "Symphony No. 3", "C minor", "50"),
        ("Соната за цигулка и пиано ре мажор, оп. 12", "Violin Sonata", "D major", "12"),
        ("교향곡 5번 다단조 작품번호 67", "Symphony No. 5", "C minor", "67"),
        ("피아노 협주곡 제1번 내림나단조 작품 23", "Piano Concerto No. 1", "B-flat minor", "23"),
        ("현악 사중주 14번 올림다단조, Op. 131", "String Quartet No. 14", "C-sharp minor", "131"),
        ("바이올린 소나타 5번 바장조", "Violin Sonata No. 5", "F major", None),
    ],
)
def test_a_title_is_read(title: str, work: str, key: str | None, opus: str | None) -> None:
    reading = read_work(title)
    assert (reading.title, reading.key) == (work, key)
    assert [raw.main for raw in reading.raws] == ([opus] if opus else [])


KOREAN = list(zip("다라마바사가나", "CDEFGAB", strict=True))


@pytest.mark.parametrize(("note", "english"), KOREAN)
def test_every_korean_key_is_read(note: str, english: str) -> None:
    assert read_work(f"교향곡 1번 {note}장조").key == f"{english} major"
    assert read_work(f"교향곡 1번 내림{note}단조").key == f"{english}-flat minor"
    assert read_work(f"교향곡 1번 올림{note}단조").key == f"{english}-sharp minor"


def test_a_korean_movement_is_counted() -> None:
    movement = read_title('교향곡 5번 다단조 작품번호 67 "운명": 2악장 Andante con moto').movement
    assert movement is not None and (movement.number, movement.title) == (2, "Andante con moto")


@pytest.mark.parametrize(
    ("name", "kind"),
    [("한강 필하모닉 오케스트라", "ensemble"), ("솔빛 합창단", "choir"), ("김하늘", "person"),
     ("Ορχήστρα Χρωμάτων", "ensemble"), ("Boğaz Senfoni Orkestrası", "ensemble"),
     ("Pohjolan filharmonikot", "ensemble")],
)  # fmt: skip
def test_groups_are_told_from_persons(name: str, kind: str) -> None:
    assert kind_of(name) == kind
