"""`python -m handsfree` is the `handsfree` command."""

from handsfree.cli import main

if __name__ == "__main__":
    main()
