"""Synthetic libraries in realistic proportions, for budgets and benches. Performers are invented.

Two thirds of the tracks are movements (some four a recording, two recordings a work on average, few
composers with very many works and very many with few), the others stand on popular albums of eleven
tracks. Equal sizes give equal libraries.
"""

import random
from collections.abc import Iterator

from syncd.catalogue.belonging import CatalogueEntry
from syncd.model import (
    AudioFacts,
    AudioHash,
    CardPath,
    Codec,
    Composer,
    Credit,
    Identity,
    Kind,
    LibraryPath,
    Movement,
    Track,
    Work,
)
from syncd.works.composers import table

FORMS = (
    ("Symphony", "orchestra"), ("Piano Sonata", "piano"), ("String Quartet", "quartet"),
    ("Violin Concerto", "violin"), ("Piano Concerto", "piano"), ("Cello Suite", "cello"),
    ("Nocturne", "piano"), ("Mass", "choir"), ("Cantata", "choir"), ("Violin Sonata", "violin"),
    ("Overture", "orchestra"), ("Piano Trio", "trio"), ("Prelude and Fugue", "organ"),
    ("Songs", "soprano"), ("Trio Sonata", "flute"), ("Organ Fantasia", "organ"),
)  # fmt: skip
TEMPI = (
    "Allegro con brio", "Andante con moto", "Scherzo. Allegro", "Allegro", "Adagio",
    "Largo e mesto", "Menuetto. Allegretto", "Finale. Presto", "Rondo. Allegro ma non troppo",
    "Poco sostenuto - Vivace", "Molto allegro", "Andante cantabile con espressione",
)  # fmt: skip
KEYS = (
    "C major",
    "C minor",
    "D major",
    "E-flat major",
    "F-sharp minor",
    "G major",
    "A minor",
    None,
)
SYLLABLES = (
    "ba", "bren", "cal", "dor", "el", "fen", "gar", "hol", "ist", "jan", "kel", "lor", "mar", "nes",
    "ost", "per", "quin", "ras", "sel", "tor", "ul", "vas", "wes", "yl", "zan", "møl", "ré", "ši",
)  # fmt: skip
GIVEN = (
    "Anton", "Brita", "Corvin", "Dagny", "Edmar", "Fenna", "Gisla", "Henrik", "Ilvana", "Joris",
    "Katla", "Leontin", "Maartje", "Nils", "Oda", "Petr", "Quirin", "Rosalia", "Sanne", "Teodor",
)  # fmt: skip
BODIES = ("Philharmonic", "Chamber Orchestra", "Symphony Orchestra", "Consort", "Radio Orchestra")
WORDS = (
    "tram", "lamp", "harbour", "window", "slow", "chalk", "ferry", "kiln", "Thursday", "paper",
    "river", "static", "orchard", "velvet", "signal", "winter", "copper", "sleeper", "garden",
    "engine", "shallow", "lantern", "north", "yellow", "distance", "corner", "thunder", "salt",
)  # fmt: skip


class BigLibrary:
    """Makes one library of a number of tracks."""

    def __init__(self, tracks: int, seed: int = 1) -> None:
        self.tracks = tracks
        self.random = random.Random(seed * 1_000_003 + tracks)
        self.made = 0

    def entries(self) -> list[CatalogueEntry]:
        """The whole library."""
        movements = round(self.tracks * 0.66)
        return [*self._works(movements), *self._popular(self.tracks - movements)]

    def _name(self) -> str:
        pick = self.random
        family = "".join(pick.choices(SYLLABLES, k=pick.choice((2, 2, 3)))).capitalize()
        return f"{pick.choice(GIVEN)} {family}"

    def _pool(self, size: int) -> list[str]:
        return [self._name() for _ in range(max(3, size))]

    def _composers(self, count: int) -> list[Composer]:
        known = [entry.composer for entry in table().entries]
        self.random.shuffle(known)
        found = known[:count]
        for name in self._pool(count - len(found)) if count > len(found) else ():
            given, _, family = name.partition(" ")
            found.append(Composer(name, f"{family}, {given}"))
        return found

    def _skewed(self, pool: int) -> int:
        """A place in a pool: the first ones come very often."""
        return min(int(pool * self.random.random() ** 3), pool - 1)

    def _works(self, tracks: int) -> Iterator[CatalogueEntry]:
        pick = self.random
        composers = self._composers(max(5, round(tracks**0.66)))
        conductors = self._pool(round(tracks**0.62))
        ensembles = [
            f"{''.join(pick.choices(SYLLABLES, k=3)).capitalize()} {pick.choice(BODIES)}"
            for _ in range(max(3, round(tracks**0.6)))
        ]
        soloists = self._pool(round(tracks**0.72))
        done = number = 0
        while done < tracks:
            composer = composers[self._skewed(len(composers))]
            form, scoring = pick.choice(FORMS)
            number += 1
            opus = pick.randint(1, 1100)
            sign = pick.choice(
                (f"Op. {opus}", f"Op. {opus} No. {pick.randint(1, 6)}", f"K. {opus}")
            )
            title = f"{form} No. {pick.randint(1, 60)}" if pick.random() < 0.8 else form
            work = Work(title, (sign,), pick.choice(KEYS))
            length = min(tracks, pick.choice((1, 1, 1, 2, 3, 3, 4, 4, 4, 4, 5, 8, 12)))
            names = [pick.choice(TEMPI) for _ in range(length)]
            for performance in range(pick.choice((1, 1, 1, 2, 2, 4))):
                if done >= tracks:
                    break
                credits = self._credits(scoring, conductors, ensembles, soloists)
                where = self._folder(composer, work, credits)
                year = str(pick.randint(1955, 2024))
                added = pick.randint(15_000, 20_400)
                album = f"{composer.name}: {form}s" if pick.random() < 0.5 else title
                for place, name in enumerate(names[: tracks - done], start=1):
                    identity = Identity(
                        Kind.WORK, composer, work, f"r{number}.{performance}",
                        Movement(place, name), credits,
                    )  # fmt: skip
                    yield self._entry(
                        f"{where}/{place:02} {name}.mp3",
                        identity,
                        name,
                        "",
                        album,
                        year,
                        place,
                        added,
                    )
                    done += 1

    def _credits(
        self, scoring: str, conductors: list[str], ensembles: list[str], soloists: list[str]
    ) -> tuple[Credit, ...]:
        pick = self.random
        found: list[Credit] = []
        if scoring not in ("orchestra", "choir", "quartet", "trio"):
            found.append(Credit(soloists[self._skewed(len(soloists))], "soloist", scoring))
            if pick.random() < 0.4:
                found.append(Credit(soloists[self._skewed(len(soloists))], "soloist", "piano"))
        if scoring == "choir":
            found.append(Credit(f"Choir of {pick.choice(SYLLABLES).capitalize()}stad", "choir"))
            for voice in ("soprano", "alto", "tenor", "bass"):
                found.append(Credit(soloists[self._skewed(len(soloists))], "soloist", voice))
        if scoring in ("orchestra", "choir", "violin", "quartet", "trio"):
            found.append(Credit(ensembles[self._skewed(len(ensembles))], "ensemble"))
        if scoring in ("orchestra", "choir"):
            found.append(Credit(conductors[self._skewed(len(conductors))], "conductor"))
        return tuple(dict.fromkeys(found))

    def _folder(self, composer: Composer, work: Work, credits: tuple[Credit, ...]) -> str:
        key = f" in {work.key}" if work.key else ""
        self.made += 1
        whose = credits[-1].name.split()[-1]
        return f"{composer.sort}/{work.title}{key}, {work.catalogue[0]}/{whose} {self.made}"

    def _popular(self, tracks: int) -> Iterator[CatalogueEntry]:
        pick = self.random
        artists = [
            f"The {' '.join(pick.sample(WORDS, 2)).title()}s" if pick.random() < 0.5 else name
            for name in self._pool(max(3, tracks // 40))
        ]
        done = 0
        while done < tracks:
            artist = artists[self._skewed(len(artists))]
            album = " ".join(pick.sample(WORDS, pick.choice((1, 2, 3)))).capitalize()
            year = str(pick.randint(1965, 2024))
            added = pick.randint(15_000, 20_400)
            for place in range(1, 1 + min(pick.randint(6, 16), tracks - done)):
                title = " ".join(pick.sample(WORDS, pick.choice((1, 2, 3, 4)))).capitalize()
                yield self._entry(
                    f"{artist}/{album}/{place:02} {title} {self.made}.mp3",
                    Identity(Kind.POPULAR, artist=artist, album=album),
                    title, artist, album, year, place, added,
                )  # fmt: skip
                done += 1
                self.made += 1

    def _entry(
        self, path: str, identity: Identity, title: str, artist: str, album: str, year: str,
        number: int, added: int,
    ) -> CatalogueEntry:  # fmt: skip
        seconds = self.random.uniform(60, 900)
        audio = AudioFacts("flac", Codec.FLAC, 44100, 2, seconds)
        track = Track(
            LibraryPath(f"/library/{path}"), AudioHash("0" * 32), audio, 30_000_000, title, artist,
            album, "", year, "", "", number, 1, None, None, False, added,
        )  # fmt: skip
        size = int(seconds * 24_000)
        return CatalogueEntry(CardPath(path), track, identity, size, -763, "cover.jpg")


def big_library(tracks: int, seed: int = 1) -> list[CatalogueEntry]:
    """A library of *tracks* tracks."""
    return BigLibrary(tracks, seed).entries()
