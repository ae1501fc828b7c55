"""What stands in a composer's place without being one: fillers of taggers, poets and librettists.

Genres, which taggers put there too, are ``popular.py``'s.
"""

from syncd.works.text import fold
from syncd.works.words.tables import word_set

FILLERS = frozenset(
    fold(value)
    for value in """unknown|unknown composer|composer unknown|unknown artist|artist|track|n/a|
    n.a.|na|none|null|
    nil|nobody|no composer|not available|not specified|not applicable|undefined|untitled|default|
    tba|tbd|xxx|test|pd|p.d.|dp|d.p.|domaine public|gemeinfrei|dominio publico|-|--|---|?|??|
    ???|.|...|_|/|various|various composers|various artists|
    various artist|various authors|different composers|multiple composers|several composers|
    several|
    multiple|mixed|misc|misc.|miscellaneous|other|others|va|v/a|v.a.|v. a.|assorted|compilation|
    sampler|album|see title|see track|see booklet|see notes|composer|composers|the composer|
    songwriter|author|diverse|div.|div|diverse komponisten|verschiedene|verschiedene komponisten|
    verschiedene kunstler|mehrere komponisten|versch.|versch. komponisten|unbekannt|
    unbekannter komponist|komponist unbekannt|unbekannter kunstler|komponist|komponisten|
    keine angabe|
    k.a.|k. a.|divers|divers compositeurs|compositeurs divers|plusieurs compositeurs|compositeur|
    compositeurs|artistes divers|inconnu|compositeur inconnu|non renseigne|autori vari|
    autori varii|
    aa.vv.|aa. vv.|aavv|compositori vari|vari|artisti vari|sconosciuto|compositore|
    compositore sconosciuto|ignoto|varios|varios compositores|varios autores|varios artistas|
    desconocido|compositor|compositor desconocido|compositores varios|varios interpretes|
    desconhecido|compositor desconhecido|onbekend|onbekende componist|verschillende componisten|
    diverse componisten|componist|blandade kompositorer|diverse kompositorer|olika kompositorer|
    okand|
    okand kompositor|ukjent|ukendt|kompositor|komponister|diverse komponister|tuntematon|
    useita saveltajia|eri saveltajia|saveltaja|ruzni|ruzni autori|ruzni skladatele|skladatel|
    neznamy|neznamy autor|rozni|rozni kompozytorzy|rozni wykonawcy|kompozytor|nieznany|
    nieznany kompozytor|ismeretlen|kulonbozo szerzok|zeneszerzo|bilinmeyen|cesitli|necunoscut|
    неизвестен|неизвестный|неизвестный автор|неизвестный композитор|композитор|композиторы|
    разные|разные авторы|разные композиторы|сборник|не указан|不明|作曲者不明|作曲家|作曲者|
    未知|未知作曲家|群星|群星荟萃|여러 작곡가|알 수 없음""".replace("\n    ", "").split("|")
)  # fmt: skip
"""Folded values by which taggers say that they name nobody."""

FILLING_WORDS = word_set(
    """
    various diverse divers unknown music musik musique musica muzyka muziek musikk hudba zene
    классика музыка composer composers komponist komponisten compositeurs artists works werke best
    of the great old traditional_music classical klassische klassik era period masterpieces
    favourites favorites and und et & genre misc instrumental vocal solo piano orchestral
    symphonic classics greatest relaxing romantic modern contemporary early late century op opus
    bwv kv number no nr public domain copyright control
    """
)
"""Words of which, with genres, a value can be made without naming anybody."""

POETS = frozenset(
    fold(value)
    for value in """goethe|johann wolfgang von goethe|j.w. von goethe|j. w. von goethe|
    j.w. goethe|schiller|
    friedrich schiller|friedrich von schiller|heine|heinrich heine|h. heine|eichendorff|
    joseph von eichendorff|morike|eduard morike|ruckert|friedrich ruckert|wilhelm muller|w. muller|
    rellstab|ludwig rellstab|klopstock|friedrich gottlieb klopstock|holty|lenau|nikolaus lenau|
    uhland|ludwig uhland|chamisso|adelbert von chamisso|dehmel|richard dehmel|rilke|
    rainer maria rilke|mayrhofer|johann mayrhofer|hebbel|friedrich hebbel|platen|hans bethge|
    hofmannsthal|hugo von hofmannsthal|stefan zweig|bertolt brecht|brecht|schikaneder|
    emanuel schikaneder|georg trakl|trakl|stefan george|theodor storm|detlev von liliencron|
    picander|christian friedrich henrici|brockes|barthold heinrich brockes|
    gottfried van swieten|da ponte|lorenzo da ponte|l. da ponte|metastasio|pietro metastasio|
    piave|francesco maria piave|f.m. piave|illica|luigi illica|giacosa|giuseppe giacosa|
    salvatore cammarano|cammarano|felice romani|calzabigi|ranieri de' calzabigi|
    antonio somma|antonio ghislanzoni|giovanni battista varesco|petrarca|francesco petrarca|
    dante alighieri|torquato tasso|gabriele d'annunzio|verlaine|paul verlaine|baudelaire|
    charles baudelaire|mallarme|stephane mallarme|rimbaud|arthur rimbaud|apollinaire|
    guillaume apollinaire|paul eluard|victor hugo|theophile gautier|leconte de lisle|
    sully prudhomme|eugene scribe|e. scribe|henri meilhac|meilhac|jules barbier|michel carre|
    maeterlinck|maurice maeterlinck|pierre louys|louise de vilmorin|jean cocteau|cocteau|racine|
    quinault|philippe quinault|shakespeare|william shakespeare|w. shakespeare|
    percy bysshe shelley|john keats|lord byron|byron|thomas moore|robert burns|walt whitman|
    whitman|emily dickinson|a.e. housman|a. e. housman|housman|w.h. auden|w. h. auden|auden|
    william blake|wilfred owen|w.b. yeats|james joyce|charles jennens|jennens|nahum tate|
    john milton|alfred tennyson|walter de la mare|w.s. gilbert|pushkin|alexander pushkin|
    aleksandr pushkin|lermontov|mikhail lermontov|afanasy fet|fet|marina tsvetaeva|anna akhmatova|
    alexander blok|пушкин|а. пушкин|а.с. пушкин|александр пушкин|лермонтов|м. лермонтов|
    михаил лермонтов|фет|афанасий фет|тютчев|цветаева|ахматова|блок|
    garcia lorca|federico garcia lorca|lorca|antonio machado|petofi|sandor petofi|mickiewicz|
    adam mickiewicz|stefan witwicki|runeberg|johan ludvig runeberg|ibsen|henrik ibsen|
    hans christian andersen|aasmund olavsson vinje|rabindranath tagore|tagore""".replace(
        "\n    ", ""
    ).split("|")
)  # fmt: skip
"""Folded names of those who wrote words for music, and no music that is played: public facts."""

ARRANGERS = frozenset(
    """Busoni, Ferruccio|Liszt, Franz|Godowsky, Leopold|Stokowski, Leopold|Kreisler, Fritz|
    Siloti, Alexander|Tausig, Carl|Thalberg, Sigismond|Ravel, Maurice|Webern, Anton|
    Schoenberg, Arnold|Respighi, Ottorino|Rimsky-Korsakov, Nikolay|Mahler, Gustav|
    Rachmaninoff, Sergei|Berio, Luciano|Casella, Alfredo|Grainger, Percy|Joachim, Joseph|
    Tárrega, Francisco|Segovia, Andrés|Feinberg, Samuil|Shchedrin, Rodion|Wood, Henry|
    Harty, Hamilton|Beecham, Thomas|Mottl, Felix|Weingartner, Felix|Gounod, Charles|
    Rutter, John|Willcocks, David|Elgar, Edward|Brahms, Johannes|Saint-Saëns, Camille|
    Alkan, Charles-Valentin|Wilhelmj, August|Sor, Fernando|Giuliani, Mauro""".replace(
        "\n    ", ""
    ).split("|")
)
"""Sort forms of composers under whose names others' works are often filed: they arranged them."""
