"""Instruments and voices, and the adjectives made of them, with their English names.

The words are those of any dictionary of musical terms. Compounds with a form ("Violinkonzert") are
taken apart in ``compounds.py``.
"""

from syncd.works.words.tables import dictionary, named_dictionary, word_set

INSTRUMENTS = named_dictionary(
    """
piano: vleugel flygel flygeln ピアノ 钢琴 鋼琴 피아노 klavirni_kridlo pianino pianos klavier
    klaviere pianoforte pf pno piano-forte fortepjano klavir fortepian
    фортепиано рояль zongora piano_solo p-no kl pianist pianiste pianistin pianista klaviir klaver
    klavier_solo pfte
    pian piyano pijano пиано фортепіано πιανο fortepijonas klavieres glasovir
fortepiano: フォルテピアノ fortepiano hammerklavier hammerflugel pianoforte_d'epoca
    pianoforte_historique hammerfluegel
harpsichord: klavecimbel klavecinist klaveciniste klavesin klavesiini kielsoitin cembal チェンバロ
    羽管键琴 大键琴 spinet spinett klavecinista cembalo clavecin clavicembalo cembalo_solo cemb
    klavecin cembalist harpsichordist
    claveciniste clave klawesyn clavicimbel клавесин hpd csembalo hpschd
    klavsen klavessiin klavesins klavesinas τσεμπαλο clavicembal semball чембало
clavichord: clavicorde clavicordo klavichord
organ: urut kerkorgel kyrkorgel オルガン 管风琴 管風琴 orgelet orgeln orgel orgue organo org
    varhany organy orgona орган organist organiste orgel_solo
    orgelpositiv orgao organista
    orga orgulje orgle vargonai ergeles οργανο оргуље
harmonium: physharmonika
celesta: celeste
violin: ヴァイオリン バイオリン 小提琴 바이올린 violen fiolinist violine violinen violins violon
    violons violino violini vn vl vln violonist violonista
    скрипка skripka housle skrzypce hegedu geige violinist violiniste violin_solo skripki violines
    fiol fiolin viool viulu violinista solo_violin vlns housli скрипки smuikui violino_solo
    vioara violina violi keman viiul vijole smuikas fidla цигулка виолина βιολι husle
viola: ヴィオラ ビオラ 中提琴 bracsa bratsj altova_viola bratsche bratschen alto_viola violas va
    vla альт altowka bratschist violist alti altviool
    altviulu
    viyola vioola βιολα altfiol alttoviulu lagfidla виола
cello: チェロ 大提琴 첼로 violoncel celo violonsello violoncello violoncelle violoncelli vc vlc
    violoncelles cellos celli violoncell violoncelo
    violonchelo виолончель violonchel wiolonczela cellist violoncelliste violoncellos gordonka
    cselló solo_cello sello violoncellist violoncellista виолончели violoncello_solo
    viyolonsel viyolonsello tsello cells violoncele виолончело віолончель чело βιολοντσελο τσελο
double bass: contrabas kontrabasso nagybogo コントラバス 低音提琴 kontrabasisti kontrabass
    contrebasse contrabbasso contrabass cb db контрабас kontrabas double-bass
    contrabajo basse_de_violon string_bass double_basses contrabaixo
    contrabaix kontrbas kontrabosas kontrabassi κοντραμπασο
viola da gamba: ヴィオラ・ダ・ガンバ gambista viola_de_gamba gambo gambe gamba viole_de_gambe
    bass_viol viol viols violas_da_gamba viole
    viole_da_gamba basse_de_viole viola_de_gamba treble_viol
viola d'amore: viole_d'amour
alto flute: flute_in_g flute_en_sol altflote flute_alto flauto_contralto flauta_contralto altfluit
    altflojt altflojte altfloyte alttohuilu
bass flute: bassflote flute_basse flauto_basso
contrabassoon: kontrafagott contrebasson controfagotto contrafagot kontrafagot double_bassoon
    contrafagote
bass trombone: bassposaune trombone_basse trombone_basso bastrombone
contrabass clarinet: kontrabassklarinette clarinette_contrebasse
e-flat clarinet: es-klarinette petite_clarinette
flugelhorn: flugelhorn fluegelhorn bugle
euphonium: euphonion
prepared piano: prapariertes_klavier piano_prepare pianoforte_preparato
toy piano: spielzeugklavier
electric guitar: e-gitarre elektrische_gitarre guitare_electrique chitarra_elettrica
cimbalom: zymbal cymbalum cimbal
zither: cithare
banjo:
koto:
shakuhachi:
shamisen:
biwa:
erhu:
pipa:
guzheng:
electronics: live_electronics live-electronics elektronik live-elektronik electronique
    live-elektronica elektroniikka
tape: tonband bande zuspielband
synthesizer: synthesiser synthetiseur
glockenspiel:
xylophone: xylophon
castanets: castanuelas castagnettes castagnetten kastagnetten
serpent:
shawm: schalmei chalemie bombarde
sackbut: saqueboute
dulcian: dulzian
crumhorn: krummhorn cromorne
hurdy-gurdy: drehleier vielle_a_roue
nyckelharpa:
kantele:
hardanger fiddle: hardingfele hardanger_fiddle
fiddle: vielle fidel
chalumeau:
lirone: lira_da_gamba
violone:
virginals: virginal virginalen
psaltery: psalterium
dulcimer: hackbrett
duduk:
violoncello piccolo:
violoncello da spalla:
concertina: konzertina
bandura: бандура
baryton: barytontrio
arpeggione:
lute: リュート 鲁特琴 luuttu laute luth liuto loutna lutnia лютня lutenist laud luit alaud
    alaude
theorbo: theorbe tiorba chitarrone tiorbe archlute arciliuto
vihuela:
guitar: ギター 吉他 gitarre guitare chitarra guitarra kytara gitara gitar guitars gtr гитара
    guitarist
    gitarren guitares guitarras chitarre gitarr gitaar kitara guitarrista gitarrist chitarrista
    chitara kitarr китара гітара κιθαρα violao
mandolin: マンドリン mandoliini mandoline mandolino mandolinen mandolini mandolins
    μαντολινο
harp: ハープ 竖琴 豎琴 harppu harpa harfe harpe arpa harfa harps арфа harfen harpist harpes harpiste
    харфа αρπα
flute: dwarsfluit tvaerflojte flojte floyte フルート 长笛 長笛 pikkuhuilu tverrfloyte flote floete
    flutes fluegelflote traversflote flauto flauti fl flauta fletna flet флейта
    querflote flutist flutiste traverso flotist fluit flautas flautist huilu flojt fuvola
    flauta_travesera transverse_flute flotisten floten
    flavta flut floot fleita φλαουτο флаута
piccolo: pikkoloflote ottavino piccoloflote flautino
recorder: blokfluit blokflojte blokkfloyte nokkahuilu flet_prosty furulya リコーダー
    zobcova_fletna blockflojt blockflote blockfloete flute_a_bec flauto_dolce flauto_diritto
    blockfloten recorders
    zobcova_fletna flauta_dulce
oboe: オーボエ 双簧管 雙簧管 oboista obue hautbois oboen oboes oboi ob hoboj oboj гобой oboist
    hobo oboe_solo hautboiste
    oboa obua obojus обоа обой ομποε
oboe d'amore: hautbois_d'amour
english horn: englischhorn cor_anglais corno_inglese eng_hn englisch_horn
clarinet: クラリネット 单簧管 單簧管 klarinetist klarinette clarinette clarinetto clarinetti
    klarinetten clarinets cl klarinet klarnet
    кларнет clarinete clarinetist klarinettist clarinettiste clarinettes klarinetti klarinett clt
    clarinettist clarinet_solo
    klarnete klarnetas кларінет κλαρινετο кларинет
basset clarinet: bassettklarinette clarinette_de_basset
basset horn: bassetthorn cor_de_basset corno_di_bassetto bassetthorner
bass clarinet: bassklarinette clarinette_basse
bassoon: ファゴット 巴松 巴松管 大管 fagotti fagotist fagott fagotte basson fagotto fagotti fg bn
    fagot фагот bassoons fagottist bassoniste
    bassons fagoten
    fagote fagots fagotas φαγκοτο
horn: hoorn valthorn valdhorn waltornia kayratorvi ホルン 圆号 圓號 natuurhoorn hörner horns
    waldhorn cor cors corno corni hn lesni_roh rog валторна french_horn hornist
    corniste trompa corno_da_caccia naturhorn waldhorner
    metsasarv mezrags korno валдхорна κορνο
trumpet: trumpetti trombita トランペット 小号 小號 trompete trompeten trompette tromba trombe tp
    trubka trabka труба trumpets trompettes
    trompeta trumpeter trompeter tpt trompettiste clarino trompet
    trobenta trimitas тромпет τρομπετα
cornet: cornet_a_pistons kornett
cornett: cornetto zink cornetti
trombone: bazuin pasuuna basun harsona トロンボーン 长号 posaune posaunen tromboni tbn trombon
    puzon тромбон trombones posaunist tromboniste
    pozoun pozauna
tuba:
saxophone: saxofoon saksofon saksofoni szaxofon サクソフォン サックス 萨克斯 saxophon saxofono
    saxofon sassofono saxophones sax саксофон alto_saxophone altsaxophon
    saxophone_alto tenor_saxophone soprano_saxophone saxophonist saxophoniste
    saxofone saksofonas baritone_saxophone
percussion: lyomasoittimet slagtoj slagtoy utohangszerek ütőhangszerek パーカッション 打楽器
    打击乐 打擊樂 slagverker perkusja schlagzeug percussions percussioni perc schlagwerk perkusja
    ударные bici percusion
    percussionist slagwerk slagverk
    percutie udaraljke tolkala percussio percussao vurmali lookpillid sitaminstrumenti musamieji
    ударні удараљке κρουστα
timpani: ティンパニ 定音鼓 patarummut pauker pauken timbales pauke kettledrums timpano
marimba: marimbaphon
vibraphone: vibraphon
glass harmonica: glasharmonika glass_armonica
accordion: accordeonist harmonikka dragspel trekkspill アコーディオン 手风琴 harmonika akkordeon
    accordeon fisarmonica bayan bajan баян accordeoniste akordeon
    acordeon acordeao akordeonas акордеон ακορντεον
bandoneon: bandonion
ondes martenot: ondes
theremin:
strings: strijkers 弦乐 弦楽 streicher cordes archi cuerdas cuerda cordas smyczki smycce струнные
    strijkers stråkar
orchestra: orchester orchestre orkester orchestr orkiestra orquesta orkest оркестр orkestrom
    orkestras zenekar orkesteri orkestr оркестром orquestra orchestrou orkiestre
basso continuo: continuo generalbass basse_continue bc
voice: zang sang enek spiew zpev laulu 声楽 歌 歌手 stimme voix voce singstimme gesang голос hlas
    glos voz chant canto vocals
    φωνη balss balsas haal spev
soprano: ソプラノ 女高音 sopranist sopran sopraan сопрано sop soprani s sopranistin sopranos
    szopran sopraani sopranista
    boy_soprano knabensopran
    soprana sopraano soprans sopranas сопран σοπρανο
mezzo-soprano: メゾソプラノ メゾ・ソプラノ 女中音 mezzoszopran mezzosopraani mezzosopran
    mezzosopran mezzo mez mezz mezzosoprano mezzo-sopran mezzo_soprano меццо-сопрано ms
    mezzo-soprane меццо mezzosopraan mezzo-sopraan
    mezzosoprana metsosopran mezzosopraano mecosoprans mecosopranas меццосопран меццосопрано
    μετζο-σοπρανο μεσοφωνος
alto: アルト 女低音 コントラルト contralto contralte alt altistin kontraalt контральто contraltos
    altos altist altti
countertenor: カウンターテナー 假声男高音 kontratenori contre-tenor kontratenor altus
    counter-tenor controtenore haute-contre contratenor
    contretenor contralto_masculino male_alto
tenor: テノール テナー 男高音 tenore тенор ten tenors tenori tenoor taille
    tenoras τενορος
baritone: バリトン 男中音 baritoni bariton baritono баритон bar baritones barytone baryton
    baritoni barytoni
    baritons baritonas βαρυτονος
bass-baritone: bassbariton baryton-basse basso-baritono bajo-baritono bass-bariton basse-baryton
    bass_baritone baritono-basso
bass: バス 男低音 basszus basso basse basso бас bajo basses bassi baixo bas basso_profondo
    bosas μπασος
treble: knabenstimme trebles
narrator: 語り 朗読 verteller fortaeller berattare kertoja narrator lektor sprecher recitant
    voce_recitante narratore erzahler speaker чтец narrateur recitante
    erzaehler sprecherin reciter vypravec
"""
)
"""English name by word or phrase of up to three words."""

VOICES = word_set(
    "voice soprano mezzo-soprano alto countertenor tenor baritone "
    "bass-baritone bass treble narrator"
)
"""Those English names that are voices."""

PERFORMER_ONLY = word_set(
    """
bar bas bass bn cb cemb cl cor db fg fl gtr hn kl ms ob org perc pf s sop ten tp va vc vl vla vln
vn
"""
)
"""Abbreviations that are instruments only in a list of performers, never in a title."""

INSTRUMENT_STARTS = frozenset(key.partition(" ")[0] for key in INSTRUMENTS)
"""First words of instruments, so that most words are passed by with one look-up."""

SECTIONS = dictionary(
    """
String: string strings cordes archi cuerdas smyccovy smyczkowy струнный strunnyy strunny strunnyi
    arcos smyccovych cuerda vonos vonosnegyes strunnogo jousi струнного
Wind: wind vents fiati
Brass: brass
Piano: piano fortepiannyy fortepianovy klavirni fortepianowy фортепианный klavirny klavierni
    fortepianowa фортепианная klavirna fortepiannaya
Violin: violin skrzypcowy houslovy скрипичный skripichnyy скрипичная houslova hegeduverseny
Cello: wiolonczelowy violoncellovy cellovy виолончельный виолончельная
Clarinet: klarinetovy clarinet
Keyboard: keyboard
Chamber: cameristico chamber komorni камерного kamernogo
Wind: духового dechovy
"""
)
"""Words before a form or after "for" that say who plays: English adjective by word."""

ORCHESTRAS = dictionary(
    """
String: streichorchester strijkorkest strykeorkester strygeorkester strakorkester vonoszenekar
    jousiorkesteri string_orchestra orchestre_a_cordes orchestre_d'archets orchestra_d'archi
    orchestra_di_archi orchestra_per_archi orquesta_de_cuerda orquesta_de_cuerdas
    orquestra_de_cordas smyccovy_orchestr smyccovou_orchestru orkiestra_smyczkowa
    orkiestre_smyczkowa струнного_оркестра струнный_оркестр strunnogo_orkestra
Chamber: kammerorchester kamerorkest kammerorkester kamarazenekar kamariorkesteri
    chamber_orchestra orchestre_de_chambre orchestra_da_camera orquesta_de_camara
    orquestra_de_camara komorni_orchestr orkiestra_kameralna orkiestre_kameralna
    камерного_оркестра камерный_оркестр
Wind: blasorchester blaserorchester wind_orchestra orchestre_d'harmonie orchestra_di_fiati
    banda_sinfonica духового_оркестра
"""
)
"""What kind of orchestra a work is for, by word or phrase."""

ORCHESTRA_STARTS = frozenset(key.partition(" ")[0] for key in ORCHESTRAS)
"""First words of those."""

SOLO_WORDS = word_set("solo alone allein unaccompanied seul sola soli senza basso continuo")
"""Words that may stand beside a medium and add nothing to its title."""
