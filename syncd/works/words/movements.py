"""Words at the head of a movement: tempo and character, acts and scenes."""

from syncd.works.words.tables import word_set

TEMPO_WORDS = word_set(
    """
adagietto adagio adagissimo affettuoso agitato allegretto allegrissimo allegro amabile andante
andantino animato anime appassionato attacca bewegt breit cadenza cantabile coda commodo comodo
deciso dolente doloroso doppio einleitung energico espressivo fast feierlich feroce festivo final
finale fliessend frisch gai gaiement gemachlich getragen giocoso gracieusement grave gravement
grazioso heiter innig introduzione kraftig langsam larghetto larghissimo largo lebhaft legerement
leidenschaftlich lent lentement lentissimo lento lively maessig maestoso marcato massig menuet
menuett menuetto mesto minuet minuetto moderately moderato modere moderement molto mosso munter
pesante piu poco precipitato prestissimo presto quasi quietly rasch risoluto rondeau rondo rubato
ruhig ruvido scherzando scherzo schnell semplice slow slowly sostenuto spiritoso stuermisch
sturmisch tanto tempo tendrement tranquillo trio vif vivace vivacissimo vivement vivo zart
ziemlich
"""
)
"""Words of which tempo marks and characters of movements are made."""

TEMPO_STARTS = (TEMPO_WORDS - word_set("quasi tanto slow fast trio final lively")) | word_set(
    "un sehr tres assez etwas nicht ziemlich im non alla quasi in with massig"
)
"""Words with which a tempo mark can begin."""

STRONG_TEMPO = word_set(
    """
adagietto adagio adagissimo agitato allegramente allegretto allegri allegrissimo allegro andante
andantino animato animé attacca bewegt cantabile comodo feierlich finale grave gravement
introduzione langsam largamente larghetto largo lebhaft lent lentement lento maessig maestoso
marcia massig menuet menuett menuetto minuet minuetto moderato modere prestissimo presto rasch
rondo ruhig scherzando scherzo schnell sehr siciliana siciliano sicilienne sostenuto stuermisch
sturmisch tempo tranquillo vif vivace vivacissimo vivement vivo
"""
)
"""Words that alone make a title the title of a movement."""

ACT_WORDS = word_set("act acte acto akt akte atto aufzug dejstvi felvonas jednani действие")
SCENE_WORDS = word_set("auftritt bild cuadro escena quadro scena scene szene tableau картина")

THEME_WORDS = word_set(
    """
theme thema thème tema téma temat тема variation variations variatio variatie variatsiya variace
variazione variación variacion variação variáció variaatio variasjon variationen variazioni wariacja
variante var вариация вар
"""
)
"""First words of the titles of a theme and of its variations."""
