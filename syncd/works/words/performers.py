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
zenekar ансамбль квартет оркестр филармония хор
"""
)
CHOIR_WORDS = word_set(
    """
bachchor cantores cantori choeur choeurs choir chor chor. choral chorale chorgemeinschaft
choristers chorus coral coristi coro domchor frauenchor frauenstimmen jugendchor kammerchor
kantorei kinderchor knabenchor koor kor koret koro korus kuoro liederkranz madrigalisten maitrise
mannerchor motettenchor opernchor oratorienchor rundfunkchor sanger sängerknaben sbor schola
singakademie singers staatsopernchor vocalensemble voices vokalensemble vox хор
"""
)
ENSEMBLE_STARTS = word_set("concert das die ensemble gli i il la las le les los the")
"""First words of names that are ensembles' rather than persons'."""

ROLE_WORDS = dictionary(
    """
conductor: conductor cond conducting conducts conducted_by dirigent dirigentin dir direction
    leitung ltg musikalische_leitung chef_d'orchestre direttore direttrice director directora
    dyrygent dirigiert direction_musicale dirigenta дирижер dirigerer direzione director_musical
    musical_director dirigert kapellmeister maestro_concertatore dirigering karmester regente
    maestro music_director artistic_director direkcija direccion
leader: leader concertmaster konzertmeister premier_violon
chorus master: chorus_master chorus_director choreinstudierung chef_de_choeur einstudierung
    maestro_del_coro chef_des_choeurs choir_master choir_director
arranger: arr arranged arranged_by arrangement arrangeur bearbeitung bearb bearbeitet
    transcription transcribed transcr trans arrangiert orchestration orch orchestrated
    orchestrated_by orchestrator transkription orchestrierung orkestrace instrumentation
    arrangiamento arreglo completed compl ed edited reconstructed completed_by transcribed_by
    transcripción orchestriert orchestré trascrizione
ensemble: orchestra orchestre orchester ensemble band group
choir: choir chorus chor coro choeur
lyricist: lyricist text lyrics libretto words librettist texte paroles librettiste textdichter
    poem
producer: producer produced recording_producer tonmeister aufnahmeleitung
engineer: engineer sound_engineer balance_engineer mix mixing mastering toningenieur
composer: composer komponist compositeur compositore music musik musique compositor skladatel
"""
)
"""Role by word or phrase."""
