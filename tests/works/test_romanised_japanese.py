"""Romanised Japanese titles: keys by the iroha sounds, numbers, forms, however vowels are written.

The table of keys is that of any Japanese dictionary of music (iroha: ha ni ho he to i ro for C to
B; chōchō major, tanchō minor; hen flat, ei sharp); from memory.
"""

import pytest

from syncd.works.cjk import to_western
from syncd.works.worktitle.reader import read_work

IROHA = {"ha": "C", "ni": "D", "ho": "E", "he": "F", "to": "G", "i": "A", "ro": "B"}
MODES = [
    (mode, english)
    for english, modes in (
        ("major", ["chouchou", "chōchō", "chocho", "chōchou"]),
        ("minor", ["tanchou", "tanchō", "tancho", "tan-chō"]),
    )
    for mode in modes
]


@pytest.mark.parametrize("tonic", IROHA)
@pytest.mark.parametrize(("mode", "english"), MODES)
def test_every_key_is_read_in_every_spelling(tonic: str, mode: str, english: str) -> None:
    for joined in (f"{tonic.capitalize()}-{mode}", f"{tonic} {mode}", f"{tonic}{mode}"):
        assert read_work(f"Koukyoukyoku Dai 5-ban {joined}").key == f"{IROHA[tonic]} {english}"
        for sign, name in (("hen", "flat"), ("ei", "sharp")):
            signed = read_work(f"Sonata dai 2-ban {sign}-{joined}")
            assert signed.key == f"{IROHA[tonic]}-{name} {english}"


@pytest.mark.parametrize(
    ("text", "western"),
    [
        ("Kōkyōkyoku dai 9-ban ni-tanchō sakuhin 125", "Symphony No. 9 in D minor Op. 125"),
        ("Piano kyousoukyoku dai-1-ban hen-ro tanchou", "Piano Concerto No. 1 in B-flat minor"),
        ("Vaiorin sonata dai go ban he-chocho", "Violin Sonata No. 5 in F major"),
        ("Gengaku shijūsōkyoku dai 14 ban", "String Quartet No. 14"),
        ("Piano sonata dai 8-ban, dai 2 gakushou", "Piano Sonata No. 8,: 2."),
        ("Yasoukyoku hen-ho chouchou sakuhin 9-2", "Nocturne in E-flat major Op. 9 No. 2"),
        ("Kumikyoku dai-ni-ban", "Suite No. 2"),
        ("Hensōkyoku", "Variations"),
    ],
)
def test_titles_are_put_into_the_words_of_the_grammar(text: str, western: str) -> None:
    assert to_western(text) == western


@pytest.mark.parametrize(
    "text",
    ["Urban Jazz", "Táncház", "Tanchaz", "Cho Cho", "Hachi no Kyoku", "Ha-Ha-Ha", "To Chorus",
     "Rekuiemu", "Gengaku no tame no rekuiemu (Requiem for Strings)", "Ro Ro Ro", "Caribbean Ban"],
)  # fmt: skip
def test_other_texts_are_left(text: str) -> None:
    assert to_western(text) == text
