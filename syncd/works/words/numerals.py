"""Numbers as words: ordinals, counts, Roman numerals, and the words for "number" itself."""

from collections.abc import Sequence

from syncd.works.tokens import Token
from syncd.works.words.tables import numbers, word_set

ORDINALS = numbers(
    """
1: first erste erster erstes premier premiere prima primo primera primer prvni pierwszy pierwsza
    первая первый 1st 1er 1re 1ere primeira forste
2: second zweite zweiter zweites deuxieme seconde seconda secondo segunda segundo druha druhy
    druga вторая второй 2nd 2e 2eme
3: third dritte dritter drittes troisieme terza terzo tercera tercer treti trzecia третья третий
    3rd 3e 3eme
4: fourth vierte vierter viertes quatrieme quarta quarto cuarta cuarto ctvrta czwarta четвертая
    4th 4e 4eme
5: fifth funfte funfter funftes fuenfte cinquieme quinta quinto pata piata пятая 5th 5e 5eme
6: sixth sechste sechster sechstes sixieme sesta sesto sexta sexto szosta шестая 6th 6e 6eme
7: seventh siebte siebente siebter septieme settima septima sedma siodma седьмая 7th 7e 7eme
8: eighth achte achter huitieme ottava octava osma восьмая 8th 8e 8eme
9: ninth neunte neunter neuvieme nona novena devata dziewiata девятая 9th 9e 9eme
10: tenth zehnte dixieme decima desata десятая 10th 10e
11: eleventh elfte onzieme 11th 11e
12: twelfth zwolfte douzieme 12th 12e
13: thirteenth treizieme 13th 13e
14: fourteenth quatorzieme 14th 14e
15: fifteenth quinzieme 15th 15e
"""
)
COUNTS = numbers(
    """
2: two zwei deux due dos dva dwie два
3: three drei trois tre tres tri trzy три
4: four vier quatre quattro cuatro ctyri cztery четыре
5: five funf fuenf cinq cinque cinco pet piec пять
6: six sechs sei seis sest szesc шесть
7: seven sieben sept sette siete sedm siedem семь
8: eight acht huit otto ocho osm osiem восемь
9: nine neun neuf nove nueve devet девять
10: ten zehn dix dieci diez deset десять
11: eleven elf onze undici once
12: twelve zwolf zwoelf douze dodici doce dvanact двенадцать
13: thirteen dreizehn treize
14: fourteen vierzehn quatorze
15: fifteen funfzehn quinze
16: sixteen sechzehn seize
18: eighteen achtzehn
20: twenty zwanzig vingt
21: twenty-one
24: twenty-four vierundzwanzig vingt-quatre ventiquattro
"""
)

_NUMBER_WORDS = word_set("no nos nr n num numero nummer number nro c αρ αριθμος #")
_ROMAN = {
    "i": 1, "ii": 2, "iii": 3, "iv": 4, "v": 5, "vi": 6, "vii": 7, "viii": 8, "ix": 9, "x": 10,
    "xi": 11, "xii": 12, "xiii": 13, "xiv": 14, "xv": 15, "xvi": 16, "xvii": 17, "xviii": 18,
    "xix": 19, "xx": 20, "xxi": 21, "xxii": 22, "xxiii": 23, "xxiv": 24, "xxv": 25, "xxvi": 26,
    "xxvii": 27, "xxviii": 28, "xxix": 29, "xxx": 30, "xxxi": 31, "xxxii": 32,
}  # fmt: skip
_ROMAN_TEXTS = {value: text.upper() for text, value in _ROMAN.items()}


def roman(text: str) -> int | None:
    """The value of a Roman numeral up to XXXII in either case, or None."""
    return _ROMAN.get(text.lower())


def roman_text(value: int) -> str | None:
    """The Roman numeral of a *value* from 1 to 32, or None."""
    return _ROMAN_TEXTS.get(value)


def is_number_word(word: str) -> bool:
    """Whether a folded *word* stands for "number" (``no``, ``nr``, ``č``, ``№``)."""
    return word in _NUMBER_WORDS


def skip_number_word(tokens: Sequence[Token], index: int) -> int:
    """The index past a word for "number" (``Nr.``, ``n°``, ``č.``) at *index*, or *index*."""
    count = len(tokens)
    if index < count and tokens[index].folded in _NUMBER_WORDS:
        index += 1
        while index < count and tokens[index].text in (".", "°", "º", "ᵒ", "o"):
            index += 1
    return index
