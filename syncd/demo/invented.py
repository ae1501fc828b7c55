"""The invented library as data: folders, files, tags. Performers, albums and labels do not exist.

The works are real and in the public domain; who plays them here is made up. Each folder has its
own way of tagging, as libraries have that grew over the years: dedicated work and movement tags,
everything in the title, the composer where the artist belongs, German titles, the work in the
album title alone, a work over two discs, a compilation. What they sound like is ``score``'s, how
the files are made is ``make``'s.
"""

from syncd.demo.shelf import DemoFolder, DemoTrack, dedicated, movements, pace, titled

BEETHOVEN_FLAC = "Beethoven/Symphony No. 5 - Vasslin"
BEETHOVEN_MP3 = "Beethoven/Symphony No. 5 (Brandtner-Koss, 1987)"
GRIEG = "Grieg/Peer Gynt"
GRIEG_MOVED = "Orchestral/Grieg - Peer Gynt Suite No. 1"
MISSPELT = f"{BEETHOVEN_FLAC}/01 Allegro con brio.flac"
"""The file whose movement is misspelt, until the demo's second act corrects it."""


_FIFTH = (
    ("Allegro con brio", "beethoven-fifth-1", "C minor"),
    ("Andante con moto", "", "A-flat major"),
    ("Allegro", "beethoven-fifth-3", "C minor"),
    ("Allegro", "beethoven-fifth-4", "C major"),
)


def _misspelt(tracks: tuple[DemoTrack, ...]) -> tuple[DemoTrack, ...]:
    first = tracks[0]
    wrong = {
        name: value.replace("Allegro con brio", "Alegro con brio")
        for name, value in first.tags.items()
    }
    return (DemoTrack(first.name, wrong, first.music, first.key, first.tempo), *tracks[1:])


_SONG = {"ARTIST": "Aurelio Santabruna, Quirin Ostrowald"}
_VELDE = {"ARTIST": "Orchestra of the Velde Concerts"}


def _messiah(disc: int, first: int, *rows: tuple[str, str, str]) -> DemoFolder:
    """One disc of a work over two; *first* is the number of its first movement."""
    return DemoFolder(
        f"Handel/Messiah/CD {disc}",
        "opus",
        {
            "ALBUM": "Handel: Messiah (scenes)",
            "ALBUMARTIST": "Choir of Saint Orsolan",
            "ARTIST": "Choir of Saint Orsolan, Consort of the Copper Gate, Osmund Keldahl",
            "COMPOSER": "George Frideric Handel",
            "CONDUCTOR": "Osmund Keldahl",
            "ENSEMBLE": "Consort of the Copper Gate",
            "CHOIR": "Choir of Saint Orsolan",
            "WORK": "Messiah, HWV 56",
            "DISCNUMBER": str(disc),
            "DISCTOTAL": "2",
            "DATE": "2008",
            "GENRE": "Oratorio",
        },
        tuple(
            DemoTrack(
                f"{place:02} {heading}",
                {
                    "TITLE": heading,
                    "MOVEMENT": str(first + place - 1),
                    "MOVEMENTNAME": heading,
                    "TRACKNUMBER": str(place),
                },
                music,
                key,
                pace(heading),
            )
            for place, (heading, music, key) in enumerate(rows, start=1)
        ),
        ("organ", "strings"),
        cover="embedded",
        colours=("#4a4e69", "#f2e9e4"),
    )


LIBRARY: tuple[DemoFolder, ...] = (
    DemoFolder(
        BEETHOVEN_FLAC,
        "flac",
        {
            "ALBUM": "Beethoven: Symphony No. 5",
            "ARTIST": "Marnesund Philharmonic, Teodor Vasslin",
            "CONDUCTOR": "Teodor Vasslin",
            "ENSEMBLE": "Marnesund Philharmonic",
            "DATE": "2011",
            "GENRE": "Classical",
            "LABEL": "Lanternfield Records",
        },
        _misspelt(dedicated("Ludwig van Beethoven", "Symphony No. 5 in C minor, Op. 67", _FIFTH)),
        ("strings", "strings"),
        cover="embedded",
        colours=("#5b2333", "#f7d488"),
    ),
    DemoFolder(
        BEETHOVEN_MP3,
        "mp3",
        {
            "ALBUM": "Beethoven: Symphony No. 5",
            "ARTIST": "Ilvana Brandtner-Koss; Orchestra of the Velde Concerts",
            "COMPOSER": "Beethoven, Ludwig van",
            "CONDUCTOR": "Ilvana Brandtner-Koss",
            "DATE": "1987",
            "GENRE": "Classical",
        },
        movements("Symphony No. 5 in C minor, Op. 67", _FIFTH),
        ("reed", "strings"),
        speed=0.93,
        cover="file",
        colours=("#22333b", "#c6ac8f"),
        id3_version=3,
    ),
    DemoFolder(
        "Mozart/Symphony 40",
        "aac",
        {
            "ALBUM": "Mozart: Symphony No. 40",
            "ARTIST": "Orchestra of the Velde Concerts / Osmund Keldahl",
            "DATE": "1996-05-02",
            "GENRE": "Classical",
        },
        movements(
            "Mozart: Symphony No. 40 in G minor, K. 550",
            (
                ("Molto allegro", "mozart-fortieth-1", "G minor"),
                ("Andante", "", "E-flat major"),
                ("Menuetto (Allegretto)", "", "G minor"),
                ("Allegro assai", "", "G minor"),
            ),
            "{work} - {roman}. {tempo}",
        ),
        cover="embedded",
        colours=("#284b63", "#d9d9d9"),
    ),
    DemoFolder(
        "Mozart/Eine kleine Nachtmusik",
        "flac",
        {
            "ALBUM": "Serenaden",
            "ARTIST": "Kammerorchester Lindenau-Werd",
            "COMPOSER": "Wolfgang Amadeus Mozart",
            "DATE": "2003",
            "GENRE": "Klassik",
            "LABEL": "Kupferklang",
        },
        movements(
            'Serenade Nr. 13 G-Dur KV 525 "Eine kleine Nachtmusik"',
            (
                ("Allegro", "mozart-nachtmusik-1", "G major"),
                ("Romanze (Andante)", "", "C major"),
                ("Menuetto (Allegretto)", "", "G major"),
                ("Rondo (Allegro)", "", "G major"),
            ),
        ),
        cover="file",
        colours=("#3d405b", "#e07a5f"),
    ),
    DemoFolder(
        "Vivaldi/La primavera",
        "vorbis",
        {
            "ALBUM": "The Four Seasons",
            "ARTIST": "Antonio Vivaldi",
            "PERFORMER": "Liesbet van Orsmael (violin)",
            "DATE": "1999",
            "GENRE": "Baroque",
        },
        movements(
            'Violin Concerto in E major, RV 269 "La primavera"',
            (
                ("Allegro", "vivaldi-spring-1", "E major"),
                ("Largo e pianissimo sempre", "", "C-sharp minor"),
                ("Danza pastorale (Allegro)", "", "E major"),
            ),
        ),
        colours=("#386641", "#f2e8cf"),
    ),
    DemoFolder(
        "Bach/Well-Tempered Clavier (24-96)",
        "flac-24-96",
        {
            "ALBUM": "Bach: The Well-Tempered Clavier, Book 1 (selection)",
            "ARTIST": "Henrike Falkenmoor",
            "COMPOSER": "Johann Sebastian Bach",
            "PERFORMER": "Henrike Falkenmoor (harpsichord)",
            "DATE": "2019",
            "GENRE": "Classical",
            "LABEL": "Kupferklang",
        },
        titled(
            ("Prelude and Fugue No. 1 in C major, BWV 846: Prelude", "bach-prelude-c", "C major"),
            ("Prelude and Fugue No. 1 in C major, BWV 846: Fugue", "bach-fugue-c", "C major"),
            ("Prelude and Fugue No. 2 in C minor, BWV 847: Prelude", "", "C minor"),
            ("Prelude and Fugue No. 2 in C minor, BWV 847: Fugue", "", "C minor"),
        ),
        ("plucked", "plucked"),
        cover="embedded",
        colours=("#1d3557", "#a8dadc"),
    ),
    _messiah(
        1,
        1,
        ("Sinfony", "", "E minor"),
        ("Comfort ye, my people", "", "E major"),
        ("Ev'ry valley shall be exalted", "", "E major"),
    ),
    _messiah(
        2,
        4,
        ("Hallelujah", "handel-hallelujah", "D major"),
        ("I know that my Redeemer liveth", "", "E major"),
        ("Worthy is the Lamb", "", "D major"),
    ),
    DemoFolder(
        "Dvořák/From the New World",
        "alac",
        {
            "ALBUM": "From the New World",
            "ARTIST": "Marnesund Philharmonic",
            "CONDUCTOR": "Zdenka Horalová-Primm",
            "ENSEMBLE": "Marnesund Philharmonic",
            "DATE": "2015",
            "GENRE": "Classical",
        },
        dedicated(
            "Antonín Dvořák",
            'Symphony No. 9 in E minor, Op. 95 "From the New World"',
            (
                ("Adagio - Allegro molto", "", "E minor"),
                ("Largo", "dvorak-largo", "D-flat major"),
                ("Scherzo (Molto vivace)", "", "E minor"),
                ("Allegro con fuoco", "dvorak-new-world-4", "E minor"),
            ),
        ),
        cover="embedded",
        colours=("#7f5539", "#ede0d4"),
    ),
    DemoFolder(
        "Satie/Trois Gymnopédies",
        "wav",
        {
            "ALBUM": "Trois Gymnopédies",
            "ARTIST": "Mirelle Dastonne",
            "COMPOSER": "Erik Satie",
            "DATE": "1978",
            "GENRE": "Classical",
        },
        movements(
            "",
            (
                ("Lent et douloureux", "satie-gymnopedie-1", "D major"),
                ("Lent et triste", "", "C major"),
                ("Lent et grave", "", "A minor"),
            ),
            "{number}. {tempo}",
        ),
        ("keys", "keys"),
        colours=("#6d6875", "#ffcdb2"),
    ),
    DemoFolder(
        "Piano/Miniatures",
        "aac",
        {
            "ALBUM": "Miniatures",
            "ARTIST": "Quirin Ostrowald",
            "ALBUMARTIST": "Quirin Ostrowald",
            "PERFORMER": "Quirin Ostrowald (piano)",
            "DATE": "2021",
            "GENRE": "Classical",
            "LABEL": "Lanternfield Records",
        },
        titled(
            (
                'Bagatelle in A minor, WoO 59 "Für Elise"',
                "beethoven-elise",
                "A minor",
                {"COMPOSER": "Ludwig van Beethoven"},
            ),
            (
                "Piano Sonata No. 14 in C-sharp minor, Op. 27 No. 2: I. Adagio sostenuto",
                "beethoven-moonlight",
                "C-sharp minor",
                {"COMPOSER": "Ludwig van Beethoven"},
            ),
            (
                "Nocturne in E-flat major, Op. 9 No. 2",
                "chopin-nocturne",
                "E-flat major",
                {"COMPOSER": "Frédéric Chopin"},
            ),
            (
                "Kinderszenen, Op. 15: VII. Träumerei",
                "schumann-dreaming",
                "F major",
                {"COMPOSER": "Robert Schumann"},
            ),
            (
                "Piano Sonata No. 11 in A major, K. 331: III. Alla turca",
                "mozart-turca",
                "A minor",
                {"COMPOSER": "Wolfgang Amadeus Mozart"},
            ),
            (
                "Piano Sonata No. 16 in C major, K. 545: I. Allegro",
                "mozart-facile-1",
                "C major",
                {"COMPOSER": "Wolfgang Amadeus Mozart"},
            ),
        ),
        ("keys", "keys"),
        cover="embedded",
        colours=("#2b2d42", "#edf2f4"),
    ),
    DemoFolder(
        "Compilations/An Evening In, Vol. 2",
        "mp3",
        {
            "ALBUM": "An Evening In, Vol. 2",
            "ALBUMARTIST": "Various Artists",
            "COMPILATION": "1",
            "DATE": "2005",
            "GENRE": "Classical",
        },
        titled(
            (
                "Pachelbel: Canon in D major",
                "pachelbel-canon",
                "D major",
                {"ARTIST": "Consort of the Copper Gate"},
            ),
            (
                "Schubert: Die Forelle, D. 550",
                "schubert-trout",
                "D-flat major",
                _SONG,
            ),
            (
                "Brahms: Wiegenlied, Op. 49 No. 4",
                "brahms-lullaby",
                "E-flat major",
                _SONG,
            ),
            (
                "Bizet: Carmen: Habanera",
                "bizet-habanera",
                "D minor",
                _VELDE,
            ),
            (
                "Tchaikovsky: Swan Lake, Op. 20: Scene (Moderato)",
                "tchaikovsky-swans",
                "B minor",
                _VELDE,
            ),
            (
                "Beethoven: Symphony No. 9 in D minor, Op. 125: IV. Presto",
                "beethoven-joy",
                "D major",
                _VELDE,
            ),
        ),
        cover="file",
        colours=("#0b132b", "#5bc0be"),
    ),
    DemoFolder(
        GRIEG,
        "flac",
        {
            "ALBUM": "Peer Gynt Suite No. 1",
            "ARTIST": "Orchestra of the Velde Concerts",
            "CONDUCTOR": "Ilvana Brandtner-Koss",
            "DATE": "1992",
            "GENRE": "Classical",
        },
        movements(
            "Grieg: Peer Gynt Suite No. 1, Op. 46",
            (
                ("Morning Mood", "grieg-morning", "E major"),
                ("Death of Åse", "", "B minor"),
                ("Anitra's Dance", "", "A minor"),
                ("In the Hall of the Mountain King", "grieg-mountain-king", "B minor"),
            ),
            "{work} - {roman}. {tempo}",
        ),
        colours=("#606c38", "#fefae0"),
    ),
    DemoFolder(
        "The Thursday Kilns/Harbour of Small Lamps",
        "mp3",
        {
            "ALBUM": "Harbour of Small Lamps",
            "ARTIST": "The Thursday Kilns",
            "ALBUMARTIST": "The Thursday Kilns",
            "DATE": "2014",
            "GENRE": "Indie Rock",
            "LABEL": "Two Rivers Tape Co.",
        },
        titled(
            ("Chalk on the Jetty", "", "G major"),
            ("Interlude", "", "D minor"),
            ("Symphony for a Lost Umbrella", "", "A minor"),
            ("Interlude", "", "F major"),
        ),
        ("plucked", "bass"),
        cover="embedded",
        colours=("#ff6b35", "#004e89"),
        id3_version=3,
    ),
    DemoFolder(
        "Saffi Brandeluna/Slow Tram Home",
        "vorbis",
        {
            "ALBUM": "Slow Tram Home",
            "ARTIST": "Saffi Brandeluna",
            "ALBUMARTIST": "Saffi Brandeluna",
            "DATE": "2020",
            "GENRE": "Singer-Songwriter",
            "LABEL": "Two Rivers Tape Co.",
        },
        titled(
            ("Window Seat", "", "D major"),
            ("The Conductor Hums", "", "G major"),
            ("Terminus", "", "E minor"),
            ("Window Seat (Reprise)", "", "D major"),
        ),
        ("keys", "bass"),
        cover="file",
        colours=("#9b5de5", "#fee440"),
    ),
)
"""What ``make_library`` makes."""

ADDED = DemoFolder(
    "Haydn/Surprise",
    "flac",
    {
        "ALBUM": "Haydn: Symphony No. 94",
        "ARTIST": "Kammerorchester Lindenau-Werd",
        "CONDUCTOR": "Teodor Vasslin",
        "ENSEMBLE": "Kammerorchester Lindenau-Werd",
        "DATE": "2022",
        "GENRE": "Classical",
        "LABEL": "Kupferklang",
    },
    dedicated(
        "Joseph Haydn",
        "Symphony No. 94 in G major, Hob. I:94",
        (
            ("Adagio - Vivace assai", "", "G major"),
            ("Andante", "haydn-surprise-2", "C major"),
            ("Menuetto (Allegro molto)", "", "G major"),
            ("Finale (Allegro di molto)", "", "G major"),
        ),
    ),
    cover="embedded",
    colours=("#14213d", "#fca311"),
)
"""The recording that comes into the library in the demo's second act."""
