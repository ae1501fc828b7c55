"""An invented library with synthesised music, for the newcomer's first five minutes."""
