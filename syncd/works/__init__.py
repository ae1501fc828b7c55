"""From tag values to composer, work, recording and movement. Pure: no file is opened here."""
