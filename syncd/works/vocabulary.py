"""Words of the trade in the languages of tags, with their English cataloguing forms.

Instruments and voices, forms of works, tempo and character words, headings of acts and parts,
numbers as words. Folded spelling (lower case, no accents) is the key everywhere. The words are
those of any dictionary of musical terms; the English forms are the conventions' general forms.
"""

from functools import lru_cache

from syncd.works.text import fold


def _table(text: str) -> dict[str, str]:
    """``english: word word two_words`` lines to a mapping; the English word maps to itself."""
    table: dict[str, str] = {}
    for line in text.strip().splitlines():
        english, _, words = line.partition(":")
        english = english.strip()
        table.setdefault(fold(english), english)
        for word in words.split():
            if not word.endswith(("_", ".")):
                table[fold(word.replace("_", " "))] = english
    return table


INSTRUMENTS: dict[str, str] = _table(
    """
piano: pianos klavier klaviere pianoforte pf pno piano-forte fortepjano fortepiano_ klavir fortepian фортепиано рояль zongora piano_solo p-no kl pianist pianiste pianistin pianista klaviir klaver klavier_solo pfte
fortepiano: hammerklavier hammerflugel pianoforte_d'epoca pianoforte_historique hammerfluegel
harpsichord: cembalo clavecin clavicembalo clavicordio_ cembalo_solo cemb klavecin cembalist harpsichordist claveciniste clave klawesyn clavicimbel клавесин hpd csembalo hpschd
clavichord: clavicorde clavicordo klavichord
organ: orgel orgue organo org varhany organy orgona орган organist organiste orgel_solo orgelpositiv orgao organista
harmonium: physharmonika
celesta: celeste celesta_
violin: violine violinen violins violon violons violino violini vn vl vln violonist violonista скрипка skripka housle skrzypce hegedu geige violinist violiniste violin_solo skripki violines fiol fiolin viool viulu violinista solo_violin vlns housli скрипки smuikui violino_solo
viola: bratsche bratschen alto_viola violas viole_ va vla альт altowka bratschist violist alti altviool altviulu
cello: violoncello violoncelle violoncelli vc vlc violoncelles cellos celli violoncell violoncelo violonchelo виолончель violonchel wiolonczela cellist violoncelliste violoncellos gordonka cselló csello solo_cello sello violoncellist violoncellista виолончели violoncello_solo violoncelo_
double bass: kontrabass contrebasse contrabbasso contrabass cb db контрабас kontrabas double-bass contrabajo basse_de_violon string_bass double_basses contrabaixo
viola da gamba: gambe gamba viola_da_gamba viole_de_gambe bass_viol viol viols violas_da_gamba viole viole_da_gamba basse_de_viole viola_de_gamba viols treble_viol
viola d'amore: viole_d'amour
baryton: barytontrio
arpeggione:
lute: laute luth liuto loutna lutnia лютня lutenist laud luit alaud
theorbo: theorbe tiorba chitarrone theorbe_ tiorbe archlute arciliuto
vihuela:
guitar: gitarre guitare chitarra guitarra kytara gitara gitar guitars gtr гитара guitarist gitarren guitares guitarras chitarre gitarr gitaar kitara guitarrista gitarrist chitarrista
mandolin: mandoline mandolino mandolinen mandolini mandolins
harp: harfe harpe arpa harfa harps арфа harfen harpist harpes harpiste
flute: flote floete flutes fluegelflote traversflote flauto flauti fl flauta fletna flet флейта querflote flutist flauti flutiste traverso flotist fluit flutes flautas flutist flautist huilu flojt fuvola flauta_travesera transverse_flute flotisten floten
piccolo: pikkoloflote ottavino piccoloflote flautino
recorder: blockflote blockfloete flute_a_bec flauto_dolce flauto_diritto blockfloten recorders zobcova_fletna flauta_dulce
oboe: hautbois oboen oboes oboi ob hoboj oboj гобой oboist hobo hautbois_ oboe_solo hautboiste
oboe d'amore: hautbois_d'amour
english horn: englischhorn cor_anglais corno_inglese eng_hn englisch_horn englischhorn
clarinet: klarinette clarinette clarinetto clarinetti klarinetten clarinets cl klarinet klarnet кларнет clarinete clarinetist klarinettist clarinettiste clarinettes klarinetti klarinett clt clarinettist clarinet_solo
basset clarinet: bassettklarinette clarinette_de_basset
basset horn: bassetthorn cor_de_basset corno_di_bassetto bassetthorner
bass clarinet: bassklarinette clarinette_basse
bassoon: fagott fagotte basson fagotto fagotti fg bn fagot фагот bassoons fagottist bassoniste bassons fagoten
horn: hörner horner horns waldhorn cor cors corno corni hn lesni_roh rog валторна french_horn hornist corniste trompa corno_da_caccia naturhorn waldhorner
trumpet: trompete trompeten trompette tromba trombe tp trubka trabka труба trumpets trompettes trompeta trumpeter trompeter tpt trompettiste clarino trompet
cornet: cornet_a_pistons kornett
cornett: cornetto zink cornetti
trombone: posaune posaunen tromboni tbn trombon puzon тромбон trombones trombón posaunist tromboniste
tuba: tuba_
saxophone: saxophon saxofono saxofon sassofono saxophones sax саксофон alto_saxophone altsaxophon saxophone_alto saxofón tenor_saxophone soprano_saxophone saxophonist saxophoniste
percussion: schlagzeug percussions percussioni perc schlagwerk perkusja ударные bici percusion percussionist slagwerk slagverk
timpani: pauken timbales pauke kettledrums timpano
marimba: marimbaphon
vibraphone: vibraphon
glass harmonica: glasharmonika glass_armonica
accordion: akkordeon accordeon fisarmonica bayan bajan баян accordeoniste akordeon
bandoneon: bandoneón bandonion
ondes martenot: ondes
theremin:
trumpets:
strings: streicher cordes archi cuerdas cuerda cordas smyczki smycce streichorchester_ струнные strijkers stråkar
orchestra: orchester orchestre orkester orchestr orkiestra orquesta orkest оркестр orkestrom orkestra_ orchestra orkestras zenekar orkesteri orkestr оркестром orquestra orchestrou orkiestre
basso continuo: continuo generalbass basse_continue b.c. bc basso_continuo_
voice: stimme voix voce singstimme gesang голос hlas glos voz chant canto vocals
soprano: sopran sopraan сопрано sop soprani soprano_ s sopranistin sopranos szopran sopraani sopranista boy_soprano knabensopran
mezzo-soprano: mezzosopran mezzo mez mezz mezzosoprano mezzo-sopran mezzo_soprano меццо-сопрано ms mezzo-soprane меццо mezzosopraan mezzo-sopraan
alto: contralto contralte alt altistin kontraalt контральто contraltos altus_ altos altist altti
countertenor: contre-tenor kontratenor altus counter-tenor controtenore haute-contre contratenor contraténor haute-contre_ contretenor contralto_masculino male_alto
tenor: tenore ténor тенор ten tenors tenori tenoor tenori_ taille
baritone: bariton baryton_ baritono barítono баритон bar baritones baryton-basse_ barytone baryton baritoni barytoni
bass-baritone: bassbariton baryton-basse basso-baritono bajo-baritono bass-bariton basse-baryton bass_baritone baritono-basso
bass: basse basso бас bajo basses bassi baixo bas basso_profondo
treble: knabenstimme trebles
narrator: sprecher recitant récitant voce_recitante narratore erzahler speaker чтец narrateur recitante erzaehler sprecherin reciter vypravec
"""  # noqa: E501
)
VOICES = frozenset(
    [
        "voice",
        "soprano",
        "mezzo-soprano",
        "alto",
        "countertenor",
        "tenor",
        "baritone",
        "bass-baritone",
        "bass",
        "treble",
        "narrator",
    ]
)

# Abbreviations that are instruments only in a list of performers, never in a title.
PERFORMER_ONLY = frozenset(
    [
        "vn",
        "vl",
        "va",
        "vc",
        "fl",
        "ob",
        "cl",
        "fg",
        "bn",
        "hn",
        "tp",
        "cb",
        "db",
        "pf",
        "org",
        "sop",
        "ms",
        "ten",
        "bar",
        "bas",
        "kl",
        "s",
        "cemb",
        "vla",
        "vln",
        "perc",
        "gtr",
        "cor",
        "bass",
    ]
)

_FORM_TEXT = """
Symphony: symphonie sinfonie symphonien sinfonien symphonies symfonie symfonia симфония simfonija simfoniya szimfonia symfoni sinfoni symphonia sinfonía symphonic_ sinfonias sinfonieen simphonie sinfonje sinfonien_ symfonien symfoniya
Sinfonia: sinfonia sinfonias sinfonie_
Sinfonia concertante: sinfonia_concertante sinfonie_concertante symphonie_concertante concertante_symphony konzertante_sinfonie sinfonie_concertanti sinfonia_concertanta symphonia_concertante
Sinfonietta: sinfonietta simfonietta
Chamber Symphony: kammersymphonie kammersinfonie symphonie_de_chambre sinfonia_da_camera камерная_симфония kamernaya_simfoniya
Concerto: konzert konzerte concertos concerti concertos konzerten koncert kontsert концерт concierto conciertos konsert koncerty concert_ concertes kontserto concerto_ koncerto koncertas concerto. konserto kontserty versenymu concertos_
Concerto grosso: concerto_grosso concerti_grossi concertos_grossos concertos_grossi
Concertino: concertino concertinos konzertino
Double Concerto: doppelkonzert double_concerto concerto_double doppio_concerto dvojkoncert
Triple Concerto: tripelkonzert triple_concerto triple-concerto triplo_concerto concerto_triple trojkoncert тройной_концерт
Concert Piece: konzertstuck konzertstueck concert_piece konzertstück concertstuck morceau_de_concert concertstück piece_de_concert
Sonata: sonate sonaten sonates sonatas sonata_ соната sonata sonaty szonata sonat sonater sonata. sonaatti сонаты sonáta sonates_ sonatae
Sonatina: sonatine sonatinen sonatines sonatinas sonatinen сонатина sonatinas_
Trio Sonata: triosonate sonate_en_trio sonata_a_tre trio_sonata trio-sonata triosonaten sonata_a_3 trio_sonatas sonates_en_trio trio-sonate
Church Sonata: kirchensonate sonata_da_chiesa sonate_d'eglise epistle_sonata epistelsonate church_sonata
Duo: duo duos duetto duett_ duetti
Duet: duet duett duets duette
Trio: trio trios tercet tersett трио trios_ trio_
Quartet: quartett quartette quatuor quartetto kvartet kwartet cuarteto kvartett квартет quartets quatuors quartetti kvartets cuartetos quarteto kvartetas smyccovy_ kvartetto negyes
Quintet: quintett quintette quintetto kvintet kwintet quinteto kvintett квинтет quintets quintetti quintettes otos kvintetto
Sextet: sextett sextuor sestetto sekstet sexteto секстет sextets sextette
Septet: septett septuor settimino septeto settimino_ септет
Octet: oktett octuor ottetto oktet octeto октет octett
Nonet: nonett nonetto noneto nonette
Suite: suiten suites suita сюита suita_ sviit suity sarja szvit suíte syuita svit
Partita: partiten partite partitas partia parthia partitas_ партита
Ordre: ordres
Prelude: prelude preludium preludio praeludium praludium preludes preludes_ praludien прелюдия прелюд preludia präludium prelúdio preludi preludij prelyudiya vorspiel_ preludien praeludia praeludien preludy preludios preluden
Chorale Prelude: choralvorspiel choralvorspiele chorale_prelude chorale_preludes prelude_de_choral preludio_corale preludio_al_corale preludes_de_choral choralbearbeitung
Fugue: fuga fuge fugues fugen фуга fughe fugas fuug fugy
Fughetta: fughetten fughette
Toccata: tokkata toccaten toccate toccatas tokata токката toccate_
Fantasia: fantasie phantasie fantaisie fantasy fantazie fantazja фантазия fantasias fantasien phantasien fantaisies fantasies fantazia phantasy fantasi fantasías
Étude: etude etudes etuden etuede studie_ study studies studio studi etiuda etiudy estudio estudios этюд этюды etüde etiudes etyd etyder etyudy tanulmany etyud
Concert Étude: etude_de_concert konzertetude etudes_de_concert konzertetuden concert_etude concert_etudes konzertetüde
Nocturne: nocturne nocturnes notturno notturni nokturn nokturno nocturno ноктюрн nokturny nocturnos noctürne nokturne ноктюрны
Ballade: ballada ballades balladen ballata ballad_ баллада balada ballady baladas
Scherzo: scherzi scherzos скерцо scherza
Impromptu: impromptus improvviso improvvisi impromptu_ экспромт
Mazurka: mazurkas mazurken mazurek mazurki мазурка masurka mazourka mazurkas_ mazurche
Polonaise: polonaisen polonaises polacca polonez polonesa polonezy полонез polonesas polonäse polonaise-
Waltz: waltzes walzer valse valses valzer walc walce vals valcik вальс valses_ keringo valsa valčík
Rondo: rondos rondeau_ рондо rondi
Variations: variationen variazioni variaciones variation_ вариации variace wariacje variacoes veranderungen variaties varaitions variationer muunnelmat
Serenade: serenaden serenades serenata serenada серенада standchen_ serenad szerenad serenáda serenatas
Divertimento: divertimenti divertissement_ divertimentos дивертисмент
Cassation: kassation cassazione
Notturno:
Overture: ouverture ouverturen obertura uvertura ouverture_ увертюра predehra uwertura ouvertures overtures ouverturen_ ouvertuere nyitany uvertyura abertura ouvertyr ouvertüre overtura
Mass: messe messa missa misa mse msza месса messen masses messe_ mise
Requiem: requiems requieme реквием rekviem
Magnificat: magnificats
Te Deum: te_deum
Stabat Mater: stabat_mater
Gloria: gloria_
Cantata: kantate cantate kantaten cantates cantatas cantata кантата kantata cantate_
Oratorio: oratorium oratorios oratoria
Motet: motette motetten motets mottetto motetes motetti motet moteto motet_
Madrigal: madrigale madrigaux madrigali madrigals madrigaly
Psalm: psaume salmo psalmus zalm псалом psaumes psalms salmi
Anthem: anthems
Rhapsody: rhapsodie rapsodie rapsodia рапсодия rhapsodies rhapsodien rapsodia_ rapsódia rapszodia rapsodija
Romance: romanze romanza romances romanzen романс romans romanser romance_
Bagatelle: bagatellen bagatelles bagatella bagatelas багатель bagatela bagatellen_
Barcarolle: barcarola barkarole barkarola barcarolla баркарола
Berceuse: wiegenlied_ ninna_nanna lullaby_ kolysanka ukolebavka колыбельная
Capriccio: caprice_ kapriccio capricci capriccios
Caprice: caprices capriccio_ kaprys kaprysy каприс capricho caprichos
Elegy: elegie elegia elegies элегия elégie
Humoresque: humoreske humoresken humoresques humoreska юмореска
Intermezzo: intermezzi intermezzos интермеццо
Invention: inventionen inventio inventions invenzione invenzioni инвенция inventiones invence inwencja invenciones
March: marsch marche marcia mars_ marcha marches marsche марш pochod marsz marce marcha_
Dance: tanz danse danza dances tanze danses tanec taniec танец danzas danze taenze tance танцы
Symphonic Poem: sinfonische_dichtung symphonische_dichtung poeme_symphonique poema_sinfonico symphonic_poem tondichtung tone_poem symfonicka_basen poemat_symfoniczny симфоническая_поэма
Symphonic Dances: symphonische_tanze symphonic_dances sinfonische_tanze danses_symphoniques danze_sinfoniche симфонические_танцы simfonicheskie_tantsy
Song: lied chanson_ canzone_ melodie_ romance__ piesn pisen песня cancion sang
Songs: lieder chansons_ melodies canzoni_ pisne piesni песни canciones gesange gesaenge canciones_
Minuet: menuett menuet menuetto minuetto menueto menuette menuets minuets менуэт minue minuetti menuettes menuettos
Gavotte: gavota gavotta gavotten gavottes
Sarabande: sarabanda
Gigue: giga jig_
Allemande: allemanda
Courante: corrente
Bourrée: bourree bourrees
Chaconne: ciaccona chacona chaconne_ чакона
Passacaglia: passacaille passacalle passacaglie
Canzona: canzone canzoni canzonas kanzone canzon
Ricercar: ricercare ricercata ricercars tiento tientos ricercari
Voluntary: voluntaries
Pavane: pavana pavan pavans pavanes
Galliard: gagliarda gaillarde
Pastorale: pastorale_ pastoral_
Hymn: hymne inno hymnus
Ode: ode_
Tarantella: tarantelle
Bolero: bolero_ bolero
Ecossaise: ecossaisen ecossaises
Ländler: landler laendler
German Dance: deutscher_tanz german_dance german_dances deutsche_tanze
Contredanse: kontretanz contretanze contredanses kontretanze contradanza
Piece: stuck stueck piece_ pezzo utwor skladba pieza пьеса stuk
Pieces: stucke stuecke pieces pezzi utwory skladby piezas пьесы
Piano Piece: klavierstuck klavierstueck klavierstuk
Piano Pieces: klavierstucke klavierstuecke
Album Leaf: albumblatt feuillet_d'album
Album Leaves: albumblatter
Lesson: lessons
Hungarian Dance: ungarischer_tanz danse_hongroise hungarian_dance
Hungarian Dances: ungarische_tanze hungarian_dances danses_hongroises
Hungarian Rhapsody: ungarische_rhapsodie hungarian_rhapsody rhapsodie_hongroise rapsodia_ungherese rapsodia_hungara венгерская_рапсодия rapsodia_ungarese magyar_rapszodia
Slavonic Dance: slawischer_tanz danse_slave slovansky_tanec
Slavonic Dances: slawische_tanze danses_slaves slovanske_tance slavonic_dances slavische_tanze славянские_танцы
Brandenburg Concerto: brandenburgisches_konzert brandenburgische_konzerte concert_brandebourgeois concerto_brandebourgeois concerto_brandeburghese concierto_de_brandeburgo concerts_brandebourgeois concertos_brandebourgeois braniborsky_koncert koncert_brandenburski brandenburg_concertos brandenburg_concerti бранденбургский_концерт concerti_brandeburghesi concierto_de_brandemburgo
Orchestral Suite: orchestersuite suite_pour_orchestre orchestral_suites orchestersuiten orkestsuite orkestersuite suite_per_orchestra
Cello Suite: cellosuite cellosuiten cello_suites
French Suite: franzosische_suite suite_francaise french_suites suites_francaises franzoesische_suite franzosische_suiten
English Suite: englische_suite suite_anglaise english_suites suites_anglaises englische_suiten
"""  # noqa: E501

FORMS: dict[str, str] = _table(_FORM_TEXT)
for _word in ("song", "sang", "dance", "gloria", "piece", "lesson", "studies", "study", "studio"):
    FORMS.setdefault(_word, _word.capitalize())
FORMS["symphony"] = "Symphony"

LONGEST_PHRASE = 3

# Forms whose numbered pieces within one opus are works of their own (works.md): several movements,
# or customarily published and played singly.
SINGLE_WORK_FORMS = frozenset(
    """Symphony|Sinfonia|Concerto|Concerto grosso|Sonata|Sonatina|Trio|Quartet|Quintet|Sextet|Septet|
    Octet|Duo|Suite|Partita|Trio Sonata|Church Sonata|Overture|Divertimento|Serenade|Nocturne|
    Mazurka|Waltz|Polonaise|Ballade|Scherzo|Cantata|Mass|Motet|Rhapsody|Fantasia|Fugue|
    Toccata|Rondo|Concertino|Orchestral Suite|Cello Suite|French Suite|English Suite|
    Brandenburg Concerto|Symphonic Poem|Canzona|Variations|Prelude and Fugue|Hungarian Rhapsody|
    Sinfonia concertante|Requiem|Chamber Symphony|Organ Symphony|Chorale Prelude|Ordre|Anthem
    """.replace("\n    ", "")  # noqa: E501
    .strip()
    .split("|")
)

# Forms whose pieces under one opus are movements of the set when the set is there.
SET_FORMS = frozenset(
    [
        "Étude",
        "Concert Étude",
        "Prelude",
        "Impromptu",
        "Bagatelle",
        "Intermezzo",
        "Capriccio",
        "Caprice",
        "Piece",
        "Pieces",
        "Piano Piece",
        "Piano Pieces",
        "Song",
        "Songs",
        "Invention",
        "Dance",
        "Hungarian Dance",
        "Hungarian Dances",
        "Slavonic Dance",
        "Slavonic Dances",
        "German Dance",
        "Ländler",
        "Ecossaise",
        "Contredanse",
        "Album Leaf",
        "Album Leaves",
        "Humoresque",
        "Romance",
        "March",
        "Minuet",
        "Duet",
        "Madrigal",
        "Lesson",
    ]
)

SECTION_FORMS = frozenset(
    [
        "Minuet",
        "Gavotte",
        "Sarabande",
        "Gigue",
        "Allemande",
        "Courante",
        "Bourrée",
        "Gloria",
        "Dance",
        "March",
        "Song",
        "Intermezzo",
        "Scherzo",
        "Rondo",
        "Fugue",
        "Prelude",
        "Romance",
        "Duet",
        "Trio",
        "Overture",
        "Capriccio",
        "Variations",
        "Serenade",
        "Hymn",
        "Chaconne",
        "Passacaglia",
        "Pavane",
        "Galliard",
        "Waltz",
        "Polonaise",
        "Barcarolle",
        "Berceuse",
        "Nocturne",
        "Ballade",
        "Toccata",
        "Fantasia",
        "Elegy",
        "Humoresque",
        "Psalm",
        "Motet",
        "Pastorale",
        "Tarantella",
        "Impromptu",
        "Canzona",
        "Étude",
        "Caprice",
        "Bolero",
        "Ländler",
        "Sinfonia",
        "Fughetta",
        "Invention",
        "Piece",
        "Duo",
        "Quartet",
        "Quintet",
        "Sextet",
        "Mazurka",
        "Notturno",
        "Bagatelle",
        "Rhapsody",
        "Ode",
        "Ricercar",
        "Cantata",
        "Anthem",
        "Madrigal",
        "Hymn",
        "Divertimento",
    ]
)
"""Forms that are names of movements too: alone they do not make a title the title of a work."""

PLURALS = frozenset(
    word
    for word in FORMS
    if word.endswith(("s", "en", "i", "x"))
    and word
    not in (
        "preludi",
        "variations",
        "variationen",
        "variazioni",
        "magnificats",
        "opus",
        "simfoni",
        "symfoni",
        "sinfoni",
        "mise",
        "rondi",
        "missa",
        "galliards",
        "fantasi",
        "tientos",
    )
    and word[:-1] in FORMS | {"symphonie": "", "concerto": "", "sonat": "", "lieder": ""}
) | frozenset(
    fold(word)
    for word in [
        "lieder",
        "gesänge",
        "songs",
        "mélodies",
        "chansons",
        "tänze",
        "danses",
        "dances",
        "stücke",
        "pieces",
        "pièces",
        "klavierstücke",
        "pezzi",
        "sinfonien",
        "symphonien",
        "symphonies",
        "konzerte",
        "concerti",
        "concertos",
        "sonaten",
        "sonate_",
        "sonates",
        "sonatas",
        "suiten",
        "walzer_",
        "valses",
        "waltzes",
        "märsche",
        "motetten",
        "messen",
        "kantaten",
        "cantates",
        "quartetti",
        "trios",
        "études",
        "etüden",
        "préludes",
        "präludien",
        "nocturnes",
        "mazurken",
        "mazurkas",
        "polonaisen",
        "intermezzi",
        "impromptus",
        "rhapsodien",
        "rhapsodies",
        "balladen",
        "ballades",
        "scherzi",
        "variationen_",
        "capricci",
        "caprices",
        "inventionen",
        "ouvertüren",
        "overtures",
        "romanzen",
        "romances",
        "psaumes",
        "psalms",
        "координаты_",
        "этюды",
        "прелюдии",
        "песни",
        "ноктюрны",
        "сонаты",
        "симфонии",
    ]
    if not word.endswith("_")
)

_GERMAN_PREFIXES = {
    "klavier": "piano", "violin": "violin", "cello": "cello", "violoncello": "cello",
    "floten": "flute", "floeten": "flute", "horn": "horn", "trompeten": "trumpet",
    "klarinetten": "clarinet", "oboen": "oboe", "fagott": "bassoon", "harfen": "harp",
    "orgel": "organ", "bratschen": "viola", "viola": "viola", "gitarren": "guitar",
    "cembalo": "harpsichord", "streich": "string", "blaser": "wind", "blaeser": "wind",
    "posaunen": "trombone", "kontrabass": "double bass", "saxophon": "saxophone",
    "mandolinen": "mandolin", "lauten": "lute", "blockfloten": "recorder", "gamben":
    "viola da gamba", "kammer": "chamber", "orchester": "orchestral", "schlagzeug": "percussion",
    "bassetthorn": "basset horn", "marimba": "marimba", "akkordeon": "accordion",
    "violinen": "violin", "hammerklavier": "fortepiano", "englischhorn": "english horn",
    "solo": "solo", "konzert": "concert", "piano": "piano", "baryton": "baryton", "flute": "flute",
    "klarinett": "clarinet", "obo": "oboe", "fiol": "violin", "fiolin": "violin", "klaver":
    "piano", "stryk": "string", "strijk": "string", "strak": "string", "stråk": "string",
    "pianoforte": "piano", "blas": "wind", "hobo": "oboe", "clarinet": "clarinet",
    "klarinet": "clarinet", "fluit": "flute", "viool": "violin", "orgel-": "organ",
    "stryge": "string", "jousi": "string", "viulu": "violin", "sello": "cello",
    "vonos": "string", "hegedu": "violin", "zongora": "piano", "gordonka": "cello",
}  # fmt: skip
_GERMAN_STEMS = {
    "konzert": "Concerto", "konzerte": "Concerto", "konzerten": "Concerto", "sonate": "Sonata",
    "sonaten": "Sonata", "sonatine": "Sonatina", "quartett": "Quartet", "quartette": "Quartet",
    "quintett": "Quintet", "quintette": "Quintet", "trio": "Trio", "trios": "Trio",
    "sextett": "Sextet", "septett": "Septet", "oktett": "Octet", "suite": "Suite",
    "suiten": "Suite", "quartetten": "Quartet", "duo": "Duo", "duos": "Duo",
    "konsert": "Concerto", "kwartet": "Quartet", "kvartett": "Quartet", "kvintett": "Quintet",
    "sonat": "Sonata", "kvartet": "Quartet", "kvintet": "Quintet", "koncert": "Concerto",
    "concert": "Concerto", "symphonie": "Symphony", "sinfonie": "Symphony", "fantasie": "Fantasia",
    "serenade": "Serenade", "quintetten": "Quintet", "sonatinen": "Sonatina", "kwintet": "Quintet",
    "sextet": "Sextet", "octet": "Octet", "oktet": "Octet", "konserter": "Concerto",
    "konsertto": "Concerto", "kvartetto": "Quartet", "kvintetto": "Quintet",
    "sonaatti": "Sonata", "verseny": "Concerto", "versenymu": "Concerto", "negyes": "Quartet",
    "szonata": "Sonata",
}  # fmt: skip


@lru_cache(maxsize=8192)
def compound(word: str) -> tuple[str, str] | None:
    """A Germanic compound (folded): instrument and form, as ``violinkonzert`` gives, or None."""
    if len(word) < 7:
        return None
    for cut in range(3, len(word) - 2):
        head = word[:cut]
        if head in _GERMAN_PREFIXES and word[cut:] in _GERMAN_STEMS:
            return _GERMAN_PREFIXES[head], _GERMAN_STEMS[word[cut:]]
    return None


COMPOUND_PLURAL = frozenset(
    [
        "konzerte",
        "konzerten",
        "sonaten",
        "sonatinen",
        "quartette",
        "quartetten",
        "quintette",
        "quintetten",
        "trios",
        "suiten",
        "duos",
        "konserter",
    ]
)


@lru_cache(maxsize=8192)
def is_plural_compound(word: str) -> bool:
    """Whether a Germanic compound names several works (``Klaviersonaten``)."""
    return any(word.endswith(stem) for stem in COMPOUND_PLURAL)


SECTIONS: dict[str, str] = {
    "string": "String", "strings": "String", "wind": "Wind", "brass": "Brass", "piano": "Piano",
    "violin": "Violin", "cordes": "String", "archi": "String", "cuerdas": "String",
    "smyccovy": "String", "smyczkowy": "String", "струнный": "String", "vents": "Wind",
    "strunnyy": "String", "strunny": "String", "strunnyi": "String", "arcos": "String",
    "smyccovych": "String", "cuerda": "String", "fortepiannyy": "Piano", "fortepianovy": "Piano",
    "klavirni": "Piano", "fortepianowy": "Piano", "фортепианный": "Piano", "skrzypcowy": "Violin",
    "houslovy": "Violin", "скрипичный": "Violin", "skripichnyy": "Violin", "vonos": "String",
    "vonosnegyes": "String", "strunnogo": "String", "klavirny": "Piano", "klavierni": "Piano",
    "fortepianowa": "Piano", "скрипичная": "Violin", "фортепианная": "Piano", "fiati": "Wind",
    "klavirna": "Piano", "houslova": "Violin", "wiolonczelowy": "Cello", "violoncellovy": "Cello",
    "fortepiannaya": "Piano", "jousi": "String", "cellovy": "Cello", "klarinetovy": "Clarinet",
    "виолончельный": "Cello", "виолончельная": "Cello", "keyboard": "Keyboard",
    "clarinet": "Clarinet", "hegeduverseny": "Violin", "cameristico": "Chamber",
}  # fmt: skip

FOR_WORDS = frozenset(
    [
        "for",
        "fur",
        "fuer",
        "pour",
        "per",
        "para",
        "pro",
        "na",
        "dlya",
        "для",
        "voor",
        "fr",
        "a",
        "till",
        "för",
    ]
)
AND_WORDS = frozenset(
    [
        "and",
        "und",
        "et",
        "e",
        "y",
        "i",
        "&",
        "+",
        "a",
        "og",
        "och",
        "en",
        "с",
        "s",
        "mit",
        "with",
        "avec",
        "con",
        "и",
        "with",
    ]
)
OF_WORDS = frozenset(["de", "du", "d'", "des", "di", "of"])

ORDINALS: dict[str, int] = {}
for _line in """
1 first erste erster erstes premier premiere prima primo primera primer prvni pierwszy pierwsza первая первый 1st 1er 1re 1ere primeira forste
2 second zweite zweiter zweites deuxieme seconde seconda secondo segunda segundo druha druhy druga вторая второй 2nd 2e 2eme
3 third dritte dritter drittes troisieme terza terzo tercera tercer treti trzecia третья третий 3rd 3e 3eme
4 fourth vierte vierter viertes quatrieme quarta quarto cuarta cuarto ctvrta czwarta четвертая 4th 4e 4eme
5 fifth funfte funfter funftes fuenfte cinquieme quinta quinto pata piata пятая 5th 5e 5eme
6 sixth sechste sechster sechstes sixieme sesta sesto sexta sexto sesta szosta шестая 6th 6e 6eme
7 seventh siebte siebente siebter septieme settima septima sedma siodma седьмая 7th 7e 7eme
8 eighth achte achter huitieme ottava octava osma восьмая 8th 8e 8eme
9 ninth neunte neunter neuvieme nona novena devata dziewiata девятая 9th 9e 9eme
10 tenth zehnte dixieme decima desata десятая 10th 10e
11 eleventh elfte onzieme 11th 11e
12 twelfth zwolfte douzieme 12th 12e
13 thirteenth treizieme 13th 13e
14 fourteenth quatorzieme 14th 14e
15 fifteenth quinzieme 15th 15e
""".strip().splitlines():  # noqa: E501
    _value, *_words = _line.split()
    for _w in _words:
        ORDINALS[_w] = int(_value)

COUNTS: dict[str, int] = {}
for _line in """
2 two zwei deux due dos dva dwie два
3 three drei trois tre tres tri trzy три
4 four vier quatre quattro cuatro ctyri cztery четыре
5 five funf fuenf cinq cinque cinco pet piec пять
6 six sechs sei seis sest szesc шесть
7 seven sieben sept sette siete sedm siedem семь
8 eight acht huit otto ocho osm osiem восемь
9 nine neun neuf nove nueve devet девять
10 ten zehn dix dieci diez deset десять
11 eleven elf onze undici once
12 twelve zwolf zwoelf douze dodici doce dvanact двенадцать
13 thirteen dreizehn treize
14 fourteen vierzehn quatorze
15 fifteen funfzehn quinze
16 sixteen sechzehn seize
18 eighteen achtzehn
20 twenty zwanzig vingt
21 twenty-one
24 twenty-four vierundzwanzig vingt-quatre ventiquattro
""".strip().splitlines():
    _value, *_words = _line.split()
    for _w in _words:
        COUNTS[_w] = int(_value)

TEMPO_WORDS = frozenset(
    """
adagio adagietto adagissimo allegro allegretto allegrissimo andante andantino grave larghetto largo
larghissimo lento lentissimo moderato presto prestissimo vivace vivacissimo vivo maestoso sostenuto
cantabile tempo tranquillo agitato animato appassionato scherzando grazioso giocoso energico
marcato pesante rubato con_brio con_moto con_fuoco feroce risoluto comodo commodo mosso
precipitato dolente doloroso espressivo affettuoso semplice lebhaft langsam schnell massig
maessig bewegt feierlich ruhig rasch stuermisch sturmisch sehr_langsam sehr_lebhaft sehr_schnell
gemachlich gemächlich getragen innig zart leidenschaftlich etwas_bewegt nicht_zu_schnell kraftig
lent vif modere anime tres_lent tres_vif assez_vif assez_lent gai lentement vivement gravement
tendrement gracieusement gaiement legerement moderement finale final cadenza alla_marcia
alla_breve alla_turca attacca quasi introduzione einleitung doppio molto poco piu tanto
ruvido mesto amabile deciso festivo spiritoso
menuetto menuet minuet menuett minuetto scherzo rondo rondeau trio coda
zart_bewegt ziemlich frisch breit fliessend munter heiter
moderately slow fast lively slowly quietly
""".replace("\n", " ").split()
)
TEMPO_STARTS = frozenset(
    word for word in TEMPO_WORDS if word not in ("tempo", "molto", "poco", "piu", "tanto", "quasi",
                                                 "slow", "fast", "trio", "final", "lively")
) | frozenset({"molto", "poco", "un", "sehr", "tres", "assez", "etwas", "nicht", "ziemlich",
               "im", "tempo", "piu", "non", "alla", "quasi", "in", "with", "maßig"})  # fmt: skip

STRONG_TEMPO = frozenset(
    [
        "adagio",
        "adagietto",
        "allegro",
        "allegretto",
        "andante",
        "andantino",
        "grave",
        "larghetto",
        "largo",
        "lento",
        "moderato",
        "presto",
        "prestissimo",
        "vivace",
        "vivacissimo",
        "vivo",
        "maestoso",
        "finale",
        "menuetto",
        "minuetto",
        "menuett",
        "scherzo",
        "langsam",
        "lebhaft",
        "lent",
        "vif",
        "modere",
        "allegrissimo",
        "adagissimo",
        "massig",
        "bewegt",
        "cantabile",
        "agitato",
        "scherzando",
        "attacca",
        "feierlich",
        "lebhaft",
        "stuermisch",
        "sturmisch",
        "schnell",
        "rasch",
        "tres_vif",
        "largamente",
        "tranquillo",
        "rondo",
        "menuet",
        "minuet",
        "allegramente",
        "animato",
        "sostenuto",
        "introduzione",
        "ruhig",
        "tempo",
        "sehr",
        "animé",
        "anime",
        "siciliana",
        "siciliano",
        "sicilienne",
        "marcia",
        "gravement",
        "vivement",
        "lentement",
        "allegri",
        "mässig",
        "maessig",
        "comodo",
    ]
)

PART_WORDS = frozenset(
    [
        "part",
        "parte",
        "partie",
        "teil",
        "abteilung",
        "dil",
        "czesc",
        "часть",
        "part.",
        "deel",
        "oddil",
        "cast",
        "act",
        "acte",
        "akt",
        "atto",
        "acto",
        "aufzug",
        "aktus",
        "dejstvi",
        "jednani",
        "akt.",
        "действие",
        "книга",
        "scene",
        "szene",
        "scena",
        "scène",
        "escena",
        "bild",
        "tableau",
        "quadro",
        "tableaux",
        "vorspiel_",
        "cuadro",
        "картина",
        "auftritt",
        "obraz",
        "entree",
    ]
)
ACT_WORDS = frozenset(
    [
        "act",
        "acte",
        "akt",
        "atto",
        "acto",
        "aufzug",
        "jednani",
        "dejstvi",
        "действие",
        "akte",
        "felvonas",
    ]
)
SCENE_WORDS = frozenset(
    [
        "scene",
        "szene",
        "scena",
        "escena",
        "bild",
        "tableau",
        "quadro",
        "auftritt",
        "картина",
        "cuadro",
    ]
)
MOVEMENT_WORDS = frozenset(
    [
        "movement",
        "mvt",
        "mvmt",
        "mouvement",
        "satz",
        "movimento",
        "movimiento",
        "satz.",
        "veta",
        "czesc",
        "часть",
        "mov",
        "mouv",
        "tempo_",
    ]
)

ENSEMBLE_WORDS = frozenset(
    [
        "filharmonikerne",
        "filharmonikerna",
        "filharmonien",
        "filharmoniske",
        "filharmoniska",
        "filharmoniky",
        "symfonikerne",
        "symfonikerna",
        "symfoniorkester",
        "symfonicky",
        "symfonieorkest",
        "kvarteto",
        "kvinteto",
        "kvartetti",
        "kvintet",
        "sinfoniaorkesteri",
        "kamarazenekar",
        "vonosnegyes",
        "quarteto",
        "quinteto",
        "quintetto",
        "sexteto",
        "orchestrale",
        "musicanti",
        "barocchisti",
        "virtuosi",
        "orchestra",
        "orchestre",
        "orchester",
        "orkest",
        "orkester",
        "orchestr",
        "orkiestra",
        "orquesta",
        "orquestra",
        "orkestar",
        "philharmonic",
        "philharmonie",
        "philharmonia",
        "filharmonie",
        "filharmonia",
        "filarmonica",
        "philharmoniker",
        "philharmonique",
        "philharmonisches",
        "philharmonisch",
        "filarmonico",
        "symphony",
        "sinfonieorchester",
        "symphonieorchester",
        "sinfonietta",
        "symphoniker",
        "sinfonia",
        "kammerorchester",
        "kammerphilharmonie",
        "staatskapelle",
        "staatsorchester",
        "kapelle",
        "hofkapelle",
        "camerata",
        "consort",
        "academy",
        "akademie",
        "accademia",
        "collegium",
        "capella",
        "cappella",
        "chapelle",
        "ensemble",
        "ansambl",
        "ansambel",
        "quartet",
        "quartett",
        "quatuor",
        "quartetto",
        "cuarteto",
        "kvartet",
        "kwartet",
        "quintet",
        "quintett",
        "quintette",
        "quintetto",
        "trio",
        "duo",
        "sextet",
        "sextett",
        "octet",
        "oktett",
        "nonet",
        "nonett",
        "solisti",
        "solistes",
        "solisten",
        "virtuosi",
        "musici",
        "musiciens",
        "musicians",
        "players",
        "sinfonica",
        "sinfonico",
        "sinfonicos",
        "simfonic",
        "band",
        "strings",
        "streicher",
        "streichquartett",
        "klaviertrio",
        "barockorchester",
        "barock",
        "opera",
        "oper",
        "singers",
        "voices",
        "concert",
        "concerto_",
        "collective",
        "sinfonie",
        "orkestr",
        "оркестр",
        "филармония",
        "хор",
        "квартет",
        "ансамбль",
        "baroque",
        "symphonic",
        "klangforum",
        "musica",
        "musicale",
        "musikkollegium",
        "gewandhausorchester",
        "rundfunkorchester",
        "rundfunk-sinfonieorchester",
        "radio-sinfonieorchester",
        "streichorchester",
        "jugendorchester",
        "harmonie",
        "blaserensemble",
        "brass",
        "winds",
        "harmonia",
        "sinfonieorchester_",
        "orkesteri",
        "zenekar",
        "festivalorchester",
        "opernorchester",
        "blasorchester",
        "orchester_",
        "ensembl",
        "violons",
        "philharmoniques",
        "percussions",
        "collegium_musicum",
        "bläserphilharmonie",
        "saxophones",
        "solistenensemble",
        "sinfonia_",
        "sinfoniker",
        "streichtrio",
        "streichsextett",
        "blaserquintett",
        "klavierquartett",
        "gambenconsort",
        "virtuosen",
        "philarmonic",
        "fanfare",
        "players_",
        "freunde",
        "amis",
    ]
)
CHOIR_WORDS = frozenset(
    [
        "choir",
        "chorus",
        "chor",
        "choeur",
        "choeurs",
        "coro",
        "choral",
        "chorale",
        "kantorei",
        "kammerchor",
        "singakademie",
        "domchor",
        "knabenchor",
        "rundfunkchor",
        "choristers",
        "madrigalisten",
        "singers",
        "voices",
        "vokalensemble",
        "maitrise",
        "kor",
        "koor",
        "sbor",
        "chor.",
        "sanger",
        "koret",
        "sängerknaben",
        "sangerknaben",
        "cantori",
        "cantores",
        "coral",
        "coristi",
        "schola",
        "schola_cantorum",
        "kinderchor",
        "frauenchor",
        "mannerchor",
        "хор",
        "koro",
        "kuoro",
        "chamber_choir",
        "vocalensemble",
        "frauenstimmen",
        "vox",
        "opernchor",
        "staatsopernchor",
        "oratorienchor",
        "kantorei_",
        "chorgemeinschaft",
        "bachchor",
        "motettenchor",
        "philharmonia_chorus",
        "korus",
        "chór",
        "jugendchor",
        "liederkranz",
    ]
)
ENSEMBLE_STARTS = frozenset(
    ["la", "le", "les", "il", "los", "las", "das", "die", "i", "gli", "the", "concert", "ensemble"]
)

ROLE_WORDS: dict[str, str] = {}
for _line in """
conductor: conductor cond conducting conducts conducted_by dirigent dirigentin dir direction leitung ltg musikalische_leitung chef_d'orchestre direttore direttrice director directora dirigent. dyrygent dirigiert dir. cond. direction_musicale dirigenta дирижер дирижёр dirigerer direzione director_musical musical_director conductor. dirigert kapellmeister maestro_concertatore dirigering karmester regente maestro music_director artistic_director direkcija direccion
leader: leader concertmaster konzertmeister premier_violon
chorus master: chorus_master chorus_director choreinstudierung chef_de_choeur einstudierung maestro_del_coro chef_des_choeurs choir_master choir_director
arranger: arr arranged arranged_by arrangement arrangement_ arrangeur bearbeitung bearb bearbeitet transcription transcribed transcr trans arrangiert orchestration orch orchestrated orchestrated_by orchestrator transkription arr. transcr. orch. bearb. orchestrierung orkestrace instrumentation arrangiamento arreglo трансcrip completed compl ed. edited reconstructed completed_by transcribed_by transcripción orchestriert orchestré trascrizione
ensemble: orchestra orchestre orchester ensemble band group
choir: choir chorus chor coro choeur
lyricist: lyricist text lyrics libretto words librettist texte paroles librettiste textdichter poem
producer: producer produced recording_producer tonmeister aufnahmeleitung
engineer: engineer sound_engineer balance_engineer mix mixing mastering toningenieur
composer: composer komponist compositeur compositore music musik musique compositor skladatel
""".strip().splitlines():  # noqa: E501
    _role, _, _words2 = _line.partition(":")
    for _w in _words2.split():
        ROLE_WORDS[_w.replace("_", " ").rstrip(".")] = _role

FORM_STARTS = frozenset(key.split(" ")[0] for key in FORMS)
INSTRUMENT_STARTS = frozenset(key.split(" ")[0] for key in INSTRUMENTS)
"""First words of forms and instruments, so that most words are passed by with one look-up."""

SECTIONS.update({fold(key): value for key, value in SECTIONS.items()})
ORDINALS.update({fold(key): number for key, number in ORDINALS.items()})
COUNTS.update({fold(key): number for key, number in COUNTS.items()})
ROLE_WORDS.update({fold(key): value for key, value in ROLE_WORDS.items()})
ENSEMBLE_WORDS = frozenset(fold(word) for word in ENSEMBLE_WORDS)
CHOIR_WORDS = frozenset(fold(word) for word in CHOIR_WORDS)
MOVEMENT_WORDS = frozenset(fold(word) for word in MOVEMENT_WORDS)
ACT_WORDS = frozenset(fold(word) for word in ACT_WORDS)
SCENE_WORDS = frozenset(fold(word) for word in SCENE_WORDS)
PART_WORDS = frozenset(fold(word) for word in PART_WORDS)
TEMPO_WORDS = frozenset(fold(word) for word in TEMPO_WORDS)
STRONG_TEMPO = frozenset(fold(word) for word in STRONG_TEMPO)
AND_WORDS = frozenset(fold(word) for word in AND_WORDS)
FOR_WORDS = frozenset(fold(word) for word in FOR_WORDS)
TEMPO_STARTS = frozenset(fold(word) for word in TEMPO_STARTS)
