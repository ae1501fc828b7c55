"""Forms of works with their English cataloguing names, and what kind of form each is.

The words are those of any dictionary of musical terms; the English forms are the general forms of
published cataloguing conventions. How a title is made of them is decided in ``worktitle``.
"""

from syncd.works.words.tables import named_dictionary, word_set

FORMS = named_dictionary(
    """
Symphony: symphonie sinfonie symphonien sinfonien symphonies symfonie symfonia симфония simfonija
    simfoniya szimfonia symfoni sinfoni symphonia sinfonía sinfonias sinfonieen simphonie sinfonje
    symfonien symfoniya
    συμφωνια сімфонія симфонія
Sinfonia: sinfonias
Sinfonia concertante: sinfonie_concertante symphonie_concertante concertante_symphony
    konzertante_sinfonie sinfonie_concertanti sinfonia_concertanta symphonia_concertante
Sinfonietta: simfonietta
Chamber Symphony: kammersymphonie kammersinfonie symphonie_de_chambre sinfonia_da_camera
    камерная_симфония kamernaya_simfoniya
Concerto: konzert konzerte concertos concerti konzerten koncert kontsert концерт concierto
    conciertos konsert koncerty concertes kontserto koncerto koncertas konserto kontserty
    versenymu
    κοντσερτο κονσερτο concerten koncertai
Concerto grosso: concerti_grossi concertos_grossos concertos_grossi
Concertino: concertinos konzertino
Double Concerto: doppelkonzert concerto_double doppio_concerto dvojkoncert
Triple Concerto: tripelkonzert triple-concerto triplo_concerto concerto_triple trojkoncert
    тройной_концерт
Concert Piece: konzertstuck konzertstueck concertstuck morceau_de_concert piece_de_concert
Sonata: sonate sonaten sonates sonatas соната sonaty szonata sonat sonater sonaatti сонаты sonatae
    σονατα sonatele
Sonatina: sonatine sonatinen sonatines sonatinas сонатина
Trio Sonata: triosonate sonate_en_trio sonata_a_tre trio-sonata triosonaten sonata_a_3
    trio_sonatas sonates_en_trio trio-sonate
Church Sonata: kirchensonate sonata_da_chiesa sonate_d'eglise epistle_sonata epistelsonate
Duo: duos duetto duetti
Duet: duett duets duette
Trio: trios tercet tersett трио
    τριο тріо
Quartet: quartett quartette quatuor quartetto kvartet kwartet cuarteto kvartett квартет quartets
    quatuors quartetti kvartets cuartetos quarteto kvartetas kvartetto negyes
    κουαρτετο cvartet cvartetul dortlusu
Quintet: quintett quintette quintetto kvintet kwintet quinteto kvintett квинтет quintets quintetti
    quintettes otos kvintetto
    κουιντετο cvintet
Sextet: sextett sextuor sestetto sekstet sexteto секстет sextets sextette
Septet: septett septuor settimino septeto септет
Octet: oktett octuor ottetto oktet octeto октет octett
Nonet: nonett nonetto noneto nonette
Suite: suiten suites suita сюита sviit suity sarja szvit syuita svit
    σουιτα сюїта
Partita: partiten partite partitas partia parthia партита
Ordre: ordres
Prelude: preludium preludio praeludium praludium preludes praludien прелюдия прелюд preludia
    preludi preludij prelyudiya preludien praeludia praeludien preludy preludios preluden
    πρελουδιο preludiul прелюдія
Chorale Prelude: choralvorspiel choralvorspiele chorale_preludes prelude_de_choral preludio_corale
    preludio_al_corale preludes_de_choral choralbearbeitung
Fugue: fuga fuge fugues fugen фуга fughe fugas fuug fugy
    φουγκα
Fughetta: fughetten fughette
Toccata: tokkata toccaten toccate toccatas tokata токката
Fantasia: fantasie phantasie fantaisie fantasy fantazie fantazja фантазия fantasias fantasien
    phantasien fantaisies fantasies fantazia phantasy fantasi
Étude: etudes etuden etuede study studies studio studi etiuda etiudy estudio estudios этюд этюды
    etiudes etyd etyder etyudy tanulmany etyud
Concert Étude: etude_de_concert konzertetude etudes_de_concert konzertetuden concert_etudes
Nocturne: nocturnes notturno notturni nokturn nokturno nocturno ноктюрн nokturny nocturnos
    nokturne ноктюрны
    νυχτερινο nocturna
Ballade: ballada ballades balladen ballata баллада balada ballady baladas
    μπαλαντα
Scherzo: scherzi scherzos скерцо scherza
Impromptu: impromptus improvviso improvvisi экспромт
Mazurka: mazurkas mazurken mazurek mazurki мазурка masurka mazourka mazurche
    μαζουρκα
Polonaise: polonaisen polonaises polacca polonez polonesa polonezy полонез polonesas polonäse
    polonaise-
Waltz: waltzes walzer valse valses valzer walc walce vals valcik вальс keringo valsa
    βαλς
Rondo: rondos рондо rondi
Variations: variationen variazioni variaciones вариации variace wariacje variacoes veranderungen
    variaties varaitions variationer muunnelmat
    παραλλαγες варіації variatiuni
Serenade: serenaden serenades serenata serenada серенада serenad szerenad serenatas
Divertimento: divertimenti divertimentos дивертисмент
Cassation: kassation cassazione
Overture: ouverture ouverturen obertura uvertura увертюра predehra uwertura ouvertures overtures
    ouvertuere nyitany uvertyura abertura ouvertyr overtura
    εισαγωγη
Mass: messe messa missa misa mse msza месса messen masses mise
    λειτουργια
Requiem: requiems requieme реквием rekviem
    ρεκβιεμ
Magnificat: magnificats
Te Deum:
Stabat Mater:
Gloria:
Cantata: kantate cantate kantaten cantates cantatas кантата kantata
Oratorio: oratorium oratorios oratoria
Motet: motette motetten motets mottetto motetes motetti moteto
Madrigal: madrigale madrigaux madrigali madrigals madrigaly
Psalm: psaume salmo psalmus zalm псалом psaumes psalms salmi
Anthem: anthems
Rhapsody: rhapsodie rapsodie rapsodia рапсодия rhapsodies rhapsodien rapszodia rapsodija
    ραψωδια rapsodii
Romance: romanze romanza romances romanzen романс romans romanser
Bagatelle: bagatellen bagatelles bagatella bagatelas багатель bagatela
Barcarolle: barcarola barkarole barkarola barcarolla баркарола
Berceuse: ninna_nanna kolysanka ukolebavka колыбельная
Capriccio: kapriccio capricci capriccios
Caprice: caprices kaprys kaprysy каприс capricho caprichos
Elegy: elegie elegia elegies элегия
Humoresque: humoreske humoresken humoresques humoreska юмореска
Intermezzo: intermezzi intermezzos интермеццо
Invention: inventionen inventio inventions invenzione invenzioni инвенция inventiones invence
    inwencja invenciones
March: marsch marche marcia marcha marches marsche марш pochod marsz marce
Dance: tanz danse danza dances tanze danses tanec taniec танец danzas danze taenze tance танцы
Symphonic Poem: sinfonische_dichtung symphonische_dichtung poeme_symphonique poema_sinfonico
    tondichtung tone_poem symfonicka_basen poemat_symfoniczny симфоническая_поэма
Symphonic Dances: symphonische_tanze sinfonische_tanze danses_symphoniques danze_sinfoniche
    симфонические_танцы simfonicheskie_tantsy
Song: lied piesn pisen песня cancion sang
Songs: lieder melodies pisne piesni песни canciones gesange gesaenge
Minuet: menuett menuet menuetto minuetto menueto menuette menuets minuets менуэт minue minuetti
    menuettes menuettos
Gavotte: gavota gavotta gavotten gavottes
Sarabande: sarabanda
Gigue: giga
Allemande: allemanda
Courante: corrente
Bourrée: bourrees
Chaconne: ciaccona chacona чакона
Passacaglia: passacaille passacalle passacaglie
Canzona: canzone canzoni canzonas kanzone canzon
Ricercar: ricercare ricercata ricercars tiento tientos ricercari
Voluntary: voluntaries
Pavane: pavana pavan pavans pavanes
Galliard: gagliarda gaillarde
Pastorale:
Hymn: hymne inno hymnus
Ode:
Tarantella: tarantelle
Bolero:
Ecossaise: ecossaisen ecossaises
Ländler: laendler
German Dance: deutscher_tanz german_dances deutsche_tanze
Contredanse: kontretanz contretanze contredanses kontretanze contradanza
Piece: stuck stueck pezzo utwor skladba pieza пьеса stuk
Pieces: stucke stuecke pezzi utwory skladby piezas пьесы
Piano Piece: klavierstuck klavierstueck klavierstuk
Piano Pieces: klavierstucke klavierstuecke
Album Leaf: albumblatt feuillet_d'album
Album Leaves: albumblatter
Lesson: lessons
Hungarian Dance: ungarischer_tanz danse_hongroise
Hungarian Dances: ungarische_tanze danses_hongroises
Hungarian Rhapsody: ungarische_rhapsodie rhapsodie_hongroise rapsodia_ungherese rapsodia_hungara
    венгерская_рапсодия rapsodia_ungarese magyar_rapszodia
Slavonic Dance: slawischer_tanz danse_slave slovansky_tanec
Slavonic Dances: slawische_tanze danses_slaves slovanske_tance slavische_tanze славянские_танцы
Brandenburg Concerto: brandenburgisches_konzert brandenburgische_konzerte concert_brandebourgeois
    concerto_brandebourgeois concerto_brandeburghese concierto_de_brandeburgo
    concerts_brandebourgeois concertos_brandebourgeois braniborsky_koncert koncert_brandenburski
    brandenburg_concertos brandenburg_concerti бранденбургский_концерт concerti_brandeburghesi
    concierto_de_brandemburgo
Orchestral Suite: orchestersuite suite_pour_orchestre orchestral_suites orchestersuiten
    orkestsuite orkestersuite suite_per_orchestra
Cello Suite: cellosuite cellosuiten cello_suites
French Suite: franzosische_suite suite_francaise french_suites suites_francaises
    franzoesische_suite franzosische_suiten
English Suite: englische_suite suite_anglaise english_suites suites_anglaises englische_suiten
"""
)
"""English form by word or phrase of up to three words."""

for _word in ("song", "sang", "dance", "gloria", "piece", "lesson", "studies", "study", "studio"):
    FORMS.setdefault(_word, _word.capitalize())

FORM_STARTS = frozenset(key.partition(" ")[0] for key in FORMS)
"""First words of forms, so that most words are passed by with one look-up."""

PLURALS = word_set(
    """
anthems bagatelas bagatellen bagatelles baladas balladen ballades bourrees brandenburg_concertos
cantatas cantates canzonas canzoni capricci capriccios caprices caprichos cello_suites cellosuiten
chansons chorale_preludes concert_etudes concerti concertinos concertos conciertos contredanses
cuartetos dances danses danzas divertimentos duets duetti duos ecossaisen ecossaises elegies
englische_suiten english_suites estudios etuden etudes fantaisies fantasias fantasien fantasies
franzosische_suiten french_suites fugas fugen fughetten fugues gavotten gavottes german_dances
gesange humoresken humoresques hungarian_dances impromptus intermezzi intermezzos inventionen
inventions kantaten klavierstucke konzerte konzerten konzertetuden kvartets lessons lieder
madrigali madrigals marches marsche mazurkas mazurken melodies menuets menuettes menuettos messen
minuets motets motetten nocturnes nocturnos oratorios orchestersuiten orchestral_suites ordres
ouverturen ouvertures overtures partitas partiten pavanes pavans pezzi phantasien piano_pieces
pieces piesni piezas polonaisen polonaises polonesas praludien preluden preludes preludios psalms
psaumes quartets quartetti quatuors quintets quintettes quintetti requiems rhapsodien rhapsodies
ricercari ricercars romances romanzen rondos scherzi scherzos serenaden serenades serenatas
sextets sinfonias sinfonien slavonic_dances sonatas sonaten sonates sonatinas sonatinen sonatines
songs stucke suiten suites symfonien symphonien symphonies tanze toccatas toccaten trio_sonatas
trios triosonaten valses waltzes ноктюрны песни прелюдии симфонии сонаты этюды
"""
)
"""Words and phrases that name several works of a form."""


def _forms(text: str) -> frozenset[str]:
    return frozenset(form.strip() for form in text.split("|"))


SET_FORMS = _forms(
    """
Étude | Concert Étude | Prelude | Impromptu | Bagatelle | Intermezzo | Capriccio | Caprice |
Piece | Pieces | Piano Piece | Piano Pieces | Song | Songs | Invention | Dance | Hungarian Dance
| Hungarian Dances | Slavonic Dance | Slavonic Dances | German Dance | Ländler | Ecossaise |
Contredanse | Album Leaf | Album Leaves | Humoresque | Romance | March | Minuet | Duet |
Madrigal | Lesson
"""
)
"""Forms whose pieces under one opus are movements of the set when the set is there."""

SECTION_FORMS = _forms(
    """
Minuet | Gavotte | Sarabande | Gigue | Allemande | Courante | Bourrée | Gloria | Dance | March |
Song | Intermezzo | Scherzo | Rondo | Fugue | Prelude | Romance | Duet | Trio | Overture |
Capriccio | Variations | Serenade | Hymn | Chaconne | Passacaglia | Pavane | Galliard | Waltz |
Polonaise | Barcarolle | Berceuse | Nocturne | Ballade | Toccata | Fantasia | Elegy | Humoresque
| Psalm | Motet | Pastorale | Tarantella | Impromptu | Canzona | Étude | Caprice | Bolero |
Ländler | Sinfonia | Fughetta | Invention | Piece | Duo | Quartet | Quintet | Sextet | Mazurka |
Notturno | Bagatelle | Rhapsody | Ode | Ricercar | Cantata | Anthem | Madrigal | Divertimento
"""
)
"""Forms that are names of movements too: alone they do not make a title the title of a work."""
