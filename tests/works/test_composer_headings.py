"""Composers' names against library headings, romanisation tables and spellings found in tags.

The headings are those of the Library of Congress name authority file; which of them were read in
public library-catalogue data and which come from memory stands beside each. The Cyrillic names are
romanised by the ALA-LC table (2012) and by ISO 9:1995 (= GOST 7.79 system A, from memory).
"""

import pytest
from composer_rows import BY_SORT, OWNERS, ROWS, natural, words
from works_kit import lines

READ = "CONFIRMED"  # the exact string was found in public library-catalogue data


MEMORY = "FROM MEMORY"  # recalled; to be checked at id.loc.gov


# Library of Congress headings: family name and given names, years, status.
HEADINGS = [
    ("Bach, Johann Sebastian", 1685, 1750, READ),
    ("Beethoven, Ludwig van", 1770, 1827, READ),
    ("Brahms, Johannes", 1833, 1897, READ),
    ("Chopin, Frédéric", 1810, 1849, READ),
    ("Dvořák, Antonín", 1841, 1904, READ),
    ("Handel, George Frideric", 1685, 1759, READ),
    ("Haydn, Joseph", 1732, 1809, READ),
    ("Mozart, Wolfgang Amadeus", 1756, 1791, READ),
    ("Rachmaninoff, Sergei", 1873, 1943, READ),
    ("Rimsky-Korsakov, Nikolay", 1844, 1908, READ),
    ("Saint-Saëns, Camille", 1835, 1921, READ),
    ("Schoenberg, Arnold", 1874, 1951, READ),
    ("Schubert, Franz", 1797, 1828, READ),
    ("Sibelius, Jean", 1865, 1957, READ),
    ("Stravinsky, Igor", 1882, 1971, READ),
    ("Telemann, Georg Philipp", 1681, 1767, READ),
    ("Vaughan Williams, Ralph", 1872, 1958, READ),
    ("Vivaldi, Antonio", 1678, 1741, READ),
    ("Bach, Carl Philipp Emanuel", 1714, 1788, MEMORY),
    ("Bach, Wilhelm Friedemann", 1710, 1784, MEMORY),
    ("Bartók, Béla", 1881, 1945, MEMORY),
    ("Berg, Alban", 1885, 1935, MEMORY),
    ("Berlioz, Hector", 1803, 1869, MEMORY),
    ("Bizet, Georges", 1838, 1875, MEMORY),
    ("Boccherini, Luigi", 1743, 1805, MEMORY),
    ("Britten, Benjamin", 1913, 1976, MEMORY),
    ("Bruckner, Anton", 1824, 1896, MEMORY),
    ("Buxtehude, Dietrich", 1637, 1707, MEMORY),
    ("Copland, Aaron", 1900, 1990, MEMORY),
    ("Corelli, Arcangelo", 1653, 1713, MEMORY),
    ("Couperin, François", 1668, 1733, MEMORY),
    ("Debussy, Claude", 1862, 1918, MEMORY),
    ("Donizetti, Gaetano", 1797, 1848, MEMORY),
    ("Elgar, Edward", 1857, 1934, MEMORY),
    ("Falla, Manuel de", 1876, 1946, MEMORY),
    ("Fauré, Gabriel", 1845, 1924, MEMORY),
    ("Franck, César", 1822, 1890, MEMORY),
    ("Gluck, Christoph Willibald", 1714, 1787, MEMORY),  # the title "Ritter von" left off
    ("Grieg, Edvard", 1843, 1907, MEMORY),
    ("Hindemith, Paul", 1895, 1963, MEMORY),
    ("Holst, Gustav", 1874, 1934, MEMORY),
    ("Janáček, Leoš", 1854, 1928, MEMORY),
    ("Liszt, Franz", 1811, 1886, MEMORY),
    ("Mahler, Gustav", 1860, 1911, MEMORY),
    ("Messiaen, Olivier", 1908, 1992, MEMORY),
    ("Monteverdi, Claudio", 1567, 1643, MEMORY),
    ("Nielsen, Carl", 1865, 1931, MEMORY),
    ("Palestrina, Giovanni Pierluigi da", None, 1594, MEMORY),
    ("Puccini, Giacomo", 1858, 1924, MEMORY),
    ("Purcell, Henry", 1659, 1695, MEMORY),
    ("Rameau, Jean-Philippe", 1683, 1764, MEMORY),
    ("Ravel, Maurice", 1875, 1937, MEMORY),
    ("Rossini, Gioacchino", 1792, 1868, MEMORY),
    ("Scarlatti, Domenico", 1685, 1757, MEMORY),
    ("Schumann, Clara", 1819, 1896, MEMORY),
    ("Schumann, Robert", 1810, 1856, MEMORY),
    ("Smetana, Bedřich", 1824, 1884, MEMORY),
    ("Strauss, Richard", 1864, 1949, MEMORY),
    ("Verdi, Giuseppe", 1813, 1901, MEMORY),
    ("Wagner, Richard", 1813, 1883, MEMORY),
    ("Weber, Carl Maria von", 1786, 1826, MEMORY),
    ("Webern, Anton", 1883, 1945, MEMORY),
    ("Albéniz, Isaac", 1860, 1909, MEMORY),
    ("Allegri, Gregorio", 1582, 1652, MEMORY),
    ("Barber, Samuel", 1910, 1981, MEMORY),
    ("Bellini, Vincenzo", 1801, 1835, MEMORY),
    ("Bernstein, Leonard", 1918, 1990, MEMORY),
    ("Bloch, Ernest", 1880, 1959, MEMORY),
    ("Boulez, Pierre", 1925, 2016, MEMORY),
    ("Boyce, William", 1711, 1779, MEMORY),
    ("Bruch, Max", 1838, 1920, MEMORY),
    ("Busoni, Ferruccio", 1866, 1924, MEMORY),
    ("Byrd, William", None, 1623, MEMORY),
    ("Cage, John", 1912, 1992, MEMORY),
    ("Carter, Elliott", 1908, 2012, MEMORY),
    ("Chabrier, Emmanuel", 1841, 1894, MEMORY),
    ("Charpentier, Marc-Antoine", 1643, 1704, MEMORY),
    ("Chausson, Ernest", 1855, 1899, MEMORY),
    ("Cherubini, Luigi", 1760, 1842, MEMORY),
    ("Cimarosa, Domenico", 1749, 1801, MEMORY),
    ("Clementi, Muzio", 1752, 1832, MEMORY),
    ("Czerny, Carl", 1791, 1857, MEMORY),
    ("Delibes, Léo", 1836, 1891, MEMORY),
    ("Delius, Frederick", 1862, 1934, MEMORY),
    ("Dowland, John", None, 1626, MEMORY),
    ("Dukas, Paul", 1865, 1935, MEMORY),
    ("Duruflé, Maurice", 1902, 1986, MEMORY),
    ("Field, John", 1782, 1837, MEMORY),
    ("Frescobaldi, Girolamo", 1583, 1643, MEMORY),
    ("Gershwin, George", 1898, 1937, MEMORY),
    ("Gibbons, Orlando", 1583, 1625, MEMORY),
    ("Ginastera, Alberto", 1916, 1983, MEMORY),
    ("Gounod, Charles", 1818, 1893, MEMORY),
    ("Granados, Enrique", 1867, 1916, MEMORY),
    ("Henze, Hans Werner", 1926, 2012, MEMORY),
    ("Honegger, Arthur", 1892, 1955, MEMORY),
    ("Hummel, Johann Nepomuk", 1778, 1837, MEMORY),
    ("Ibert, Jacques", 1890, 1962, MEMORY),
    ("Ives, Charles", 1874, 1954, MEMORY),
    ("Kodály, Zoltán", 1882, 1967, MEMORY),
    ("Korngold, Erich Wolfgang", 1897, 1957, MEMORY),
    ("Lasso, Orlando di", None, 1594, MEMORY),
    ("Ligeti, György", 1923, 2006, MEMORY),
    ("Lutosławski, Witold", 1913, 1994, MEMORY),
    ("Machaut, Guillaume de", None, 1377, MEMORY),
    ("Martinů, Bohuslav", 1890, 1959, MEMORY),
    ("Mascagni, Pietro", 1863, 1945, MEMORY),
    ("Massenet, Jules", 1842, 1912, MEMORY),
    ("Meyerbeer, Giacomo", 1791, 1864, MEMORY),
    ("Milhaud, Darius", 1892, 1974, MEMORY),
    ("Offenbach, Jacques", 1819, 1880, MEMORY),
    ("Orff, Carl", 1895, 1982, MEMORY),
    ("Pachelbel, Johann", 1653, 1706, MEMORY),
    ("Penderecki, Krzysztof", 1933, 2020, MEMORY),
    ("Pergolesi, Giovanni Battista", 1710, 1736, MEMORY),
    ("Poulenc, Francis", 1899, 1963, MEMORY),
    ("Reger, Max", 1873, 1916, MEMORY),
    ("Respighi, Ottorino", 1879, 1936, MEMORY),
    ("Rodrigo, Joaquín", 1901, 1999, MEMORY),
    ("Roussel, Albert", 1869, 1937, MEMORY),
    ("Satie, Erik", 1866, 1925, MEMORY),
    ("Scarlatti, Alessandro", 1660, 1725, MEMORY),
    ("Schütz, Heinrich", 1585, 1672, MEMORY),
    ("Sor, Fernando", 1778, 1839, MEMORY),
    ("Spohr, Louis", 1784, 1859, MEMORY),
    ("Stockhausen, Karlheinz", 1928, 2007, MEMORY),
    ("Szymanowski, Karol", 1882, 1937, MEMORY),
    ("Tallis, Thomas", None, 1585, MEMORY),
    ("Tartini, Giuseppe", 1692, 1770, MEMORY),
    ("Tippett, Michael", 1905, 1998, MEMORY),
    ("Varèse, Edgard", 1883, 1965, MEMORY),
    ("Victoria, Tomás Luis de", None, 1611, MEMORY),
    ("Villa-Lobos, Heitor", 1887, 1959, MEMORY),
    ("Walton, William", 1902, 1983, MEMORY),
    ("Weill, Kurt", 1900, 1950, MEMORY),
    ("Wolf, Hugo", 1860, 1903, MEMORY),
    ("Xenakis, Iannis", 1922, 2001, MEMORY),
]


# Headings whose customary English form the table prefers; the heading itself must still mean the
# same person.
OTHER_FORM = [
    ("Mendelssohn-Bartholdy, Felix", "Mendelssohn, Felix", 1809, 1847, READ),
    ("Prokofiev, Sergey", "Prokofiev, Sergei", 1891, 1953, READ),
    ("Tchaikovsky, Peter Ilich", "Tchaikovsky, Pyotr Ilyich", 1840, 1893, READ),
    ("Borodin, Aleksandr Porfirʹevich", "Borodin, Alexander", 1833, 1887, MEMORY),
    ("Hildegard, Saint", "Hildegard von Bingen", 1098, 1179, MEMORY),
    ("Josquin, des Prez", "Josquin des Prez", None, 1521, MEMORY),
    ("Lully, Jean Baptiste", "Lully, Jean-Baptiste", 1632, 1687, MEMORY),
    ("Mussorgsky, Modest Petrovich", "Mussorgsky, Modest", 1839, 1881, MEMORY),
    ("Scriabin, Aleksandr Nikolayevich", "Scriabin, Alexander", 1872, 1915, MEMORY),
    ("Shostakovich, Dmitriĭ Dmitrievich", "Shostakovich, Dmitri", 1906, 1975, MEMORY),
    # The heading tells father and son apart by their years only.
    ("Strauss, Johann", "Strauss, Johann II", 1825, 1899, MEMORY),
    ("Zelenka, Johann Dismas", "Zelenka, Jan Dismas", 1679, 1745, MEMORY),
    ("Arne, Thomas Augustine", "Arne, Thomas", 1710, 1778, MEMORY),
    ("Zemlinsky, Alexander", "Zemlinsky, Alexander von", 1871, 1942, MEMORY),
    ("Enesco, Georges", "Enescu, George", 1881, 1955, MEMORY),
    ("Glinka, Mikhail Ivanovich", "Glinka, Mikhail", 1804, 1857, MEMORY),
    ("Leoncavallo, Ruggiero", "Leoncavallo, Ruggero", None, 1919, MEMORY),
    ("Paganini, Nicolò", "Paganini, Niccolò", 1782, 1840, MEMORY),
]


# Cyrillic name, family name of the established heading, sort form here; below: ALA-LC, ISO 9.
ROMANISED = """
Чайковский, Пётр Ильич|Tchaikovsky|Tchaikovsky, Pyotr Ilyich
    Chaĭkovskiĭ, Pëtr Ilʹich|Čajkovskij, Pëtr Ilʹič
Шостакович, Дмитрий Дмитриевич|Shostakovich|Shostakovich, Dmitri
    Shostakovich, Dmitriĭ Dmitrievich|Šostakovič, Dmitrij Dmitrievič
Прокофьев, Сергей Сергеевич|Prokofiev|Prokofiev, Sergei
    Prokofʹev, Sergeĭ Sergeevich|Prokofʹev, Sergej Sergeevič
Рахманинов, Сергей Васильевич|Rachmaninoff|Rachmaninoff, Sergei
    Rakhmaninov, Sergeĭ Vasilʹevich|Rahmaninov, Sergej Vasilʹevič
Мусоргский, Модест Петрович|Mussorgsky|Mussorgsky, Modest
    Musorgskiĭ, Modest Petrovich|Musorgskij, Modest Petrovič
Римский-Корсаков, Николай Андреевич|Rimsky-Korsakov|Rimsky-Korsakov, Nikolay
    Rimskiĭ-Korsakov, Nikolaĭ Andreevich|Rimskij-Korsakov, Nikolaj Andreevič
Стравинский, Игорь Фёдорович|Stravinsky|Stravinsky, Igor
    Stravinskiĭ, Igorʹ Fëdorovich|Stravinskij, Igorʹ Fëdorovič
Бородин, Александр Порфирьевич|Borodin|Borodin, Alexander
    Borodin, Aleksandr Porfirʹevich|Borodin, Aleksandr Porfirʹevič
Скрябин, Александр Николаевич|Scriabin|Scriabin, Alexander
    Skri͡abin, Aleksandr Nikolaevich|Skrâbin, Aleksandr Nikolaevič
Глинка, Михаил Иванович|Glinka|Glinka, Mikhail
    Glinka, Mikhail Ivanovich|Glinka, Mihail Ivanovič
Хачатурян, Арам Ильич|Khachaturian|Khachaturian, Aram
    Khachaturi͡an, Aram Ilʹich|Hačaturân, Aram Ilʹič
Щедрин, Родион Константинович|Shchedrin|Shchedrin, Rodion
    Shchedrin, Rodion Konstantinovich|Ŝedrin, Rodion Konstantinovič
Кюи, Цезарь Антонович|Cui|Cui, César
    Ki͡ui, T͡sezarʹ Antonovich|Kûi, Cezarʹ Antonovič
Балакирев, Милий Алексеевич|Balakirev|Balakirev, Mily
    Balakirev, Miliĭ Alekseevich|Balakirev, Milij Alekseevič
Глазунов, Александр Константинович|Glazunov|Glazunov, Alexander
    Glazunov, Aleksandr Konstantinovich|Glazunov, Aleksandr Konstantinovič
"""


# Common practice of cataloguers and record sleeves, no source: what each spelling means.
MEANS = """
Bach|Bach, Johann Sebastian
J.S. Bach|Bach, Johann Sebastian
J. S. Bach|Bach, Johann Sebastian
JS Bach|Bach, Johann Sebastian
Johann Sebastian Bach|Bach, Johann Sebastian
C.P.E. Bach|Bach, Carl Philipp Emanuel
CPE Bach|Bach, Carl Philipp Emanuel
Karl Philipp Emanuel Bach|Bach, Carl Philipp Emanuel
W.F. Bach|Bach, Wilhelm Friedemann
J.C. Bach|Bach, Johann Christian
J.C.F. Bach|Bach, Johann Christoph Friedrich
Johann Christoph Bach|Bach, Johann Christoph
Haydn|Haydn, Joseph
Franz Joseph Haydn|Haydn, Joseph
Josef Haydn|Haydn, Joseph
Johann Michael Haydn|Haydn, Michael
Mozart|Mozart, Wolfgang Amadeus
W.A. Mozart|Mozart, Wolfgang Amadeus
Leopold Mozart|Mozart, Leopold
Mendelssohn|Mendelssohn, Felix
Mendelssohn Bartholdy|Mendelssohn, Felix
Fanny Mendelssohn|Hensel, Fanny
Schumann|Schumann, Robert
Clara Wieck|Schumann, Clara
Schuman|Schuman, William
Johann Strauss|Strauss, Johann II
Johann Strauss Jr.|Strauss, Johann II
Johann Strauß Sohn|Strauss, Johann II
Johann Strauss Sr.|Strauss, Johann I
Johann Strauß Vater|Strauss, Johann I
Richard Strauß|Strauss, Richard
R. Strauss|Strauss, Richard
Couperin|Couperin, François
L. Couperin|Couperin, Louis
A. Scarlatti|Scarlatti, Alessandro
D. Scarlatti|Scarlatti, Domenico
Händel|Handel, George Frideric
Haendel|Handel, George Frideric
Georg Friedrich Händel|Handel, George Frideric
G.F. Handel|Handel, George Frideric
Schönberg|Schoenberg, Arnold
Dvorak|Dvořák, Antonín
Antonin Dvořák|Dvořák, Antonín
Tschaikowsky|Tchaikovsky, Pyotr Ilyich
Piotr Ilitch Tchaïkovski|Tchaikovsky, Pyotr Ilyich
Peter Iljitsch Tschaikowsky|Tchaikovsky, Pyotr Ilyich
Čajkovskij|Tchaikovsky, Pyotr Ilyich
Dimitri Chostakovitch|Shostakovich, Dmitri
Dmitri Schostakowitsch|Shostakovich, Dmitri
Szostakowicz|Shostakovich, Dmitri
Rachmaninov|Rachmaninoff, Sergei
Sergej Rachmaninow|Rachmaninoff, Sergei
Serge Prokofieff|Prokofiev, Sergei
Sergej Prokofjew|Prokofiev, Sergei
Igor Strawinsky|Stravinsky, Igor
Alexandre Borodine|Borodin, Alexander
Moussorgski|Mussorgsky, Modest
Fryderyk Chopin|Chopin, Frédéric
Ferenc Liszt|Liszt, Franz
C.M. von Weber|Weber, Carl Maria von
C. M. v. Weber|Weber, Carl Maria von
Orlandus Lassus|Lasso, Orlando di
Josquin|Josquin des Prez
Josquin Desprez|Josquin des Prez
Ralph Vaughan-Williams|Vaughan Williams, Ralph
Mrs. H.H.A. Beach|Beach, Amy
Alma Mahler-Werfel|Mahler, Alma
Villa Lobos|Villa-Lobos, Heitor
P. de Sarasate|Sarasate, Pablo de
Бетховен|Beethoven, Ludwig van
Людвиг ван Бетховен|Beethoven, Ludwig van
И. С. Бах|Bach, Johann Sebastian
Моцарт|Mozart, Wolfgang Amadeus
Шопен|Chopin, Frédéric
Шостакович|Shostakovich, Dmitri
Пётр Чайковский|Tchaikovsky, Pyotr Ilyich
ベートーヴェン|Beethoven, Ludwig van
"""


# Family names that several composers share without custom deciding, so that alone they mean nobody.
NOBODYS = (
    "Strauss",
    "Strauß",
    "Scarlatti",
    "Gabrieli",
    "Stamitz",
    "Benda",
    "Marcello",
    "Sammartini",
    "Graun",
    "Kreutzer",
    "Lachner",
    "Romberg",
    "Tcherepnin",
    "Wranitzky",
    "Rubinstein",
    "Boulanger",
    "Andriessen",
)


@pytest.mark.parametrize(("heading", "born", "died", "status"), HEADINGS)
def test_sort_forms_are_the_library_headings(
    heading: str, born: int | None, died: int, status: str
) -> None:
    row = BY_SORT[heading]
    assert row["died"] == died, status
    assert born is None or row["born"] == born, status


def test_at_least_a_hundred_headings_are_checked() -> None:
    assert len({heading for heading, *_ in HEADINGS}) >= 100


@pytest.mark.parametrize(("heading", "sort", "born", "died", "status"), OTHER_FORM)
def test_a_heading_that_is_not_the_sort_form_still_means_its_person(
    heading: str, sort: str, born: int | None, died: int, status: str
) -> None:
    row = BY_SORT[sort]
    assert row["died"] == died, status
    assert born is None or row["born"] == born, status
    assert {sort} in (OWNERS.get(words(natural(heading))), OWNERS.get(words(heading)))


@pytest.mark.parametrize(
    ("cyrillic", "surname", "sort", "ala_lc", "iso_9"), lines(ROMANISED.replace("\n    ", "|"))
)
def test_cyrillic_names_and_their_romanisations_mean_one_person(
    cyrillic: str, surname: str, sort: str, ala_lc: str, iso_9: str
) -> None:
    family, _, given = cyrillic.partition(", ")
    first = given.split()[0]
    row = BY_SORT[sort]
    assert f"{given} {family}" in row["forms"]
    for form in (f"{given} {family}", f"{first} {family}", family):
        assert OWNERS[words(form)] == {sort}, form
    for romanised in (ala_lc, iso_9):
        latin_family, _, latin_given = romanised.partition(", ")
        latin_first = latin_given.split()[0]
        for form in (natural(romanised), f"{latin_first} {latin_family}", latin_family):
            # ISO 9 gives Кюи as Kûi, three letters, which are not believed alone
            if len(latin_family) > 4 or form != latin_family:
                assert OWNERS[words(form)] == {sort}, form
    assert OWNERS[words(surname)] == {sort}


@pytest.mark.parametrize(("spelling", "sort"), lines(MEANS))
def test_spellings_found_in_tags_mean_the_right_person(spelling: str, sort: str) -> None:
    assert OWNERS[words(spelling)] == {sort}


@pytest.mark.parametrize("family", NOBODYS)
def test_a_family_name_that_custom_gives_to_nobody_is_no_form(family: str) -> None:
    assert words(family) not in OWNERS
    assert not any(
        row["famous"] for row in ROWS if words(row["sort"].split(",")[0]) == words(family)
    )
