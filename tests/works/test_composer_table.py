"""The composer table by its own rules: form, order, spellings that mean one person, years."""

import re
import unicodedata

from composer_rows import BY_SORT, OWNERS, ROWS, TEXT, case_and_accents, owners, words

PERIODS = {  # name: earliest and latest year of birth that still fits the customary period
    "medieval": (800, 1430),
    "renaissance": (1360, 1605),
    "baroque": (1540, 1735),
    "classical": (1695, 1805),
    "romantic": (1760, 1890),
    "modern": (1850, 1930),
    "contemporary": (1915, 2005),
}


def test_the_table_is_well_formed_and_sorted() -> None:
    assert len(ROWS) >= 2000
    text_lines = TEXT.splitlines()
    assert (text_lines[0], text_lines[-1]) == ("[", "]")
    assert len(text_lines) == len(ROWS) + 2, "one object a line"
    fields = {"name", "sort", "born", "died", "period", "forms", "systems", "famous"}
    for row in ROWS:
        assert set(row) == fields, row["sort"]
        assert isinstance(row["name"], str) and isinstance(row["sort"], str)
        assert all(isinstance(form, str) and form == form.strip() for form in row["forms"])
        assert all(re.fullmatch(r"[a-z]+(-[a-z]+)?", system) for system in row["systems"])
        assert len(set(row["systems"])) == len(row["systems"]), row["sort"]
        assert row["famous"] in (True, False)
    order = [(case_and_accents(row["sort"]), row["sort"]) for row in ROWS]
    assert order == sorted(order)


def test_every_text_is_in_composed_form_without_stray_characters() -> None:
    for row in ROWS:
        for text in (row["name"], row["sort"], *row["forms"]):
            assert text == unicodedata.normalize("NFC", text)
            assert text.isprintable() and "  " not in text and text, row["sort"]
            assert not set(text) & set("{};|@~"), text


def test_sort_forms_and_names_are_unique() -> None:
    assert len(BY_SORT) == len(ROWS)
    assert len({words(row["sort"]) for row in ROWS}) == len(ROWS)
    assert len({words(row["name"]) for row in ROWS}) == len(ROWS)


def test_no_spelling_means_two_persons() -> None:
    for fold in (case_and_accents, words):
        shared = {form: who for form, who in owners(fold).items() if len(who) > 1}
        assert not shared


def test_no_form_repeats_another_of_the_same_person() -> None:
    def fold(text: str) -> str:
        spread = unicodedata.normalize("NFKD", text.casefold())
        return "".join(ch for ch in spread if not unicodedata.combining(ch))

    for row in ROWS:
        folded = [fold(form) for form in (row["name"], *row["forms"])]
        assert len(folded) == len(set(folded)), row["sort"]


def test_years_and_periods_are_plausible() -> None:
    for row in ROWS:
        born, died = row["born"], row["died"]
        earliest, latest = PERIODS[row["period"]]
        if born is not None:
            assert earliest <= born <= latest, row["sort"]
        if died is not None:
            assert earliest + 15 <= died <= latest + 100, row["sort"]
        if born is not None and died is not None:
            assert 10 < died - born < 110, row["sort"]


def test_all_periods_are_well_filled() -> None:
    for period in PERIODS:
        assert sum(row["period"] == period for row in ROWS) >= 25, period


def test_no_family_has_two_famous_members() -> None:
    famous = [words(row["sort"].split(",")[0]) for row in ROWS if row["famous"]]
    assert len(famous) == len(set(famous))
    assert len(famous) >= 200


def test_the_famous_own_their_family_name() -> None:
    for row in ROWS:
        if row["famous"]:
            family = row["sort"].split(",")[0]
            assert OWNERS[words(family)] == {row["sort"]}, row["sort"]


def test_composing_families_are_complete() -> None:
    # Members that occur on recordings, by the standard family articles; common knowledge.
    sizes = {"Bach": 12, "Strauss": 6, "Couperin": 4, "Puccini": 5, "Benda": 4, "Stamitz": 3}
    for family, least in sizes.items():
        members = [row for row in ROWS if row["sort"].split(",")[0] == family]
        assert len(members) >= least, family


def test_catalogue_systems_stand_with_their_composers() -> None:
    # Thematic catalogues by composer: list of abbreviations of the Music Library Association.
    for sort, system in {
        "Bach, Johann Sebastian": "bwv",
        "Bach, Wilhelm Friedemann": "fk",
        "Bach, Carl Philipp Emanuel": "wq-cpe",
        "Beethoven, Ludwig van": "woo",
        "Bartók, Béla": "sz",
        "Boccherini, Luigi": "g",
        "Bruckner, Anton": "wab",
        "Buxtehude, Dietrich": "buxwv",
        "Charpentier, Marc-Antoine": "h-charpentier",
        "Debussy, Claude": "l-debussy",
        "Dvořák, Antonín": "b-dvorak",
        "Gluck, Christoph Willibald": "wq-gluck",
        "Handel, George Frideric": "hwv",
        "Haydn, Joseph": "hob",
        "Haydn, Michael": "mh",
        "Janáček, Leoš": "jw",
        "Liszt, Franz": "s-liszt",
        "Lully, Jean-Baptiste": "lwv",
        "Mendelssohn, Felix": "mwv",
        "Monteverdi, Claudio": "sv",
        "Mozart, Wolfgang Amadeus": "kv",
        "Nielsen, Carl": "cnw",
        "Poulenc, Francis": "fp",
        "Purcell, Henry": "z",
        "Rameau, Jean-Philippe": "rct",
        "Ravel, Maurice": "m-ravel",
        "Scarlatti, Domenico": "kk",
        "Schubert, Franz": "d",
        "Schütz, Heinrich": "swv",
        "Sibelius, Jean": "js",
        "Strauss, Richard": "trv",
        "Tartini, Giuseppe": "d-tartini",
        "Tchaikovsky, Pyotr Ilyich": "th",
        "Telemann, Georg Philipp": "twv",
        "Vivaldi, Antonio": "rv",
        "Wagner, Richard": "wwv",
        "Weber, Carl Maria von": "j",
        "Zelenka, Jan Dismas": "zwv",
    }.items():
        assert system in BY_SORT[sort]["systems"], sort
