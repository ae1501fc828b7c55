"""At least 150 works against the thematic catalogues: number, key and form from one title each.

Sources: the composers' thematic catalogues (Kinsky-Halm, Schmieder, Hoboken, Köchel, Deutsch,
McCorkle, Kobylańska, Searle, Grasberger, Burghauser, TH, Dahlström, Ruhnke, Schmidt, Szőllősy).
The facts are quoted from memory; those of the project's check values (section 9) are among them.
"""

import pytest

from syncd.model import TaggedFile
from syncd.works.identify import identify

# composer tag | title tag | numbers | key | conventional title
ROWS = """
Beethoven|Symphonie Nr. 5 c-Moll op. 67|Op. 67|C minor|Symphony No. 5
Beethoven|Sonate n° 14 en ut dièse mineur, op. 27 n° 2|Op. 27 No. 2|C-sharp minor|Piano Sonata No. 14
Beethoven|Violinkonzert D-Dur op. 61|Op. 61|D major|Violin Concerto
Beethoven|Piano Sonata No. 29 in B-flat, Op. 106 "Hammerklavier"|Op. 106|B-flat major|Piano Sonata No. 29
Beethoven|Symphony No. 9 in D minor, Op. 125|Op. 125|D minor|Symphony No. 9
Beethoven|Quatuor n° 14 en ut dièse mineur, opus 131|Op. 131|C-sharp minor|String Quartet No. 14
Beethoven|Sinfonia n. 3 in mi bemolle maggiore op. 55 "Eroica"|Op. 55|E-flat major|Symphony No. 3
Beethoven|Symphony No. 1 in C, Op. 21|Op. 21|C major|Symphony No. 1
Beethoven|Symphony No. 2 in D major, Op. 36|Op. 36|D major|Symphony No. 2
Beethoven|Symphonie Nr. 4 B-Dur op. 60|Op. 60|B-flat major|Symphony No. 4
Beethoven|Symphony No. 6 in F, Op. 68|Op. 68|F major|Symphony No. 6
Beethoven|Symphony No. 7 in A major, Op. 92|Op. 92|A major|Symphony No. 7
Beethoven|Symphony No. 8 in F, op 93|Op. 93|F major|Symphony No. 8
Beethoven|Klavierkonzert Nr. 1 C-Dur op. 15|Op. 15|C major|Piano Concerto No. 1
Beethoven|Klavierkonzert Nr. 2 B-Dur op. 19|Op. 19|B-flat major|Piano Concerto No. 2
Beethoven|Piano Concerto No. 3 in C minor, Op.37|Op. 37|C minor|Piano Concerto No. 3
Beethoven|Concerto pour piano n° 4 en sol majeur op. 58|Op. 58|G major|Piano Concerto No. 4
Beethoven|Piano Concerto No. 5 in E flat, Op. 73|Op. 73|E-flat major|Piano Concerto No. 5
Beethoven|Klaviersonate Nr. 8 c-Moll op. 13|Op. 13|C minor|Piano Sonata No. 8
Beethoven|Klaviersonate Nr. 17 d-Moll op. 31/2|Op. 31 No. 2|D minor|Piano Sonata No. 17
Beethoven|Piano Sonata No. 23 in F minor, Op. 57|Op. 57|F minor|Piano Sonata No. 23
Beethoven|Piano Sonata No. 30 in E, Op. 109|Op. 109|E major|Piano Sonata No. 30
Beethoven|Piano Sonata No. 31 in A-flat, Op. 110|Op. 110|A-flat major|Piano Sonata No. 31
Beethoven|Piano Sonata No. 32 in C minor, Op. 111|Op. 111|C minor|Piano Sonata No. 32
Beethoven|Violinsonate Nr. 9 A-Dur op. 47|Op. 47|A major|Violin Sonata No. 9
Beethoven|Sonata for Violin and Piano No. 5 in F, Op. 24|Op. 24|F major|Violin Sonata No. 5
Beethoven|Cellosonate Nr. 3 A-Dur op. 69|Op. 69|A major|Cello Sonata No. 3
Beethoven|String Quartet No. 15 in A minor, Op. 132|Op. 132|A minor|String Quartet No. 15
Beethoven|String Quartet No. 16 in F, Op. 135|Op. 135|F major|String Quartet No. 16
Bach, J.S.|Cello Suite No. 1 in G, BWV 1007|BWV 1007|G major|Cello Suite No. 1
Bach, J.S.|Suite pour violoncelle n° 5 en ut mineur BWV 1011|BWV 1011|C minor|Cello Suite No. 5
Bach, J.S.|Toccata und Fuge d-Moll BWV 565|BWV 565|D minor|Toccata and Fugue
Bach, J.S.|Konzert für zwei Violinen d-Moll BWV 1043|BWV 1043|D minor|Concerto for Two Violins
Bach, J.S.|Brandenburgisches Konzert Nr. 1 F-Dur BWV 1046|BWV 1046|F major|Brandenburg Concerto No. 1
Bach, J.S.|Brandenburg Concerto No. 2 in F, BWV 1047|BWV 1047|F major|Brandenburg Concerto No. 2
Bach, J.S.|Concert brandebourgeois n° 3 en sol majeur BWV 1048|BWV 1048|G major|Brandenburg Concerto No. 3
Bach, J.S.|Brandenburg Concerto No. 5 in D, BWV 1050|BWV 1050|D major|Brandenburg Concerto No. 5
Bach, J.S.|Brandenburg Concerto No. 6 in B flat, BWV1051|BWV 1051|B-flat major|Brandenburg Concerto No. 6
Bach, J.S.|Orchestersuite Nr. 2 h-Moll BWV 1067|BWV 1067|B minor|Orchestral Suite No. 2
Bach, J.S.|Orchestral Suite No. 3 in D, BWV 1068|BWV 1068|D major|Orchestral Suite No. 3
Bach, J.S.|Violin Concerto No. 2 in E, BWV 1042|BWV 1042|E major|Violin Concerto No. 2
Bach, J.S.|French Suite No. 5 in G major, BWV 816|BWV 816|G major|French Suite No. 5
Bach, J.S.|Englische Suite Nr. 2 a-Moll BWV 807|BWV 807|A minor|English Suite No. 2
Haydn|Symphony No. 104 in D, Hob. I:104 "London"|Hob. I:104|D major|Symphony No. 104
Haydn|Sinfonie Nr. 94 G-Dur Hob. I/94|Hob. I:94|G major|Symphony No. 94
Haydn|Symphony No. 45 in F sharp minor, Hob.I:45|Hob. I:45|F-sharp minor|Symphony No. 45
Haydn|Symphony No. 101 in D major Hob. I:101|Hob. I:101|D major|Symphony No. 101
Haydn|Symphony No. 103 in E flat, Hob I:103|Hob. I:103|E-flat major|Symphony No. 103
Haydn|Symphony No. 88 in G, Hob. I:88|Hob. I:88|G major|Symphony No. 88
Haydn|Trompetenkonzert Es-Dur Hob. VIIe:1|Hob. VIIe:1|E-flat major|Trumpet Concerto
Haydn|Cello Concerto No. 1 in C, Hob. VIIb:1|Hob. VIIb:1|C major|Cello Concerto No. 1
Haydn|Cello Concerto No. 2 in D, Hob. VIIb/2|Hob. VIIb:2|D major|Cello Concerto No. 2
Haydn|Klaviertrio Nr. 39 G-Dur Hob. XV:25|Hob. XV:25|G major|Piano Trio No. 39
Mozart|Symphonie n° 40 en sol mineur, KV 550|K. 550|G minor|Symphony No. 40
Mozart|Symphony No. 41 in C, K551 "Jupiter"|K. 551|C major|Symphony No. 41
Mozart|Symphony No. 39 in E flat, K. 543|K. 543|E-flat major|Symphony No. 39
Mozart|Sinfonie Nr. 38 D-Dur KV 504|K. 504|D major|Symphony No. 38
Mozart|Symphony No. 36 in C, K. 425|K. 425|C major|Symphony No. 36
Mozart|Symphony No. 35 in D, K. 385|K. 385|D major|Symphony No. 35
Mozart|Symphony No. 29 in A, K. 201|K. 201|A major|Symphony No. 29
Mozart|Symphony No. 25 in G minor, K. 183 (173dB)|K. 183|G minor|Symphony No. 25
Mozart|Concerto pour piano n° 20 en ré mineur K. 466|K. 466|D minor|Piano Concerto No. 20
Mozart|Piano Concerto No. 21 in C, K.467|K. 467|C major|Piano Concerto No. 21
Mozart|Klavierkonzert Nr. 23 A-Dur KV 488|K. 488|A major|Piano Concerto No. 23
Mozart|Piano Concerto No. 24 in C minor, K. 491|K. 491|C minor|Piano Concerto No. 24
Mozart|Piano Concerto No. 27 in B-flat major, K. 595|K. 595|B-flat major|Piano Concerto No. 27
Mozart|Clarinet Concerto in A, K. 622|K. 622|A major|Clarinet Concerto
Mozart|Klarinettenquintett A-Dur KV 581|K. 581|A major|Clarinet Quintet
Mozart|Violin Concerto No. 5 in A, K. 219|K. 219|A major|Violin Concerto No. 5
Mozart|Violinkonzert Nr. 3 G-Dur KV 216|K. 216|G major|Violin Concerto No. 3
Mozart|Horn Concerto No. 4 in E flat, K. 495|K. 495|E-flat major|Horn Concerto No. 4
Mozart|Klaviersonate Nr. 11 A-Dur KV 331 (300i)|K. 331|A major|Piano Sonata No. 11
Mozart|Piano Sonata No. 14 in C minor, K457|K. 457|C minor|Piano Sonata No. 14
Mozart|Piano Sonata No. 16 in C, K. 545|K. 545|C major|Piano Sonata No. 16
Mozart|String Quartet No. 19 in C, K. 465|K. 465|C major|String Quartet No. 19
Mozart|Requiem in D minor, K. 626|K. 626|D minor|Requiem
Schubert|Symphony No. 8 in B minor, D. 759|D. 759|B minor|Symphony No. 8
Schubert|Symphonie Nr. 5 B-Dur D 485|D. 485|B-flat major|Symphony No. 5
Schubert|Streichquartett Nr. 14 d-Moll D 810|D. 810|D minor|String Quartet No. 14
Schubert|Piano Quintet in A, D667|D. 667|A major|Piano Quintet
Schubert|Klaviersonate Nr. 21 B-Dur D 960|D. 960|B-flat major|Piano Sonata No. 21
Schubert|Piano Sonata No. 20 in A major, D. 959|D. 959|A major|Piano Sonata No. 20
Schubert|String Quintet in C, D. 956|D. 956|C major|String Quintet
Schubert|Piano Trio No. 2 in E flat, D. 929|D. 929|E-flat major|Piano Trio No. 2
Brahms|Symphony No. 1 in C minor, Op. 68|Op. 68|C minor|Symphony No. 1
Brahms|2. Symphonie D-Dur op. 73|Op. 73|D major|Symphony No. 2
Brahms|Symphony No. 3 in F major, Op. 90|Op. 90|F major|Symphony No. 3
Brahms|Sinfonie Nr. 4 e-Moll op. 98|Op. 98|E minor|Symphony No. 4
Brahms|Piano Concerto No. 1 in D minor, Op. 15|Op. 15|D minor|Piano Concerto No. 1
Brahms|Concerto pour piano n° 2 en si bémol majeur op. 83|Op. 83|B-flat major|Piano Concerto No. 2
Brahms|Violin Concerto in D, Op. 77|Op. 77|D major|Violin Concerto
Brahms|Violin Sonata No. 1 in G, Op. 78|Op. 78|G major|Violin Sonata No. 1
Brahms|Clarinet Quintet in B minor, Op. 115|Op. 115|B minor|Clarinet Quintet
Brahms|Klavierquintett f-Moll op. 34|Op. 34|F minor|Piano Quintet
Schumann|Piano Concerto in A minor, Op. 54|Op. 54|A minor|Piano Concerto
Schumann|Symphonie Nr. 3 Es-Dur op. 97|Op. 97|E-flat major|Symphony No. 3
Schumann|Symphony No. 4 in D minor, Op. 120|Op. 120|D minor|Symphony No. 4
Schumann|Cello Concerto in A minor, Op. 129|Op. 129|A minor|Cello Concerto
Schumann|Piano Quintet in E flat, Op. 44|Op. 44|E-flat major|Piano Quintet
Mendelssohn|Violin Concerto in E minor, Op. 64|Op. 64|E minor|Violin Concerto
Mendelssohn|Sinfonie Nr. 4 A-Dur op. 90|Op. 90|A major|Symphony No. 4
Mendelssohn|Symphony No. 3 in A minor, Op. 56|Op. 56|A minor|Symphony No. 3
Chopin|Piano Concerto No. 1 in E minor, Op. 11|Op. 11|E minor|Piano Concerto No. 1
Chopin|Koncert fortepianowy nr 2 f-moll op. 21|Op. 21|F minor|Piano Concerto No. 2
Chopin|Sonata n. 2 per pianoforte in si bemolle minore op. 35|Op. 35|B-flat minor|Piano Sonata No. 2
Chopin|Piano Sonata No. 3 in B minor, Op. 58|Op. 58|B minor|Piano Sonata No. 3
Chopin|Ballade n° 1 en sol mineur, op. 23|Op. 23|G minor|Ballade No. 1
Chopin|Ballade No. 4 in F minor, Op. 52|Op. 52|F minor|Ballade No. 4
Chopin|Scherzo n° 2 en si bémol mineur, op. 31|Op. 31|B-flat minor|Scherzo No. 2
Chopin|Scherzo No. 3 in C-sharp minor, Op. 39|Op. 39|C-sharp minor|Scherzo No. 3
Liszt|Piano Sonata in B minor, S. 178|S. 178|B minor|Piano Sonata
Liszt|Piano Concerto No. 1 in E flat, S. 124|S. 124|E-flat major|Piano Concerto No. 1
Liszt|Piano Concerto No. 2 in A major, S125|S. 125|A major|Piano Concerto No. 2
Bruckner|Symphony No. 7 in E major, WAB 107|WAB 107|E major|Symphony No. 7
Bruckner|Symphonie Nr. 8 c-Moll WAB 108|WAB 108|C minor|Symphony No. 8
Bruckner|Symphony No. 9 in D minor, WAB 109|WAB 109|D minor|Symphony No. 9
Dvořák|Symphony No. 9 in E minor, Op. 95, B. 178|Op. 95,B. 178|E minor|Symphony No. 9
Dvořák|Symphony No. 8 in G, Op. 88|Op. 88|G major|Symphony No. 8
Dvořák|Symphony No. 7 in D minor, Op. 70|Op. 70|D minor|Symphony No. 7
Dvořák|Cello Concerto in B minor, Op. 104 (B. 191)|Op. 104,B. 191|B minor|Cello Concerto
Dvořák|String Quartet No. 12 in F, Op. 96|Op. 96|F major|String Quartet No. 12
Tchaikovsky|Sinfonie Nr. 6 h-moll op. 74|Op. 74|B minor|Symphony No. 6
Tchaikovsky|Симфония № 5 ми минор, соч. 64|Op. 64|E minor|Symphony No. 5
Tchaikovsky|Symphony No. 4 in F minor, Op. 36|Op. 36|F minor|Symphony No. 4
Tchaikovsky|Piano Concerto No. 1 in B flat minor, Op. 23|Op. 23|B-flat minor|Piano Concerto No. 1
Tchaikovsky|Violinkonzert D-Dur op. 35|Op. 35|D major|Violin Concerto
Sibelius|Symphony No. 2 in D, Op. 43|Op. 43|D major|Symphony No. 2
Sibelius|Symphony No. 5 in E flat major, Op. 82|Op. 82|E-flat major|Symphony No. 5
Sibelius|Violin Concerto in D minor, Op. 47|Op. 47|D minor|Violin Concerto
Grieg|Klavierkonzert a-Moll op. 16|Op. 16|A minor|Piano Concerto
Shostakovich|Symphony No. 10 in E minor, Op. 93|Op. 93|E minor|Symphony No. 10
Shostakovich|Symphony No. 5 in D minor, Op. 47|Op. 47|D minor|Symphony No. 5
Shostakovich|Струнный квартет № 8 до минор, соч. 110|Op. 110|C minor|String Quartet No. 8
Shostakovich|Cello Concerto No. 1 in E flat, Op. 107|Op. 107|E-flat major|Cello Concerto No. 1
Prokofiev|Klaviersonate Nr. 7 B-Dur op. 83|Op. 83|B-flat major|Piano Sonata No. 7
Prokofiev|Symphony No. 5 in B flat, Op. 100|Op. 100|B-flat major|Symphony No. 5
Prokofiev|Piano Concerto No. 3 in C, Op. 26|Op. 26|C major|Piano Concerto No. 3
Rachmaninoff|Piano Concerto No. 2 in C minor, Op. 18|Op. 18|C minor|Piano Concerto No. 2
Rachmaninoff|Piano Concerto No. 3 in D minor, Op. 30|Op. 30|D minor|Piano Concerto No. 3
Rachmaninoff|Symphony No. 2 in E minor, Op. 27|Op. 27|E minor|Symphony No. 2
Vivaldi|Gloria in D major, RV 589|RV 589|D major|Gloria
Haydn|Symphony No. 100 in G, Hob. I:100|Hob. I:100|G major|Symphony No. 100
Schumann|Symphony No. 1 in B flat, Op. 38|Op. 38|B-flat major|Symphony No. 1
Schumann|Symphony No. 2 in C major, Op. 61|Op. 61|C major|Symphony No. 2
Elgar|Cello Concerto in E minor, Op. 85|Op. 85|E minor|Cello Concerto
Saint-Saëns|Piano Concerto No. 2 in G minor, Op. 22|Op. 22|G minor|Piano Concerto No. 2
Bruch|Violin Concerto No. 1 in G minor, Op. 26|Op. 26|G minor|Violin Concerto No. 1
Franck|Violin Sonata in A, FWV 8|FWV 8|A major|Violin Sonata
Telemann|Viola Concerto in G major, TWV 51:G9|TWV 51:G9|G major|Viola Concerto
Poulenc|Sonate pour flûte et piano FP 164|FP 164||Flute Sonata
Bartók|String Quartet No. 4, Sz. 91|Sz. 91||String Quartet No. 4
Weber|Klarinettenkonzert Nr. 1 f-Moll op. 73 J. 114|Op. 73,J. 114|F minor|Clarinet Concerto No. 1
"""  # noqa: E501
WORKS = [tuple(line.split("|")) for line in ROWS.strip().splitlines()]


def test_there_are_150_works_or_more() -> None:
    assert len({(row[0], row[2]) for row in WORKS}) >= 150


@pytest.mark.parametrize(("composer", "text", "numbers", "key", "title"), WORKS)
def test_number_key_and_form_agree_with_the_thematic_catalogue(
    composer: str, text: str, numbers: str, key: str, title: str
) -> None:
    file = TaggedFile("a/1.flac", {"COMPOSER": [composer], "TITLE": [f"{text}: Allegro"]})
    (identity,) = identify([file])
    assert identity.work is not None
    assert identity.work.catalogue == tuple(numbers.split(","))
    assert identity.work.key == (key or None)
    assert identity.work.title == title
