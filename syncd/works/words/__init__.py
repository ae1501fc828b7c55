"""Words of the trade in the languages of tags: tables by idea, and nothing that reads a title."""
