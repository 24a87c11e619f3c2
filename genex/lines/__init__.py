"""What is played on the guitar: a function for each kind of exercise, and the guide-tone line.

A function takes a ``Timeline``, the exercise's model (``genex.exercises``) and a ``Player``, and
returns a ``Part`` over that timeline, or a ``StudyPlan`` with a chart of its own. The models name
their functions, so that only what is played is loaded.
"""
