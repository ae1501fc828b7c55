"""Numbers of thematic catalogues: which there are, how they are written, whose they are."""
