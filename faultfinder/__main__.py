"""Run the command line with ``python -m faultfinder``."""

from faultfinder.cli.main import main

if __name__ == "__main__":
    main()
