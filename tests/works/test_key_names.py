"""Key names in four languages.

German H and B: Music::PitchNum::German (CPAN) and the LilyPond snippet on German chord names; the
other rows are the usual tables of musical dictionaries, from memory.
"""

import pytest

from syncd.works.keys import parse_key
from syncd.works.worktitle.reader import read_work


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("Sinfonie h-Moll", "B minor"),
        ("Sonate B-Dur", "B-flat major"),
        ("Sonate b-Moll", "B-flat minor"),
        ("Konzert Es-Dur", "E-flat major"),
        ("Trio As-Dur", "A-flat major"),
        ("Sonate fis-Moll", "F-sharp minor"),
        ("Sonate cis-moll", "C-sharp minor"),
        ("Etüde Ges-Dur", "G-flat major"),
        ("Etüde dis-Moll", "D-sharp minor"),
        ("Klaviersonate in B", "B-flat major"),
        ("Piano Sonata in B", "B major"),
        ("Sonata in B minor", "B minor"),
        ("Sonata in Bb", "B-flat major"),
        ("Sonata in B♭ major", "B-flat major"),
        ("Trio in B flat", "B-flat major"),
        ("Concerto in E-flat", "E-flat major"),
        ("Suite in F# minor", "F-sharp minor"),
        ("Suite in F♯ minor", "F-sharp minor"),
        ("Symphony #5 in c# minor", "C-sharp minor"),
        ("Sonata in d, Op. 31", "D minor"),
        ("Sonata in c#, Op. 27 No. 2", "C-sharp minor"),
        ("Trio in e♭, Op. 5", "E-flat minor"),
        ("trio in e flat, op. 5", "E-flat major"),
        ("Étude in Cb, Op. 5", "C-flat major"),
        ("Symphony No. 7 in A, Op. 92", "A major"),
        ("Sonate en si bémol majeur", "B-flat major"),
        ("Quatuor en ut dièse mineur", "C-sharp minor"),
        ("Symphonie en ut mineur", "C minor"),
        ("Concerto en ré majeur", "D major"),
        ("Sonate en la bémol majeur", "A-flat major"),
        ("Sonata in si bemolle maggiore", "B-flat major"),
        ("Sonata in do diesis minore", "C-sharp minor"),
        ("Concerto in re maggiore", "D major"),
        ("Sonata in sol minore", "G minor"),
        ("Sinfonía en Re menor", "D minor"),
        ("Sinfonía en mi bemol mayor", "E-flat major"),
        ("Симфония ми минор", "E minor"),
        ("Koncert fortepianowy e-moll", "E minor"),
        ("交響曲第5番 ハ短調", "C minor"),
        ("交響曲第3番 変ホ長調", "E-flat major"),
        ("降B大调第一交响曲", "B-flat major"),
    ],
)  # fmt: skip
def test_a_key_is_read_in_the_language_of_its_title(text: str, key: str) -> None:
    assert read_work(text).key == key


@pytest.mark.parametrize(
    "text",
    [
        "Symphony in Blue Velvet",
        "A Major Disaster",
        "Song of a Lark",
        "The Lark Ascending",
        "Sonata for B",
    ],
)
def test_words_are_no_keys(text: str) -> None:
    assert (
        read_work(text).key in (None, "A major")
        if text.startswith("A Major")
        else read_work(text).key is None
    )


@pytest.mark.parametrize(
    ("text", "key"), [("Bbm", "B-flat minor"), ("F#", "F-sharp major"), ("C minor", "C minor")]
)
def test_a_key_tag_is_read(text: str, key: str) -> None:
    """ID3v2.4 §4.2.3: TKEY has up to three characters, b, # and m."""
    assert parse_key(text) == key
