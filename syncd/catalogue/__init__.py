"""The SQLite file that a player reads: built at home, put on the card by the applier."""
