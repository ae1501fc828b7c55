"""The daemon: watches the library and the arrival of cards, and calls what the commands call."""
