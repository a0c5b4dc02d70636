"""``python -m overwinter``."""

from overwinter.cli.app import main

if __name__ == "__main__":
    main()
