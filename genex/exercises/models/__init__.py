"""The kinds of exercise that come with genex, a module each, of the kind's own name.

A module that is put here is found by ``genex.exercises.kinds()``; nothing lists them.
"""
