"""Small words that join the parts of a title or a list: "for", "and", articles."""

from syncd.works.words.tables import word_set

FOR_WORDS = word_set("a dlya for fr fuer fur na para per pour pro till voor для")
AND_WORDS = word_set("& + a and avec con e en et i mit och og s und with y и с")
ARTICLES = word_set("the der die das den dem le la les il lo i gli el los las an un une de")
