"""The kinds of exercise that come with genex.

Whatever kind is registered in a module of this folder is found; nothing lists them.
"""
