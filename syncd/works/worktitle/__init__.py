"""The grammar of a work's title: form, medium, number, key, catalogue numbers, nickname."""
