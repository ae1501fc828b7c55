"""The table of well-known works against facts of the thematic catalogues and its own rules.

The table's facts come from memory, as do the rows here that say so. Rows marked CONFIRMED were
found, number and title together, in several independent public texts; "key" after the status means
that the key alone comes from memory. Catalogues meant: Schmieder (BWV), Kinsky-Halm (Op., WoO of
Beethoven), Köchel, Hoboken, Deutsch, Baselt (HWV), Ryom (RV), Searle (S.), Grasberger (WAB),
Deathridge-Geck-Voss (WWV), Mueller von Asow and Trenner (TrV), Burghauser (B.), Marnat (M.),
Szőllősy (Sz.) and Somfai (BB), Zimmerman (Z.), Stattkus (SV), Kirkpatrick (Kk.) and Longo (L.).
"""

import json
import re
import unicodedata
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
from works_kit import lines

import syncd.works
from syncd.works.numbers.meaning import parse_number

DATA = Path(syncd.works.__file__).parent / "data"
TEXT = (DATA / "works.json").read_text(encoding="utf-8")
ROWS: list[dict[str, Any]] = json.loads(TEXT)
COMPOSERS = {
    row["sort"]: row for row in json.loads((DATA / "composers.json").read_text(encoding="utf-8"))
}
BY_NUMBER = {(row["composer"], number): row for row in ROWS for number in row.get("catalogue", ())}

KEY = re.compile(r"[A-G](?:-flat|-sharp)? (?:major|minor)")

# composer | number | title | key or "-" | status
FACTS = """
Bach, Johann Sebastian|BWV 988|Goldberg Variations|G major|CONFIRMED, key from memory
Bach, Johann Sebastian|BWV 1007|Cello Suite No. 1|G major|CONFIRMED
Bach, Johann Sebastian|BWV 565|Toccata and Fugue|D minor|CONFIRMED
Bach, Johann Sebastian|BWV 1080|The Art of Fugue|D minor|CONFIRMED, key from memory
Bach, Johann Sebastian|BWV 232|Mass|B minor|FROM MEMORY
Bach, Johann Sebastian|BWV 244|St Matthew Passion|-|FROM MEMORY
Bach, Johann Sebastian|BWV 846|Prelude and Fugue|C major|FROM MEMORY
Bach, Johann Sebastian|BWV 869|Prelude and Fugue|B minor|FROM MEMORY
Bach, Johann Sebastian|BWV 1004|Violin Partita No. 2|D minor|FROM MEMORY
Bach, Johann Sebastian|BWV 1043|Concerto for Two Violins|D minor|FROM MEMORY
Bach, Johann Sebastian|BWV 1046|Brandenburg Concerto No. 1|F major|FROM MEMORY
Bach, Johann Sebastian|BWV 1047|Brandenburg Concerto No. 2|F major|FROM MEMORY
Bach, Johann Sebastian|BWV 1048|Brandenburg Concerto No. 3|G major|FROM MEMORY
Bach, Johann Sebastian|BWV 1049|Brandenburg Concerto No. 4|G major|FROM MEMORY
Bach, Johann Sebastian|BWV 1050|Brandenburg Concerto No. 5|D major|FROM MEMORY
Bach, Johann Sebastian|BWV 1051|Brandenburg Concerto No. 6|B-flat major|FROM MEMORY
Bach, Johann Sebastian|BWV 1067|Orchestral Suite No. 2|B minor|FROM MEMORY
Bach, Johann Sebastian|BWV 1068|Orchestral Suite No. 3|D major|FROM MEMORY
Bartók, Béla|Sz. 106|Music for Strings, Percussion and Celesta|-|CONFIRMED
Bartók, Béla|BB 114|Music for Strings, Percussion and Celesta|-|FROM MEMORY
Bartók, Béla|Sz. 116|Concerto for Orchestra|-|FROM MEMORY
Bartók, Béla|BB 123|Concerto for Orchestra|-|FROM MEMORY
Beethoven, Ludwig van|WoO 59|Bagatelle|A minor|CONFIRMED
Beethoven, Ludwig van|Op. 27 No. 2|Piano Sonata No. 14|C-sharp minor|FROM MEMORY
Beethoven, Ludwig van|Op. 61|Violin Concerto|D major|CONFIRMED
Beethoven, Ludwig van|Op. 67|Symphony No. 5|C minor|FROM MEMORY
Beethoven, Ludwig van|Op. 106|Piano Sonata No. 29|B-flat major|FROM MEMORY
Beethoven, Ludwig van|Op. 125|Symphony No. 9|D minor|FROM MEMORY
Beethoven, Ludwig van|Op. 131|String Quartet No. 14|C-sharp minor|FROM MEMORY
Berlioz, Hector|H. 48|Symphonie fantastique|-|FROM MEMORY
Berlioz, Hector|Op. 14|Symphonie fantastique|-|FROM MEMORY
Boccherini, Luigi|G. 448|Guitar Quintet No. 4|D major|FROM MEMORY
Brahms, Johannes|Op. 98|Symphony No. 4|E minor|FROM MEMORY
Brahms, Johannes|WoO 1|Hungarian Dances|-|FROM MEMORY
Bruckner, Anton|WAB 107|Symphony No. 7|E major|FROM MEMORY
Bruckner, Anton|WAB 100|Symphony No. 0|D minor|FROM MEMORY
Buxtehude, Dietrich|BuxWV 137|Praeludium|C major|FROM MEMORY
Charpentier, Marc-Antoine|H. 146|Te Deum|D major|FROM MEMORY
Debussy, Claude|L. 109|La mer|-|FROM MEMORY
Dvořák, Antonín|Op. 95|Symphony No. 9|E minor|FROM MEMORY
Dvořák, Antonín|B. 178|Symphony No. 9|E minor|FROM MEMORY
Dvořák, Antonín|Op. 104|Cello Concerto|B minor|FROM MEMORY
Dvořák, Antonín|B. 191|Cello Concerto|B minor|FROM MEMORY
Franck, César|FWV 8|Violin Sonata|A major|CONFIRMED
Franck, César|M. 8|Violin Sonata|A major|CONFIRMED
Gluck, Christoph Willibald|Wq. 30|Orfeo ed Euridice|-|FROM MEMORY
Handel, George Frideric|HWV 56|Messiah|-|CONFIRMED
Handel, George Frideric|HWV 348|Water Music Suite No. 1|F major|FROM MEMORY
Handel, George Frideric|HWV 349|Water Music Suite No. 2|D major|FROM MEMORY
Handel, George Frideric|HWV 350|Water Music Suite No. 3|G major|FROM MEMORY
Handel, George Frideric|HWV 351|Music for the Royal Fireworks|D major|FROM MEMORY
Haydn, Joseph|Hob. I:104|Symphony No. 104|D major|CONFIRMED
Haydn, Joseph|Hob. I:94|Symphony No. 94|G major|FROM MEMORY
Haydn, Joseph|Hob. III:77|String Quartet|C major|FROM MEMORY
Haydn, Joseph|Op. 76 No. 3|String Quartet|C major|FROM MEMORY
Haydn, Joseph|Hob. VIIe:1|Trumpet Concerto|E-flat major|FROM MEMORY
Haydn, Joseph|Hob. XV:25|Piano Trio|G major|FROM MEMORY
Haydn, Joseph|Hob. XVI:52|Piano Sonata|E-flat major|CONFIRMED, key from memory
Haydn, Joseph|Hob. XXI:2|The Creation|-|FROM MEMORY
Janáček, Leoš|JW VII/8|String Quartet No. 1|-|FROM MEMORY
Liszt, Franz|S. 178|Piano Sonata|B minor|FROM MEMORY
Liszt, Franz|S. 244 No. 2|Hungarian Rhapsody No. 2|C-sharp minor|FROM MEMORY
Mendelssohn, Felix|Op. 64|Violin Concerto|E minor|FROM MEMORY
Mendelssohn, Felix|Op. 90|Symphony No. 4|A major|FROM MEMORY
Monteverdi, Claudio|SV 206|Vespro della Beata Vergine|-|FROM MEMORY
Monteverdi, Claudio|SV 318|L'Orfeo|-|FROM MEMORY
Mozart, Wolfgang Amadeus|K. 550|Symphony No. 40|G minor|CONFIRMED
Mozart, Wolfgang Amadeus|K. 551|Symphony No. 41|C major|FROM MEMORY
Mozart, Wolfgang Amadeus|K. 466|Piano Concerto No. 20|D minor|CONFIRMED
Mozart, Wolfgang Amadeus|K. 525|Serenade No. 13|G major|CONFIRMED
Mozart, Wolfgang Amadeus|K. 622|Clarinet Concerto|A major|CONFIRMED
Mozart, Wolfgang Amadeus|K. 331|Piano Sonata No. 11|A major|FROM MEMORY
Mozart, Wolfgang Amadeus|K. 183|Symphony No. 25|G minor|FROM MEMORY
Mozart, Wolfgang Amadeus|K. 626|Requiem|D minor|FROM MEMORY
Nielsen, Carl|Op. 29|Symphony No. 4|-|FROM MEMORY
Nielsen, Carl|FS 76|Symphony No. 4|-|FROM MEMORY
Purcell, Henry|Z. 626|Dido and Aeneas|-|FROM MEMORY
Rameau, Jean-Philippe|RCT 44|Les Indes galantes|-|FROM MEMORY
Ravel, Maurice|M. 81|Boléro|C major|FROM MEMORY
Scarlatti, Domenico|Kk. 466|Keyboard Sonata|F minor|CONFIRMED, key from memory
Scarlatti, Domenico|L. 118|Keyboard Sonata|F minor|FROM MEMORY
Schubert, Franz|D. 944|Symphony No. 9|C major|CONFIRMED
Schubert, Franz|D. 759|Symphony No. 8|B minor|CONFIRMED
Schubert, Franz|D. 810|String Quartet No. 14|D minor|CONFIRMED
Schubert, Franz|D. 667|Piano Quintet|A major|FROM MEMORY
Schubert, Franz|D. 911|Winterreise|-|FROM MEMORY
Schubert, Franz|D. 960|Piano Sonata No. 21|B-flat major|FROM MEMORY
Strauss, Richard|Op. 30|Also sprach Zarathustra|-|CONFIRMED
Strauss, Richard|TrV 176|Also sprach Zarathustra|-|CONFIRMED
Tchaikovsky, Pyotr Ilyich|Op. 74|Symphony No. 6|B minor|FROM MEMORY
Telemann, Georg Philipp|TWV 51:G9|Viola Concerto|G major|FROM MEMORY
Vivaldi, Antonio|RV 269|Violin Concerto|E major|CONFIRMED
Vivaldi, Antonio|Op. 8 No. 1|Violin Concerto|E major|CONFIRMED
Vivaldi, Antonio|RV 315|Violin Concerto|G minor|FROM MEMORY
Vivaldi, Antonio|RV 293|Violin Concerto|F major|FROM MEMORY
Vivaldi, Antonio|RV 297|Violin Concerto|F minor|FROM MEMORY
Vivaldi, Antonio|RV 589|Gloria|D major|FROM MEMORY
Wagner, Richard|WWV 96|Die Meistersinger von Nürnberg|-|CONFIRMED
Wagner, Richard|WWV 86A|Das Rheingold|-|FROM MEMORY
Wagner, Richard|WWV 86D|Götterdämmerung|-|FROM MEMORY
Weber, Carl Maria von|J. 277|Der Freischütz|-|FROM MEMORY
Weber, Carl Maria von|Op. 77|Der Freischütz|-|FROM MEMORY
Zelenka, Jan Dismas|ZWV 19|Missa Dei Patris|C major|FROM MEMORY
"""

# composer | number | by-name | status: common practice of record sleeves, no source.
NICKNAMES = """
Beethoven, Ludwig van|Op. 27 No. 2|Mondschein
Beethoven, Ludwig van|WoO 59|Für Elise
Beethoven, Ludwig van|Op. 55|Eroica
Haydn, Joseph|Hob. I:104|London
Haydn, Joseph|Hob. I:94|Surprise
Haydn, Joseph|Hob. III:77|Emperor
Mozart, Wolfgang Amadeus|K. 551|Jupiter
Mozart, Wolfgang Amadeus|K. 525|Eine kleine Nachtmusik
Schubert, Franz|D. 759|Unvollendete
Schubert, Franz|D. 667|La Truite
Dvořák, Antonín|Op. 95|Z nového světa
Tchaikovsky, Pyotr Ilyich|Op. 74|Pathétique
Vivaldi, Antonio|RV 269|La primavera
Saint-Saëns, Camille|Op. 78|Organ
"""

# composer | title in another language | title here: customary titles, no source.
OTHER_TITLES = """
Stravinsky, Igor|Le Sacre du printemps|The Rite of Spring
Stravinsky, Igor|Der Feuervogel|The Firebird
Mozart, Wolfgang Amadeus|The Magic Flute|Die Zauberflöte
Mozart, Wolfgang Amadeus|Die Hochzeit des Figaro|Le nozze di Figaro
Wagner, Richard|Le Vaisseau fantôme|Der fliegende Holländer
Mussorgsky, Modest|Bilder einer Ausstellung|Pictures at an Exhibition
Mussorgsky, Modest|Картинки с выставки|Pictures at an Exhibition
Janáček, Leoš|Příhody lišky Bystroušky|The Cunning Little Vixen
Bartók, Béla|A kékszakállú herceg vára|Bluebeard's Castle
Smetana, Bedřich|Die verkaufte Braut|The Bartered Bride
Tchaikovsky, Pyotr Ilyich|Щелкунчик|The Nutcracker
Rossini, Gioacchino|The Barber of Seville|Il barbiere di Siviglia
Brahms, Johannes|A German Requiem|Ein deutsches Requiem
Bach, Johann Sebastian|Passion selon Saint Matthieu|St Matthew Passion
"""


def test_the_works_table_is_well_formed() -> None:
    assert len(ROWS) >= 3000
    text_lines = TEXT.splitlines()
    assert (text_lines[0], text_lines[-1]) == ("[", "]")
    assert len(text_lines) == len(ROWS) + 2, "one object a line"
    allowed = {"composer", "catalogue", "title", "key", "nicknames", "aliases"}
    for row in ROWS:
        assert {"composer", "title"} <= set(row) <= allowed, row
        for field in ("catalogue", "nicknames", "aliases"):
            values = row.get(field, ["present fields are never empty"])
            assert values and len(values) == len(set(values)), row
        texts = (row["title"], *row.get("nicknames", ()), *row.get("aliases", ()))
        for text in texts:
            assert text == unicodedata.normalize("NFC", text.strip()) and text, row
            assert text.isprintable() and "|" not in text and "  " not in text, row


def test_every_composer_of_a_work_is_in_the_composer_table() -> None:
    assert {row["composer"] for row in ROWS} <= set(COMPOSERS)


def test_keys_are_written_as_the_conventions_say() -> None:
    keys = [row["key"] for row in ROWS if "key" in row]
    assert all(KEY.fullmatch(key) for key in keys)
    assert len(keys) >= 1000


def test_no_number_of_a_composer_stands_for_two_works() -> None:
    numbers = Counter((row["composer"], n) for row in ROWS for n in row.get("catalogue", ()))
    assert not [number for number, count in numbers.items() if count > 1]
    same = Counter((row["composer"], row["title"], *row.get("catalogue", ())) for row in ROWS)
    assert not [work for work, count in same.items() if count > 1]


def test_titles_hold_no_key_and_no_catalogue_number() -> None:
    facts = re.compile(
        r"\b(?:Op\.|WoO|BWV|HWV|RV|Hob\.|K\. ?\d|KV|D\. ?\d|"
        r"in [A-G](?:-flat|-sharp)? (?:major|minor))"
    )
    for row in ROWS:
        assert not facts.search(row["title"]), row


def test_a_numbered_title_has_one_key_and_one_number_in_each_catalogue() -> None:
    # Bach's violin sonatas are two sets of their own, alone and with harpsichord.
    twice = Counter(
        (row["composer"], row["title"]) for row in ROWS if re.search(r" No\. \d+$", row["title"])
    )
    found = {work for work, count in twice.items() if count > 1}
    assert found == {("Bach, Johann Sebastian", f"Violin Sonata No. {n}") for n in (1, 2, 3)}


def test_numbers_are_written_as_the_parser_writes_them() -> None:
    # Not read as a number by itself: a group without number, and two that stay as their
    # catalogues print them; sets of Telemann are read by their first number.
    as_printed = {"Hob. XXbis", "P. 37", "B. g5", "TWV 40:2-13", "TWV 40:14-25"}
    wrong = [
        (number, read)
        for (composer, number) in BY_NUMBER
        if number not in as_printed
        and (read := parse_number(number, COMPOSERS[composer]["systems"], composer)) != number
    ]
    assert not wrong


@pytest.mark.parametrize(("composer", "number", "title", "key", "status"), lines(FACTS))
def test_works_are_as_the_thematic_catalogues_have_them(
    composer: str, number: str, title: str, key: str, status: str
) -> None:
    row = BY_NUMBER[composer, number]
    assert row["title"] == title, status
    if key != "-":
        assert row["key"] == key, status


@pytest.mark.parametrize(("composer", "number", "nickname"), lines(NICKNAMES))
def test_nicknames_stand_with_their_works(composer: str, number: str, nickname: str) -> None:
    assert nickname in BY_NUMBER[composer, number]["nicknames"]


@pytest.mark.parametrize(("composer", "alias", "title"), lines(OTHER_TITLES))
def test_titles_in_other_languages_lead_to_the_work(composer: str, alias: str, title: str) -> None:
    having = [
        row["title"]
        for row in ROWS
        if row["composer"] == composer and alias in row.get("aliases", ())
    ]
    assert having == [title]


@pytest.mark.parametrize(
    ("composer", "form", "count"),
    [  # numbers of works by the catalogues; Mozart's 37th is Michael Haydn's
        ("Beethoven, Ludwig van", "Symphony", 9),
        ("Beethoven, Ludwig van", "Piano Sonata", 32),
        ("Beethoven, Ludwig van", "String Quartet", 16),
        ("Beethoven, Ludwig van", "Violin Sonata", 10),
        ("Beethoven, Ludwig van", "Piano Concerto", 5),
        ("Haydn, Joseph", "Symphony", 104),
        ("Mozart, Wolfgang Amadeus", "Piano Concerto", 27),
        ("Mozart, Wolfgang Amadeus", "Piano Sonata", 18),
        ("Mozart, Wolfgang Amadeus", "String Quartet", 23),
        ("Shostakovich, Dmitri", "Symphony", 15),
        ("Shostakovich, Dmitri", "String Quartet", 15),
        ("Prokofiev, Sergei", "Symphony", 7),
        ("Prokofiev, Sergei", "Piano Sonata", 9),
        ("Mahler, Gustav", "Symphony", 10),
        ("Sibelius, Jean", "Symphony", 7),
        ("Dvořák, Antonín", "Symphony", 9),
        ("Scriabin, Alexander", "Piano Sonata", 10),
        ("Vaughan Williams, Ralph", "Symphony", 9),
        ("Nielsen, Carl", "Symphony", 6),
    ],
)
def test_numbered_series_are_complete(composer: str, form: str, count: int) -> None:
    numbers = {
        int(match[1])
        for row in ROWS
        if row["composer"] == composer
        and (match := re.fullmatch(rf"{form} No\. (\d+)", row["title"]))
    }
    assert numbers == set(range(1, count + 1))
