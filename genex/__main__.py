"""``python -m genex`` is ``genex``."""

from genex.cli import main

if __name__ == "__main__":
    main()
