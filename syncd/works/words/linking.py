"""Small words that join the parts of a title or a list: "for", "and", articles."""

from syncd.works.words.tables import word_set

FOR_WORDS = word_set(
    "a dlya for fr fuer fur na para pentru per pour pro till voor za icin для за για"
)
AND_WORDS = word_set("& + a and avec con e en et i mit och og s si und with y и с та і και")
ARTICLES = word_set("the der die das den dem le la les il lo i gli el los las an un une de")
