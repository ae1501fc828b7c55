"""Titles that many composers have set or given: texts of the liturgy, forms, seasons, moods.

That the table of known works has one of them once does not tell whose a track of that name is.
"""

from syncd.works.text import title_key

COMMON_TITLES = frozenset(
    title_key(title)
    for title in """Agnus Dei|Alleluia|Alleluja|Ave verum|Ave verum corpus|Ave Maria|
Ave maris stella|
Ave regina caelorum|Alma redemptoris mater|Beatus vir|Benedictus|Christus factus est|Confitebor|
Credo|Da pacem Domine|De profundis|Dies irae|Dixit Dominus|Dona nobis pacem|Ecce sacerdos magnus|
Exsultate Deo|Exsultate justi|Gloria|Hodie Christus natus est|In paradisum|Jubilate Deo|Kyrie|
Lacrimosa|Lauda Sion|Laudate Dominum|Laudate pueri|Libera me|Locus iste|Lux aeterna|Magnificat|
Miserere|Miserere mei|Missa brevis|Missa solemnis|Nisi Dominus|Nunc dimittis|O magnum mysterium|
O sacrum convivium|O salutaris hostia|O vos omnes|Os justi|Panis angelicus|Pange lingua|
Pater noster|
Pie Jesu|Regina caeli|Regina coeli|Requiem|Requiem aeternam|Salve regina|Sanctus|Sicut cervus|
Stabat Mater|Sub tuum praesidium|Tantum ergo|Te Deum|Tenebrae|Tenebrae factae sunt|Tu es Petrus|
Ubi caritas|Veni Creator Spiritus|Veni sancte Spiritus|Vespers|Victimae paschali laudes|
Viderunt omnes|Passion|St John Passion|St Matthew Passion|Christmas Oratorio|German Mass|
Abendlied|Abschied|Adagio|Adagio and Fugue|Adagio and Allegro|Adagio and Rondo|Air|Albumblatt|
Allegretto|Allegro|Allegro appassionato|Andante|Andante cantabile|Arabesque|Arabeske|Aria|Aubade|
Autumn|Bagatelle|Ballad|Ballade|Ballades|Barcarolle|Bassoon Sonata|Battle|Berceuse|Bird|Bolero|
Burlesque|Burleske|Cantabile|Canon|Canzona|Capriccio|Carnival|Cathedral|Chaconne|Chacony|Chant|
Chanson triste|Choral|Chorale|Ciacona|Clock|Concert Piece|Coronation Mass|Cuckoo|Dance|Danza|
Der Abend|Der Frühling|Der Herbst|Der Morgen|Der Sommer|Der Winter|Die Glocken|Die Nachtigall|
Divertissement|Double|Dream|Dreams|Dumka|Echo|Elegy|Elegie|Élégie|Epilogue|Étude|Evening|Evensong|
Fairy Tale|Fandango|Fanfare|Fantasia|Fantasia and Fugue|Fantasien|Fantasiestücke|Fantasy Pieces|
Finale|Frühling|Gigue|Gypsy Songs|Habanera|Humoresque|Hymn|Idyll|Im Frühling|Impromptu|In memoriam|
Intermezzo|Introduction and Allegro|Lament|Lamento|Largo|Lullaby|March|Mazurka|Meditation|
Méditation|Melodie|Mélodie|Melody|Minuet|Moment musical|Morning|Nocturne|Notturno|Overture|
Passacaglia|
Pastorale|Poem|Poème|Polka|Polonaise|Postlude|Prayer|Prelude|Prelude and Fugue|Prière|Prologue|
Quartet|
Reverie|Rêverie|Rhapsody|Romance|Romanze|Rondo|Salut|Sarabande|Saxophone Concerto|Scherzo|Serenade|
Serenata|Sérénade|Sicilienne|Siciliano|Skizzen|Sleep|Solveig|Sonatine|Song|Souvenir|Spanish Dance|
Spring|Spring Song|Ständchen|Storm|String Sextet|String Trio|Summer|Sunrise|Tango|Tarantella|
Tarantelle|Tempest|Terzetto|The Bells|The Bird|The Birds|The Dream|The Farewell|The Kiss|The Lark|
The Lover|The Nightingale|The Queen|The Ring|The Storm|The Swan|Thème et variations|Threnody|
Toccata|
Toccata and Fugue|Trauermarsch|Trauermusik|Triangle|Trio Sonata|Trio Sonatas|Trumpet|Tuba Concerto|
Valse|Valse brillante|Valse-Scherzo|Valses|Variations|Vers l'espoir|Viola Sonata|Violin Sonatas|
Vocalise|Volkslied|Wagner|Waltz|Waltzes|Walzer|Wiegenlied|Winter""".replace("\n", "").split("|")
)
