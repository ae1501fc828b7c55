"""Which tracks are filed by work though a genre or the artist field speaks against it.

Families of like cases and what looks like them: composers in ARTIST, arias among new songs, bands
with titles of concert life. Whose a work is, is from worklists, from memory; players are invented.
"""

import pytest
from works_kit import composer_and_title, filed

from syncd.model import Kind

BY_ARTIST = [
    ("Spiegel im Spiegel", "Arvo Pärt", "Ambient", "Pärt, Arvo"),
    ("In C", "Terry Riley", "Rock", "Riley, Terry"),
    ("Glassworks: Opening", "Philip Glass", "Ambient", "Glass, Philip"),
    ("Gymnopédie No. 1", "Erik Satie", "Chillout", "Satie, Erik"),
    ("Clair de lune", "Claude Debussy", "Easy Listening", "Debussy, Claude"),
    ("Short Ride in a Fast Machine", "John Adams", "Electronic", "Adams, John"),
    ("Electric Counterpoint: III. Fast", "Steve Reich", "Electronic", "Reich, Steve"),
    ("Rhapsody in Blue", "George Gershwin", "Jazz", "Gershwin, George"),
    ("The Entertainer", "Scott Joplin", "Ragtime", "Joplin, Scott"),
    ("Winter", "Antonio Vivaldi", "Pop", "Vivaldi, Antonio"),
]


@pytest.mark.parametrize(("title", "artist", "genre", "composer"), BY_ARTIST)
def test_an_artist_who_composed_the_piece_outweighs_a_popular_genre(
    title: str, artist: str, genre: str, composer: str
) -> None:
    [found] = filed([title], ALBUM="After Hours", ARTIST=artist, GENRE=genre)
    assert (found.kind, composer_and_title(found)[0]) == (Kind.WORK, composer), found.reasons


@pytest.mark.parametrize(
    ("title", "artist", "genre"),
    [
        ("In C", "The Milk Crates", "Rock"),
        ("Carmen", "Lara Kint", "Pop"),
        ("Dreams", "The Milk Crates", "Rock"),
        ("Prelude", "John Adams", "Rock"),  # of whom nobody can tell that it is the composer
        ("Summer Morning", "John Williams", "Folk"),
        ("Main Title", "Ennio Morricone", "Soundtrack"),
        ("Suite in Blue, Op. 3: I. Dawn", "The Milk Crates", "Progressive Rock"),
    ],
)
def test_a_popular_genre_counts_where_nobody_is_known_for_the_piece(
    title: str, artist: str, genre: str
) -> None:
    assert filed([title], ALBUM="After Hours", ARTIST=artist, GENRE=genre)[0].kind is Kind.POPULAR


@pytest.mark.parametrize(
    ("title", "composer", "genre", "kind"),
    [
        ("Nessun dorma", "Giacomo Puccini", "Classical Crossover", Kind.WORK),
        ("Ombra mai fu", "G.F. Handel", "Classical Crossover", Kind.WORK),
        ("Una furtiva lagrima", "Gaetano Donizetti", "Operatic Pop", Kind.WORK),
        ("Zueignung", "Johannes Brahms", "Pop/Opera", Kind.WORK),
        ("Cielo di vetro", "D. Fontanesi / P. Wray", "Classical Crossover", Kind.POPULAR),
        ("You Are My Harbour", "P. Wray", "Operatic Pop", Kind.POPULAR),
        ("Summertime Again", "George Gershwin", "Classical Crossover", Kind.POPULAR),
        ("Air", "Johann Sebastian Bach", "Rock", Kind.POPULAR),
        ("Toccata", "Alberto Ginastera", "Progressive Rock", Kind.POPULAR),
        ("Bydlo Again", "Modest Mussorgsky", "Symphonic Metal", Kind.POPULAR),
    ],
)
def test_an_old_master_among_songs_between_the_genres_keeps_his_work(
    title: str, composer: str, genre: str, kind: Kind
) -> None:
    [found] = filed(
        [title], ALBUM="Eterno", ARTIST="Fausto Belvardi", COMPOSER=composer, GENRE=genre
    )
    assert found.kind is kind, found.reasons


@pytest.mark.parametrize(
    ("title", "artist", "composer"),
    [
        ("Dubnová preludia, op. 13: I. Allegro ma non troppo", "Vítězslava Kaprálová",
         "Kaprálová, Vítězslava"),
        ("Estancia, Op. 8a: II. Danza del trigo", "Alberto Ginastera", "Ginastera, Alberto"),
        ("Sonatine bureaucratique, Op. 7: II. Andante", "Malcolm Arnold", "Arnold, Malcolm"),
        ("Kvartetto nro 3, op. 21: I. Moderato", "Kalevi Aho", "Aho, Kalevi"),
        ("Preludi, op. 4: III. Vivo", "Luigi Dallapiccola", "Dallapiccola, Luigi"),
    ],
)  # fmt: skip
def test_an_opus_by_an_artist_who_composed_makes_a_work_in_any_language(
    title: str, artist: str, composer: str
) -> None:
    [found] = filed([title], ALBUM="Album", ARTIST=artist)
    assert (found.kind, composer_and_title(found)[0]) == (Kind.WORK, composer)
    assert found.confidence < 0.5  # he may play another's


@pytest.mark.parametrize(
    "players", ["Filarmónica del Altiplano", "Tarn Quartet", "Kammerchor Linden"]
)
def test_an_artist_beside_an_orchestra_as_album_artist_composed(players: str) -> None:
    [found] = filed(["Huapango"], ARTIST="José Pablo Moncayo", ALBUM="Danzas", ALBUMARTIST=players)
    assert composer_and_title(found) == ("Moncayo, José Pablo", "Huapango")


@pytest.mark.parametrize(
    ("artist", "album_artist"),
    [
        ("Lara Kint", "Filarmónica del Altiplano"),
        ("José Pablo Moncayo", "José Pablo Moncayo"),
        ("José Pablo Moncayo", "The Milk Crates"),
        ("José Pablo Moncayo", "Various Artists"),
    ],
)
def test_no_orchestra_as_album_artist_tells_of_a_composer(artist: str, album_artist: str) -> None:
    [found] = filed(["Casa Vieja"], ARTIST=artist, ALBUM="Danzas", ALBUMARTIST=album_artist)
    assert found.kind is Kind.POPULAR


def test_who_is_named_in_the_albums_title_composed_where_a_quartet_plays() -> None:
    found = filed(
        [
            "Arcadiana, Op. 12: I. Venezia notturna",
            "Arcadiana, Op. 12: II. Das klinget so herrlich",
        ],
        ALBUM="Ades: Arcadiana",
        ARTIST="Thomas Ades",
        ALBUMARTIST="Selwyn Quartet",
    )
    assert [composer_and_title(one) for one in found] == [("Adès, Thomas", "Arcadiana")] * 2
    assert 0.8 < found[0].confidence <= 0.9
