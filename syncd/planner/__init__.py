"""What shall be on a card and which steps take it there. Pure: no file is opened, no clock read."""
