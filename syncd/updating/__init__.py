"""One card brought up to date, start to end: read, plan, press, plan again, apply.

What the commands and the daemon call is ``updater``, with the values of ``values``. The parts are
joined here, and nothing is decided that they decide.
"""
