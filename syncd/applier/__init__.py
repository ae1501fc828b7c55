"""The only code that writes to a card."""
