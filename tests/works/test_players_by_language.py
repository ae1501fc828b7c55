"""Instruments and voices in lists of performers, in the languages of tags.

The words are those of any dictionary of music (Romanian, Bulgarian, Greek, Turkish, the Baltic ones
and others); from memory. Performers are invented.
"""

import pytest
from works_kit import filed, lines, performers

from syncd.works.ensembles import kind_of
from syncd.works.people import read_people
from syncd.works.player_roles import role_or_instrument

WORDS = lines(
    """
ro|vioară violoncel violă pian orgă|violin cello viola piano organ
ro|flaut oboi clarinet fagot corn|flute oboe clarinet bassoon horn
ro|harpă chitară soprană|harp guitar soprano
bg|цигулка виола виолончело пиано флейта|violin viola cello piano flute
bg|обой кларинет валдхорна тромпет арфа|oboe clarinet horn trumpet harp
bg|китара|guitar
uk|скрипка альт віолончель фортепіано орган|violin viola cello piano organ
uk|гобой кларнет валторна гітара|oboe clarinet horn guitar
hr|violina viola violončelo glasovir orgulje|violin viola cello piano organ
hr|oboa udaraljke|oboe percussion
sl|violina violončelo klavir orgle flavta|violin cello piano organ flute
sl|trobenta tolkala|trumpet percussion
tr|keman viyola viyolonsel piyano klavsen|violin viola cello piano harpsichord
tr|flüt obua korno gitar|flute oboe horn guitar
el|βιολί βιόλα βιολοντσέλο πιάνο όργανο|violin viola cello piano organ
el|φλάουτο όμποε κιθάρα τενόρος βαρύτονος|flute oboe guitar tenor baritone
et|viiul vioola tšello klaver klavessiin|violin viola cello piano harpsichord
et|flööt metsasarv kitarr metsosopran|flute horn guitar mezzo-soprano
lv|vijole čells klavieres ērģeles klavesīns|violin cello piano organ harpsichord
lv|klarnete mežrags soprāns tenors|clarinet horn soprano tenor
lt|smuikas altas violončelė fortepijonas vargonai|violin alto cello piano organ
lt|fleita valtorna sopranas tenoras|flute horn soprano tenor
pt|violão fagote percussão acordeão saxofone|guitar bassoon percussion accordion saxophone
ko|바이올린 비올라 첼로 피아노 플루트|violin viola cello piano flute
ko|클라리넷 소프라노 테너|clarinet soprano tenor
en|kantele nyckelharpa euphonium|kantele nyckelharpa euphonium
en|koto shakuhachi|koto shakuhachi
"""
)


@pytest.mark.parametrize(
    ("word", "english"),
    [
        pair
        for _, words, english in WORDS
        for pair in zip(words.split(), english.split(), strict=True)
    ],
)
def test_an_instrument_is_known_by_its_name(word: str, english: str) -> None:
    assert role_or_instrument(word) == ((), (english,))


@pytest.mark.parametrize(
    ("text", "english"),
    [("alto flute", "alto flute"), ("Altflöte", "alto flute"), ("flûte en sol", "alto flute"),
     ("bass flute", "bass flute"), ("Kontrafagott", "contrabassoon"),
     ("bass trombone", "bass trombone"), ("prepared piano", "prepared piano"),
     ("baroque violin", "violin"), ("chamber organ", "organ"), ("violone", "violone")],
)  # fmt: skip
def test_a_kind_of_instrument_is_told_where_it_is_one_by_itself(text: str, english: str) -> None:
    assert role_or_instrument(text) == ((), (english,))


@pytest.mark.parametrize(
    "text", ["Kurt", "Oud", "Ney", "Orel", "Glas", "Arp", "for", "para", "für"]
)
def test_names_and_small_words_are_no_instruments(text: str) -> None:
    assert role_or_instrument(text) is None


@pytest.mark.parametrize(
    ("listed", "people"),
    [
        ("Ragnhild Tveitmo, sopran & Even Skarstad, klaver",
         [("Ragnhild Tveitmo", ("soprano",)), ("Even Skarstad", ("piano",))]),
        ("Lara Kint, Violine und Jan Venn, Klavier",
         [("Lara Kint", ("violin",)), ("Jan Venn", ("piano",))]),
        ("Lara Kint, violino e Jan Venn, pianoforte",
         [("Lara Kint", ("violin",)), ("Jan Venn", ("piano",))]),
        ("Lara Kint, cello, Jan Venn, piano & Ilja Sommer, flute and Mia Tarn, harp",
         [("Lara Kint", ("cello",)), ("Jan Venn", ("piano",)), ("Ilja Sommer", ("flute",)),
          ("Mia Tarn", ("harp",))]),
        ("Ilinca Brezoianu (vioară), Toma Văcaru (pian)",
         [("Ilinca Brezoianu", ("violin",)), ("Toma Văcaru", ("piano",))]),
        ("Masur, Kurt", [("Kurt Masur", ())]),
        ("Lara Kint, violin & piano", [("Lara Kint", ("violin", "piano"))]),
    ],
)  # fmt: skip
def test_a_list_says_who_plays_what(listed: str, people: list[tuple[str, tuple[str, ...]]]) -> None:
    assert [(p.name, p.instruments) for p in read_people(listed)] == people


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("Minase Kōkyō Gakudan", "ensemble"),
        ("Kurosada Kangen Gakudan", "ensemble"),
        ("Shirahama Gasshōdan", "choir"),
        ("Orchestra Simfonică din Valea Seacă", "ensemble"),
        ("Corul Filarmonicii Brad", "choir"),
        ("Simfonijski orkestar Podgaj", "ensemble"),
        ("Tanaka Kentaro", "person"),
        ("Toma Văcaru", "person"),
    ],
)
def test_groups_are_known_by_the_words_of_their_languages(name: str, kind: str) -> None:
    assert kind_of(name) == kind


def test_a_romanised_orchestra_is_no_soloist() -> None:
    [found] = filed(["November Steps"], COMPOSER="Takemitsu Tōru", ARTIST="Minase Kōkyō Gakudan")
    assert performers(found, "ensemble") == ["Minase Kōkyō Gakudan"]
    assert performers(found, "soloist") == []
