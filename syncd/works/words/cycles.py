"""What is counted without numbers: months, days of the week, seasons, planets, signs of the zodiac.

Titles that follow such a cycle are parts of one work, as in music for the months of a year. The
words are those of any dictionary.
"""

from collections.abc import Collection

from syncd.works.words.tables import word_set

CYCLES = (
    word_set(
        """
        january february march april may june july august september october november december
        januar februar marz mai juni juli oktober dezember janner feber maerz
        janvier fevrier mars avril juin juillet aout septembre octobre novembre decembre
        gennaio febbraio marzo aprile maggio giugno luglio agosto settembre ottobre dicembre
        enero febrero abril mayo junio julio septiembre octubre noviembre diciembre
        janeiro fevereiro marco maio junho julho setembro outubro novembro dezembro
        januari februari maart mei augustus augusti maj december marts
        leden unor brezen duben kveten cerven cervenec srpen zari rijen listopad prosinec
        styczen luty marzec kwiecien czerwiec lipiec sierpien wrzesien pazdziernik grudzien
        tammikuu helmikuu maaliskuu huhtikuu toukokuu kesakuu heinakuu elokuu syyskuu lokakuu
        marraskuu joulukuu majus junius julius szeptember
        gener febrer marc abril maig juny juliol agost setembre octubre desembre
        ianuarie februarie martie aprilie iunie iulie septembrie octombrie noiembrie decembrie
        январь февраль март апрель май июнь июль август сентябрь октябрь ноябрь декабрь
        """
    ),
    word_set(
        """
        monday tuesday wednesday thursday friday saturday sunday
        montag dienstag mittwoch donnerstag freitag samstag sonnabend sonntag
        lundi mardi mercredi jeudi vendredi samedi dimanche
        lunedi martedi mercoledi giovedi venerdi sabato domenica
        lunes martes miercoles jueves viernes sabado domingo
        понедельник вторник среда четверг пятница суббота воскресенье
        """
    ),
    word_set(
        """
        spring summer autumn fall winter fruhling sommer herbst printemps ete automne hiver
        primavera estate autunno inverno verano otono invierno verao outono lente zomer herfst
        var sommar host vinter efterar forar sommer jaro leto podzim zima wiosna lato jesien
        весна лето осень зима kevat kesa syksy talvi tavasz nyar osz tel
        """
    ),
    word_set(
        """
        sun moon mercury venus earth mars jupiter saturn uranus neptune pluto sonne mond merkur erde
        neptun soleil lune mercure terre saturne neptune sole luna mercurio venere marte giove
        saturno urano nettuno
        """
    ),
    word_set(
        """
        aries taurus gemini cancer leo virgo libra scorpio sagittarius capricorn aquarius pisces
        widder stier zwillinge krebs lowe jungfrau waage skorpion schutze steinbock wassermann
        fische belier taureau gemeaux lion vierge balance sagittaire capricorne verseau poissons
        """
    ),
)
"""Folded words of each cycle, in all languages together."""


def in_one_cycle(words: Collection[str]) -> bool:
    """Whether all folded *words* belong to one of the cycles."""
    return any(cycle.issuperset(words) for cycle in CYCLES)
