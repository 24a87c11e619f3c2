"""Recipes to files on disk, and answers to questions. The modules are imported by name."""
