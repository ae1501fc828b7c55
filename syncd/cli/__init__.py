"""The command line: parse, call, print, exit. It decides nothing."""
