"""Words by which performers are told apart: names of ensembles and choirs, roles.

The instruments that they play are in ``instruments.py``.
"""

from syncd.works.words.tables import dictionary, word_set

ENSEMBLE_WORDS = word_set(
    """
academy accademia akademie amis ansambel ansambl band barocchisti barock barockorchester baroque
blaserensemble bläserphilharmonie blaserquintett blasorchester brass camerata capella cappella
chapelle collective collegium concert consort cuarteto duo ensembl ensemble fanfare
festivalorchester filarmonica filarmonico filharmonia filharmonie filharmonien filharmonikerna
filharmonikerne filharmoniky filharmoniska filharmoniske freunde gambenconsort gewandhausorchester
harmonia harmonie hofkapelle jugendorchester kamarazenekar kammerorchester kammerphilharmonie
kapelle klangforum klavierquartett klaviertrio kvartet kvarteto kvartetti kvintet kvinteto kwartet
musica musicale musicanti musici musicians musiciens musikkollegium nonet nonett octet oktett oper
opera opernorchester orchester orchestr orchestra orchestrale orchestre orkest orkestar orkester
orkesteri orkestr orkiestra orquesta orquestra percussions philarmonic philharmonia philharmonic
philharmonie philharmoniker philharmonique philharmoniques philharmonisch philharmonisches players
quartet quarteto quartett quartetto quatuor quintet quinteto quintett quintette quintetto
radio-sinfonieorchester rundfunk-sinfonieorchester rundfunkorchester saxophones sextet sexteto
sextett simfonic sinfonia sinfoniaorkesteri sinfonica sinfonico sinfonicos sinfonie
sinfonieorchester sinfonietta sinfoniker singers solisten solistenensemble solistes solisti
staatskapelle staatsorchester streicher streichorchester streichquartett streichsextett
streichtrio strings symfonicky symfonieorkest symfonikerna symfonikerne symfoniorkester symphonic
symphonieorchester symphoniker symphony trio violons virtuosen virtuosi voices vonosnegyes winds
symfoni kapel kapell yhtye egyuttes soubor zespol slagwerkgroep slagwerkensemble
slagverksensemble percussiegroep
blazersensemble strijkersensemble strijkkwartet blaaskwintet капелла камерата квинтет трио
коллегиум солисты виртуозы filharmonii filharmonia filharmonicy kameralisci
simfonica orchestra orkestar simfonijski gudacki kvartetas orkestras orkestris kamerorkestris
senfoni orkestrasi filarmoni gakudan kangengakudan kokyo
zenekar συμφωνικη ορχηστρα φιλαρμονικη κουαρτετο ансамбль квартет оркестр филармония хор
"""
)
CHOIR_WORDS = word_set(
    """
bachchor cantores cantori choeur choeurs choir chor chor. choral chorale chorgemeinschaft
choristers chorus coral coristi coro domchor frauenchor frauenstimmen jugendchor kammerchor
kantorei kinderchor knabenchor koor kor koret koro korus kuoro liederkranz madrigalisten maitrise
mannerchor motettenchor opernchor oratorienchor rundfunkchor sanger sängerknaben sbor schola
monks monche monchsschola moines monjes monaci nuns nonnen moniales choralschola
corul corala coristi pjevacki zbor choras koris koras korosu koro gasshodan хорът χορωδια
singakademie singers staatsopernchor vocalensemble voices vokalensemble vox хор
"""
)
ENSEMBLE_STARTS = word_set("concert concerto das die ensemble gli i il la las le les los the")
"""First words of names that are ensembles' rather than persons'."""

ROLE_WORDS = dictionary(
    """
conductor: joht johdolla kapellm karm vez dirig kond дирижёр дир
    지휘자 指揮 指揮者 指挥 指挥者 指揮・編曲 지휘 johtaa johtaja ridi diriguje prowadzi dirigeert
    onder_leiding_van olv vezenyel dirigir dyr diriguja под_управлением dirigerar conductor cond
    conducting conducts conducted_by dirigent dirigentin dir direction
    leitung ltg musikalische_leitung chef_d'orchestre direttore direttrice director directora
    dyrygent dirigiert direction_musicale dirigenta дирижер dirigerer direzione director_musical
    musical_director dirigert kapellmeister maestro_concertatore dirigering karmester regente
    maestro music_director artistic_director direkcija direccion conductress directrice
    dirigente dirigentka dirigentica dirigentinnen dyrygentka cheffe cheffe_d'orchestre
    direttore_d'orchestra direttrice_d'orchestra directeur_musical directrice_musicale
    director_de_orquesta directora_de_orquesta directora_musical diretora maestra maestrina
    maestra_concertatrice kapellmeisterin leiter leiterin musikalischer_leiter
    musikalische_leiterin kunstlerische_leiterin kunstlerische_leitung gesamtleitung
    dirijor sef orkestra_sefi sef_orkestra dirigents dirigentas diriguents stjornandi диригентка
    διευθυνση μαεστρος διευθυντης_ορχηστρας
    kapellimestari диригент дирижирует sefdirigent chefdirigent chefdirigentin shef-dirigent
leader: コンサートマスター konzertmeister leader concertmaster konzertmeister premier_violon
    konzertmeisterin concertmistress
    primarius primaria primo_violino konsertmastare koncertmistr концертмейстер
chorus master: 合唱指揮 合唱指挥 chorus_master chorus_director choreinstudierung chef_de_choeur
    einstudierung
    maestro_del_coro chef_des_choeurs choir_master choir_director chorleiter chorleiterin
    chorus_mistress choir_mistress cheffe_de_choeur cheffe_des_choeurs chef_de_chant
    maestra_del_coro maestro_de_coro directora_del_coro director_del_coro sbormistr sbormistryne
    хормейстер korleder korledare koorleider chormeister chormeisterin karnagy kuoronjohtaja
arranger: 編曲 改编 編曲者 bewerker sovittaja hangszereles upravil arr arranged arranged_by
    arrangement arrangeur bearbeitung bearb bearbeitet
    transcription transcribed transcr trans arrangiert orchestration orch orchestrated
    orchestrated_by orchestrator transkription orchestrierung orkestrace instrumentation
    arrangiamento arreglo completed compl ed edited reconstructed completed_by transcribed_by
    transcripción orchestriert orchestré trascrizione arrangeurin arrangeuse bearbeiter
    bearbeiterin arrangiatore arrangiatrice arreglista arregladora orchestrateur orchestratrice
    orchestrierung orchestratore transcripteur transcriptrice trascrittore trascrittrice
    instrumentierung bewerking bearbetning sovitus обработка аранжировка переложение оркестровка
    opracowanie uprava aranzer
ensemble: 管弦楽 管弦乐 演奏 乐队 orchestra orchestre orchester ensemble band group
choir: 合唱 합창 choir chorus chor coro choeur
lyricist: 作詞 作词 詩 歌词 tekstdichter lyricist text lyrics libretto words librettist texte
    paroles librettiste textdichter
    poem textdichterin librettistin librettista dichter dichterin paroliere слова стихи либретто
producer: producer produced recording_producer tonmeister aufnahmeleitung
    produzent produzentin producteur productrice produttore produttrice productor productora
    tonmeisterin продюсер
engineer: engineer sound_engineer balance_engineer mix mixing mastering toningenieur
    toningenieurin ingenieur_du_son звукорежиссер
composer: 作曲 作曲者 作曲家 composer komponist compositeur compositore music musik musique
    compositor skladatel
    komponistin compositrice compositora skladatelka kompozytor kompozytorka композитор componist
    tonsatterin saveltaja zeneszerzo музыка
"""
)
"""Role by word or phrase."""

PLAYERS = dictionary(
    """
piano: 피아니스트 pianist pianiste pianistin pianista pianistka pianistinnen klavierspielerin
    пианист пианистка klavirista klaviristka zongorista pianisti
fortepiano: hammerklavierspielerin fortepianist fortepianistin
harpsichord: 하프시코드 쳄발로 cembalistin cembalista harpsichordist claveciniste clavecinista
    clavicembalista klawesynista klawesynistka cembalistka клавесинист клавесинистка
organ: 오르간 organistin organista organistka органист органистка organisti organisten orgelspieler
violin: geigerin violinistin violinista violoniste violinistka skrzypek skrzypaczka скрипач
    скрипачка houslista houslistka viulisti violonistin
viola: 비올라 bratschistin altiste violista violistin altowiolista altowiolistka альтист альтистка
    bratschistka
cello: cellistin violoncellistin violoncelliste violoncellista violonchelista wiolonczelista
    wiolonczelistka виолончелист виолончелистка cellista sellisti
double bass: 더블베이스 콘트라베이스 kontrabassist kontrabassistin contrebassiste contrabbassista
viola da gamba: gambist gambistin gambiste gambista
lute: lautenist lautenistin luthiste liutista
guitar: 기타 gitarrist gitarristin guitariste guitarrista chitarrista gitarzysta гитарист гитаристка
harp: 하프 harfenist harfenistin harpiste arpista harfistka арфистка
flute: 플루트 flotist flotistin flautista flutiste flecista флейтист флейтистка fletnista fletnistka
recorder: blockflotist blockflotistin
oboe: 오보에 oboistin hautboiste oboista oboistka гобоист гобоистка
clarinet: 클라리넷 klarinettistin clarinettista clarinettiste clarinetista klarnecista кларнетист
bassoon: 바순 fagottistin bassoniste fagottista fagotista фаготист
horn: 호른 hornistin corniste cornista валторнист
trumpet: 트럼펫 trompeter trompeterin trompettiste trombettista trompetista trebacz трубач
trombone: posaunistin tromboniste trombonista
percussion: 타악기 schlagzeuger schlagzeugerin percussionniste percussionista
voice: rodd veu singer vocalist vocalistin sangerin saengerin sangerinnen chanteur chanteuse
    cantante cantatrice cantora piosenkarka spiewaczka певец певица zpevacka laulaja zangeres
    sangerinde sangerska
soprano: 소프라노 sopranistin sopraniste sopranistka сопранистка
mezzo-soprano: 메조소프라노 mezzosopranistin mezzo-sopranistin mezzosopranistka
alto: 알토 alts altas altto altistin altistka contraltiste контральтистка
countertenor: countertenorist contretenoriste
tenor: 테너 tenors tenorist tenorista tenoriste tenorsolist
baritone: 바리톤 baritonist barytonist barytoniste baritonista
bass: 베이스 baix bassolist
horn: corn valtorna
flute: flaut
"""
)
"""Instrument or voice by what its players are called, women and men, in lists of performers."""

SOLOISTS = word_set(
    """
    soloist soloists solist solisten solistin solistinnen soliste solistes solista solisti soliste
    独奏 独奏者 独唱 ソロ ソリスト 独奏・指揮
    solistka solistky солист солистка солисты solisti solister solisty szolista
    """
)
"""Who plays or sings a solo part, whatever it is."""
