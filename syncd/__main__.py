"""``python -m syncd`` is the same program as the ``syncd`` console script."""

from syncd.cli.main import main

if __name__ == "__main__":
    main()
