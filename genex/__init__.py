"""genex: one recipe in, a whole guitar lesson out.

Importing this package does nothing but define the version; every command and
every heavy dependency is loaded where it is used.
"""

__version__ = "0.1.0"
