"""Words by which an album's title names several works or a recital rather than one work."""

from syncd.works.words.tables import word_set

COLLECTIVE = word_set(
    """
airs album albums anniversary anthems anthology arias arie arien ausgewahlte baroque baroques best
box cantatas carols chamber chansons choral choruses chorwerke christmas classical classics
collection compilation complete composers compositions concert concertos dances debut dila dream
dreams easter edition encore encores essential famous favorite favorites favourite favourites gems
gesamtausgabe great greatest highlights hits homage hommage hour hymns integral integrale joue
kammermusik kantaten keyboard klange klassik klaviermusik klavierwerke komplett late legacy lieder
live madrigals masses masterpieces meets meisterwerke melodies mood moods motets music musica
musik musique muzyka night nocturnes noel obras oeuvres opere orchestermusik orchestral organ
orgelmusik other others ouverturen overtures perlen piano pieces play playlist plays popular
portrait preludes quartets recital recitals relaxing renaissance romance romantic sacred
saemtliche sampler samtliche selected selection selections serenades set sonatas songs sons spielt
stucke symphonies symphonische tea time traume treasures treasury tribute trios various
violinkonzerte vol volume weihnachten werke works world zauber
"""
)
"""Words such as "works", "favourites", "recital", folded."""
